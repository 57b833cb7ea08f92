"""The check sheet: what was checked by which document and edition, with numbers; what was not, and why."""

from ifcgrid.outputs.check_sheet.page import draw_check
from ifcgrid.outputs.check_sheet.record import CheckedRoom, record_check
from ifcgrid.outputs.check_sheet.table import tabulate_check
from ifcgrid.outputs.check_sheet.text import format_check

__all__ = ["CheckedRoom", "draw_check", "format_check", "record_check", "tabulate_check"]
