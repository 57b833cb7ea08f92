"""The demo buildings: invented plans, written to IFC by scripts/make_models.py."""
