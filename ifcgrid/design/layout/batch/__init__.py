"""Rooms whose walls run along the grid, solved exactly, many at once in flat arrays."""

from ifcgrid.design.layout.batch.cases import Request
from ifcgrid.design.layout.batch.single import Straight, search_straight
from ifcgrid.design.layout.batch.straight import decide, solve_straight

__all__ = ["Request", "Straight", "decide", "search_straight", "solve_straight"]
