"""Rules by document and edition: short functions; their numbers are in `checks/data`."""
