"""Points to set out by instrument: found in ceilings, written as CSV and LandXML, and what a survey says."""

from ifcgrid.outputs.points.find import find_points
from ifcgrid.outputs.points.landxml import format_landxml
from ifcgrid.outputs.points.pair import CheckDistance, find_checks
from ifcgrid.outputs.points.statement import PointFile, format_statement
from ifcgrid.outputs.points.survey import format_survey, record_survey
from ifcgrid.outputs.points.table import format_points, read_points, round_site

__all__ = [
    "CheckDistance",
    "PointFile",
    "find_checks",
    "find_points",
    "format_landxml",
    "format_points",
    "format_statement",
    "format_survey",
    "read_points",
    "record_survey",
    "round_site",
]
