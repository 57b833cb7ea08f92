"""The ceiling plan of one storey."""

from ifcgrid.outputs.plan.storey_sheet import OmittedRoom, draw_storey

__all__ = ["OmittedRoom", "draw_storey"]
