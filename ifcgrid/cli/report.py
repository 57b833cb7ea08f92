"""The command `report`: a floor at a glance as one HTML file."""

from __future__ import annotations

import argparse
from typing import Any

from ifcgrid.cli.printing import Progress, check_json, emit, exit_code

__all__ = ["add_report", "run_report"]


def add_report(chosen: Any) -> argparse.ArgumentParser:
    """Adds the command's words; what all commands share is added by the caller."""
    report: argparse.ArgumentParser = chosen.add_parser(
        "report", help="plans, rooms, findings and sheets of a floor as one HTML file"
    )
    report.add_argument("model", metavar="MODEL", help="IFC file, with or without ceilings of ifcgrid")
    report.add_argument("-o", "--output", metavar="FILE", required=True, help="the HTML file")
    report.add_argument("--plan", metavar="PLAN", help="plan file (TOML)")
    report.add_argument(
        "--rules",
        metavar="SET",
        nargs="+",
        action="extend",
        default=[],
        help="rule sets to judge by, besides the plan's, for example c636-19",
    )
    report.add_argument("--gltf", metavar="FILE", help="the ceilings as a 3D model (.glb) with a link to it")
    report.add_argument("--no-ways", dest="ways", action="store_false", help="work out no ways out (quicker)")
    return report


def run_report(args: argparse.Namespace) -> int:
    """The floor report of a model."""
    from ifcgrid.pipeline import format_report, read_judging_of, report_file

    check_json(args, writes=[args.output, args.gltf], reads=[args.model, *args.others, args.plan])
    with Progress() as progress:
        record = report_file(
            args.model,
            args.output,
            others=args.others,
            plan=args.plan,
            judging=read_judging_of(args.plan, rules=args.rules),
            gltf=args.gltf,
            units=args.units,
            has_ways=args.ways,
            on_room=progress,
        )
    emit(record, args.json, format_report(record))
    return exit_code(record)
