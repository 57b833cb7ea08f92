"""The command `points`: what is marked by instrument, out as a table and measured points back in."""

from __future__ import annotations

import argparse
from typing import Any

from ifcgrid.cli.printing import check_json, emit
from ifcgrid.domain.coordinates import PointUnit
from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.points import PointRole

__all__ = ["add_points", "run_points"]


def add_points(chosen: Any) -> argparse.ArgumentParser:
    """Adds the command's words; what all commands share is added by the caller."""
    points: argparse.ArgumentParser = chosen.add_parser(
        "points", help="points to set out by instrument as CSV or LandXML; measured ones compared"
    )
    points.add_argument("model", metavar="MODEL", help="IFC file with ceilings written by ifcgrid")
    points.add_argument(
        "-o",
        "--output",
        metavar="FILE",
        action="append",
        default=[],
        help=".csv (with a .txt beside it) or LandXML .xml (repeatable)",
    )
    points.add_argument("--room", metavar="NUMBER", action="append", help="only this room (repeatable)")
    points.add_argument(
        "--only",
        metavar="ROLE",
        nargs="+",
        action="extend",
        choices=[role.word for role in PointRole],
        default=[],
        help=f"besides check points only these: {', '.join(role.word for role in PointRole)}",
    )
    points.add_argument(
        "--coordinates",
        choices=("project", "map"),
        default="project",
        help="the model's own axes, or those of its map conversion (default project)",
    )
    points.add_argument(
        "--units",
        choices=[unit.value for unit in PointUnit],
        default="mm",
        help="of all numbers (default mm)",
    )
    points.add_argument("--decimals", metavar="N", type=int, help="of all numbers (default 1 in mm, else 4)")
    points.add_argument("--no-head", action="store_true", help="leave out the line with the columns' names")
    points.add_argument(
        "--measured",
        metavar="FILE",
        help="measured points (CSV) to compare, in the same units and coordinates",
    )
    points.add_argument(
        "--within", metavar="LENGTH", default="5 mm", help="the farthest a measured point may be off (5 mm)"
    )
    return points


def run_points(args: argparse.Namespace) -> int:
    """Points written, or measured ones compared."""
    from ifcgrid.pipeline import Wanted, compare_points_file, format_point_summary, points_file

    if bool(args.output) == bool(args.measured):
        raise OutputError("points needs either -o FILE to write them or --measured FILE to compare")
    check_json(args, writes=args.output, reads=[args.model, *args.others, args.measured])
    wanted = Wanted(
        rooms=args.room or (),
        roles=args.only,
        coordinates=args.coordinates,
        unit=args.units,
        decimals=args.decimals,
    )
    if args.measured:
        record = compare_points_file(
            args.model, args.measured, others=args.others, wanted=wanted, within=args.within
        )
    else:
        record = points_file(
            args.model, args.output, others=args.others, wanted=wanted, has_head=not args.no_head
        )
    emit(record, args.json, format_point_summary(record))
    return int(record.get("survey", {}).get("verdict") == "fail")
