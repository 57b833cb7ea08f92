"""ifcgrid: suspended lay-in ceilings, from the building model and back into it."""

__version__ = "0.1.0"

__all__ = ["__version__"]
