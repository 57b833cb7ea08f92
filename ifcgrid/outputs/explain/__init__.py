"""Why a room is laid out as it is: one screen of text, and a picture of what lost."""

from ifcgrid.outputs.explain.picture import draw_explanation
from ifcgrid.outputs.explain.text import format_explanation

__all__ = ["draw_explanation", "format_explanation"]
