"""Where the grid lies in a room: the search for the best place, and measures of a given one."""

from ifcgrid.design.layout.given import measure_layout
from ifcgrid.design.layout.solver import solve_layout

__all__ = ["measure_layout", "solve_layout"]
