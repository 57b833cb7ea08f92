"""The set-out sheet of one room: what a foreman starts from."""

from ifcgrid.outputs.setout.arrangement import WAYS, Wish
from ifcgrid.outputs.setout.control import ControlLine, find_control_lines
from ifcgrid.outputs.setout.room_sheet import draw_setout, setout_pages

__all__ = ["WAYS", "ControlLine", "Wish", "draw_setout", "find_control_lines", "setout_pages"]
