"""What the command line and host programs call: files in, files out, and the flow on open models."""

from ifcgrid.outputs.check_sheet import format_check
from ifcgrid.outputs.files import write_text
from ifcgrid.outputs.plenum_table import format_plenum
from ifcgrid.outputs.summary import format_layout, format_spaces, format_summary
from ifcgrid.outputs.takeoff.text import format_take_off
from ifcgrid.pipeline.checking import check, check_file, format_rule_table, read_judging_of
from ifcgrid.pipeline.clashing import clash_file
from ifcgrid.pipeline.coordinating import coordinate
from ifcgrid.pipeline.explaining import explain_file
from ifcgrid.pipeline.files import build_file, list_spaces, setout_file, with_defaults
from ifcgrid.pipeline.flow import Build, Intake, build, judge, lay_out, read_intake, read_plan_file
from ifcgrid.pipeline.one_room import lay_out_one
from ifcgrid.pipeline.plenum import plenum_file, study_plenum
from ifcgrid.pipeline.points import Wanted, compare_points_file, format_point_summary, points_file
from ifcgrid.pipeline.reporting import format_report, report_file
from ifcgrid.pipeline.room_sheets import SheetStyle, check_sheets
from ifcgrid.pipeline.takeoff import ceilings_in, take_off, takeoff_file
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.written import read_back

__all__ = [
    "Build",
    "Intake",
    "SheetStyle",
    "Wanted",
    "build",
    "build_file",
    "ceilings_in",
    "check",
    "check_file",
    "check_sheets",
    "check_targets",
    "clash_file",
    "compare_points_file",
    "coordinate",
    "explain_file",
    "format_check",
    "format_layout",
    "format_plenum",
    "format_point_summary",
    "format_report",
    "format_rule_table",
    "format_spaces",
    "format_summary",
    "format_take_off",
    "judge",
    "lay_out",
    "lay_out_one",
    "list_spaces",
    "plenum_file",
    "points_file",
    "read_back",
    "read_intake",
    "read_judging_of",
    "read_plan_file",
    "report_file",
    "setout_file",
    "study_plenum",
    "take_off",
    "takeoff_file",
    "with_defaults",
    "write_text",
]
