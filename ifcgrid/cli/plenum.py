"""The command `plenum`: how high ceilings could hang, and what keeps them down."""

from __future__ import annotations

import argparse
from typing import Any

from ifcgrid.cli.printing import Progress, check_json, emit

__all__ = ["add_plenum", "run_plenum"]


def add_plenum(chosen: Any) -> argparse.ArgumentParser:
    """Adds the command's words; what all commands share is added by the caller."""
    plenum: argparse.ArgumentParser = chosen.add_parser(
        "plenum", help="how high each ceiling could hang, and what governs"
    )
    plenum.add_argument("model", metavar="MODEL", help="IFC file, with or without ceilings of ifcgrid")
    plenum.add_argument("--plan", metavar="PLAN", help="plan file (TOML)")
    plenum.add_argument("--csv", metavar="FILE", help="one row a room as CSV")
    return plenum


def run_plenum(args: argparse.Namespace) -> int:
    """The plenum study of a model."""
    from ifcgrid.pipeline import format_plenum, plenum_file

    check_json(args, writes=[args.csv], reads=[args.model, *args.others, args.plan])
    with Progress() as progress:
        record = plenum_file(args.model, others=args.others, plan=args.plan, csv=args.csv, on_room=progress)
    emit(record, args.json, format_plenum(record))
    return 0
