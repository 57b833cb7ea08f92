"""The words of the command line: commands, options and their help."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any

from ifcgrid.cli import commands, plenum, points, report, sheets
from ifcgrid.domain.version import __version__

__all__ = ["make_parser"]


def _add_common(parser: argparse.ArgumentParser, run: Callable[[argparse.Namespace], int]) -> None:
    parser.add_argument("--json", metavar="FILE", help="write the result as JSON to FILE, or to - for stdout")
    parser.set_defaults(run=run)


def _add_others(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--with",
        dest="others",
        metavar="OTHER",
        nargs="+",
        action="extend",
        default=[],
        help="further models of the same building (services, structure), any unit or schema",
    )


def _add_bcf(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--bcf", metavar="FILE", help="what fails as BCF topics; an existing file is brought up to date"
    )
    parser.add_argument("--bcf-version", choices=("2.1", "3.0"), help="of a new BCF file (default 3.0)")


def _add_units(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--units",
        choices=("auto", "mm", "ft-in"),
        default="auto",
        help="how sheets print lengths (auto: as the model or the room was given)",
    )


def _add_plans(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--dxf", action="store_true", help="storey plans also as DXF (needs the extra drawings)"
    )
    parser.add_argument(
        "--layers", metavar="FILE", help="your own layer names and line weights in plans (TOML)"
    )


def make_parser() -> argparse.ArgumentParser:
    """The parser of the whole command line; each command leaves its function in `run`."""
    parser = argparse.ArgumentParser(
        prog="ifcgrid",
        description="Lays out suspended lay-in ceilings in a building model and writes them back into it.",
        epilog="Outputs are a basis for work, not an approval: local codes, the authority having "
        "jurisdiction and licensed practice decide.",
    )
    parser.add_argument("--version", action="version", version=f"ifcgrid {__version__}")
    chosen = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    spaces = chosen.add_parser("spaces", help="what would be read: rooms, heights with evidence, reasons")
    spaces.add_argument("model", metavar="MODEL", nargs="+", help="IFC file")
    spaces.add_argument("--plan", metavar="PLAN", help="plan file (TOML)")
    _add_common(spaces, commands.run_spaces)

    layout = chosen.add_parser("layout", help="one room without a model")
    shape = layout.add_mutually_exclusive_group(required=True)
    shape.add_argument(
        "--room", metavar="LENGTHxWIDTH", help='for example "9576 mm x 6.15 m" or "31\' 5 x 14\'"'
    )
    shape.add_argument("--outline", metavar="WKT", help="the room as a WKT polygon in mm")
    layout.add_argument("--module", metavar="AxB", help='panel size, for example "600 x 1200" or "2 x 4 ft"')
    layout.add_argument("--system", metavar="ID", help="grid system, instead of --module")
    layout.add_argument("--policy", metavar="ID", help="what counts as better (default half-module)")
    layout.add_argument(
        "--sheet",
        metavar="FILE",
        help="also draw the room's set-out sheet, as SVG or, where FILE ends so, PDF",
    )
    layout.add_argument("--explain", action="store_true", help="say why: borders, what lost, what would flip")
    layout.add_argument("--picture", metavar="FILE", help="draw the chosen layout and those that lost as SVG")
    sheets.add_sheet_style(layout, has_formats=False)
    _add_units(layout)
    _add_common(layout, commands.run_layout)

    build = chosen.add_parser("build", help="ceilings for every room of a model, written into a copy")
    build.add_argument("model", metavar="MODEL", help="IFC file; it is not changed")
    build.add_argument("-o", "--output", metavar="OUT", required=True, help="the copy with the ceilings")
    _add_others(build)
    build.add_argument("--plan", metavar="PLAN", help="plan file (TOML)")
    build.add_argument("--system", metavar="ID", help="grid system of rooms the plan does not name")
    build.add_argument("--policy", metavar="ID", help="policy of rooms the plan does not name")
    build.add_argument(
        "--detail",
        choices=("ceiling", "grid", "panels"),
        default="grid",
        help="ceiling: coverings and quantities; grid: also members, hangers, openings, set-out lines "
        "(default); panels: also one part a panel",
    )
    build.add_argument(
        "--replace",
        action="store_true",
        help="replace ceilings that the model already holds instead of keeping them",
    )
    build.add_argument(
        "--keep-edits",
        action="store_true",
        help="leave what was changed by hand since the last run as it is, and judge it so",
    )
    build.add_argument(
        "--earlier",
        metavar="FILE",
        help="an earlier output: rooms that got new GlobalIds since are found again in it, so that ceilings "
        "keep theirs",
    )
    build.add_argument("--overwrite", action="store_true", help="allow OUT to be MODEL itself")
    build.add_argument("--sheets", metavar="DIR", help="set-out sheets and storey plans into DIR")
    _add_plans(build)
    build.add_argument("--takeoff", metavar="FILE", help="take-off, cut list and order list as XLSX")
    _add_bcf(build)
    build.add_argument("--report", metavar="FILE", help="the floor report as one HTML file")
    build.add_argument("--moves", metavar="FILE", help="devices off the grid and their moves as CSV")
    sheets.add_sheet_style(build)
    _add_units(build)
    _add_common(build, commands.run_build)

    clash = chosen.add_parser("clash", help="judge the ceilings in a model against what is in their way")
    clash.add_argument("model", metavar="MODEL", help="IFC file with ceilings written by ifcgrid")
    clash.add_argument("--plan", metavar="PLAN", help="plan file (TOML), for its waivers")
    _add_bcf(clash)
    clash.add_argument("--csv", metavar="FILE", help="one row a finding, with the way out, as CSV")
    clash.add_argument(
        "--storey", metavar="PATTERN", help='only findings of these storeys, for example "Level 2"'
    )
    clash.add_argument(
        "--trade", metavar="PATTERN", help="only what this trade is asked about, for example ventilation"
    )
    clash.add_argument(
        "--severity", choices=("high", "normal", "low"), help="only findings of this severity and above"
    )
    clash.add_argument("--no-ways", action="store_true", help="work out no ways out (quicker)")
    _add_others(clash)
    _add_common(clash, commands.run_clash)

    explain = chosen.add_parser("explain", help="why a room is laid out as it is, and what lost")
    explain.add_argument("model", metavar="MODEL", help="IFC file")
    explain.add_argument("--room", metavar="NUMBER", required=True, help="its number, name or GlobalId")
    _add_others(explain)
    explain.add_argument("--plan", metavar="PLAN", help="plan file (TOML)")
    explain.add_argument("--system", metavar="ID", help="grid system, if the plan does not name one")
    explain.add_argument("--policy", metavar="ID", help="policy, if the plan does not name one")
    explain.add_argument(
        "--picture", metavar="FILE", help="draw the chosen layout and those that lost as SVG"
    )
    _add_common(explain, commands.run_explain)

    setout = chosen.add_parser("setout", help="set-out sheets of the ceilings in a model")
    setout.add_argument("model", metavar="MODEL", help="IFC file with ceilings written by ifcgrid")
    setout.add_argument("-o", "--output", metavar="DIR", required=True, help="folder for the sheets")
    setout.add_argument("--room", metavar="NUMBER", action="append", help="only this room (repeatable)")
    _add_plans(setout)
    _add_others(setout)
    sheets.add_sheet_style(setout)
    _add_units(setout)
    _add_common(setout, commands.run_setout)
    _add_takeoff(chosen)
    _add_check(chosen)
    plenum_words = plenum.add_plenum(chosen)
    _add_others(plenum_words)
    _add_common(plenum_words, plenum.run_plenum)
    point_words = points.add_points(chosen)
    _add_others(point_words)
    _add_common(point_words, points.run_points)
    report_words = report.add_report(chosen)
    _add_others(report_words)
    _add_units(report_words)
    _add_common(report_words, report.run_report)
    return parser


def _add_check(chosen: Any) -> None:
    check = chosen.add_parser("check", help="judge the ceilings in a model by documents and editions")
    check.add_argument("model", metavar="MODEL", nargs="?", help="IFC file with ceilings written by ifcgrid")
    many: dict[str, Any] = {"nargs": "+", "action": "extend", "default": []}
    check.add_argument("--rules", metavar="SET", help="rule sets, for example c636-19 e580-14-sdc-d", **many)
    check.add_argument(
        "--switch", metavar="RULE=CHOICE", help="where sources disagree: first-brace=four-foot", **many
    )
    check.add_argument("--plan", metavar="PLAN", help="plan file with rules, switches and seismic (TOML)")
    check.add_argument("--sds", metavar="G", type=float, help="design acceleration at short periods")
    check.add_argument("--z-over-h", metavar="SHARE", type=float, help="height in the building, 0 to 1")
    check.add_argument("--importance", metavar="IP", type=float, help="component importance factor")
    check.add_argument(
        "--walls-to-structure", action="store_true", help="all walls are connected to the structure above"
    )
    check.add_argument("--csv", metavar="FILE", help="write every room and rule as CSV")
    check.add_argument("--page", metavar="FILE", help="write a check sheet that prints as HTML")
    check.add_argument("--table", action="store_true", help="print all rules with their numbers and sources")
    _add_others(check)
    _add_common(check, commands.run_check)


def _add_takeoff(chosen: Any) -> None:
    takeoff = chosen.add_parser("takeoff", help="quantities, cutting plans and order list of a model")
    takeoff.add_argument("model", metavar="MODEL", help="IFC file with ceilings written by ifcgrid")
    takeoff.add_argument("--xlsx", metavar="FILE", help="write a workbook (needs the extra tables)")
    takeoff.add_argument("--csv", metavar="FILE", help="write one CSV table")
    takeoff.add_argument("--prices", metavar="FILE", help="price table (CSV: item, unit, price)")
    takeoff.add_argument(
        "--alternatives",
        action="store_true",
        help="with --prices: also price every zone in each system and in both directions",
    )
    takeoff.add_argument("--order", metavar="FILE", help="your own allowances, packs and kerfs (TOML)")
    takeoff.add_argument(
        "--across",
        choices=("room", "storey", "job"),
        default="storey",
        help="whose parts are cut from the same stock (default storey)",
    )
    takeoff.add_argument(
        "--pattern",
        choices=("free", "half-turn", "fixed"),
        default="free",
        help="how the panels' pattern lets a cut piece be turned (default free)",
    )
    _add_others(takeoff)
    _add_units(takeoff)
    _add_common(takeoff, commands.run_takeoff)
