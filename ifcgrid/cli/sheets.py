"""How set-out sheets are to be printed: the words that several commands share."""

from __future__ import annotations

import argparse
import sys
from typing import Any

__all__ = ["add_sheet_style", "read_sheet_style"]


def add_sheet_style(parser: argparse.ArgumentParser, *, has_formats: bool = True) -> None:
    """Adds paper, orientation, laser and fraction; and the format where one name stands for many files."""
    if has_formats:
        parser.add_argument(
            "--format",
            choices=("auto", "svg", "pdf", "both"),
            default="auto",
            help="of sheets and plans; PDF needs the extra drawings (auto: both where it is installed)",
        )
    parser.add_argument(
        "--paper",
        choices=("auto", "a4", "a3", "letter", "tabloid"),
        default="auto",
        help="of set-out sheets (auto: the smallest on which the room can be read)",
    )
    parser.add_argument(
        "--orientation",
        choices=("auto", "portrait", "landscape"),
        default="auto",
        help="of set-out sheets (auto: the one in which the room is drawn larger)",
    )
    parser.add_argument(
        "--laser",
        metavar="LENGTH",
        help="how far the laser's plane lies below the underside of the grid (default 100 mm or 4 in)",
    )
    parser.add_argument(
        "--fraction",
        type=int,
        choices=(2, 4, 8, 16, 32),
        default=0,
        metavar="N",
        help="finest fraction of an inch on set-out sheets: 2, 4, 8, 16 or 32 (default 16)",
    )


def read_sheet_style(args: argparse.Namespace, *, is_wanted: bool = True) -> Any:
    """What was said, checked; a line on stderr where something wanted has to be left out."""
    from ifcgrid.pipeline import check_sheets

    style = check_sheets(
        getattr(args, "format", "svg"),
        paper=args.paper,
        orientation=args.orientation,
        laser=args.laser,
        fraction=args.fraction,
    )
    if style.note and is_wanted:
        print(f"ifcgrid: {style.note}", file=sys.stderr)
    return style
