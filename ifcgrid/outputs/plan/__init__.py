"""The reflected ceiling plan of one storey: one drawing, for paper and for drawing files."""

from ifcgrid.outputs.plan.content import OmittedRoom
from ifcgrid.outputs.plan.layers import Layers, read_layers
from ifcgrid.outputs.plan.storey_sheet import StoreySheet, draw_storey, lay_out_storey

__all__ = ["Layers", "OmittedRoom", "StoreySheet", "draw_storey", "lay_out_storey", "read_layers"]
