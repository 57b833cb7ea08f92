"""The floor report: one HTML file with plans, tables and a panel for each room; it needs no network."""

from ifcgrid.outputs.report.content import FloorReport
from ifcgrid.outputs.report.page import draw_report

__all__ = ["FloorReport", "draw_report"]
