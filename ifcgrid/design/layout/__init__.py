"""Where the grid lies in a room: the search for the best place, and measures of a given one."""

from ifcgrid.design.layout.given import measure_layout
from ifcgrid.design.layout.solver import Request, solve_layout, solve_layouts, solve_requests

__all__ = ["Request", "measure_layout", "solve_layout", "solve_layouts", "solve_requests"]
