"""The set-out sheet of one room: what a foreman starts from."""

from ifcgrid.outputs.setout.control import ControlLine, find_control_lines
from ifcgrid.outputs.setout.room_sheet import draw_setout

__all__ = ["ControlLine", "draw_setout", "find_control_lines"]
