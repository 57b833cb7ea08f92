"""The command line: arguments, one pipeline function each, text or JSON, an exit code.

Exit codes: 0 done; 1 done, and at least one finding fails; 2 could not run (the reason is
one line on stderr).
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from ifcgrid.domain.errors import IfcGridError
from ifcgrid.domain.version import __version__

__all__ = ["main"]

BAR_WIDTH = 30


class _Progress:
    """A bar on stderr when that is a terminal; silent otherwise."""

    def __init__(self) -> None:
        self._on = sys.stderr.isatty()
        self._drawn = False

    def __call__(self, name: str, done: int, total: int) -> None:
        if not self._on:
            return
        filled = BAR_WIDTH * done // max(total, 1)
        label = "".join(c for c in name if c.isprintable())[:24]
        bar = "#" * filled + "." * (BAR_WIDTH - filled)
        sys.stderr.write(f"\r[{bar}] {done}/{total} {label:<24}")
        sys.stderr.flush()
        self._drawn = True

    def close(self) -> None:
        if self._drawn:
            sys.stderr.write("\r" + " " * (BAR_WIDTH + 44) + "\r")
            sys.stderr.flush()


def _emit(record: dict[str, Any], target: str | None, text: str) -> None:
    """JSON to a file or to `-`, and the text for people unless JSON took its place."""
    from ifcgrid.pipeline import write_text

    if target == "-":
        # A terminal of few letters would lose names; JSON has its own way to spell them.
        is_plain = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
        print(json.dumps(record, indent=2, ensure_ascii=is_plain, allow_nan=False))
        return
    if target:
        write_text(Path(target), json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    print(text)


def _check_json(
    args: argparse.Namespace, *, writes: Sequence[str | None], reads: Sequence[str | None]
) -> None:
    """Whether the JSON can be written beside all else, before the long work."""
    from ifcgrid.pipeline import check_targets

    if args.json not in (None, "-"):
        check_targets([args.json], inputs=reads)
        check_targets([*writes, args.json])


def _exit_code(record: dict[str, Any]) -> int:
    return int(any(finding["verdict"] == "fail" for finding in record.get("findings", [])))


def _spaces(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import format_spaces, list_spaces

    _check_json(args, writes=[], reads=[*args.model, args.plan])
    record = list_spaces(args.model, plan=args.plan)
    _emit(record, args.json, format_spaces(record))
    return 0


def _layout(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import format_layout, lay_out_one

    _check_json(args, writes=[args.sheet, args.picture], reads=[])
    record = lay_out_one(
        room=args.room,
        outline=args.outline,
        module=args.module,
        system=args.system,
        policy=args.policy,
        sheet=args.sheet,
        picture=args.picture,
        has_reasons=args.explain,
        units=args.units,
    )
    _emit(record, args.json, record["explanation"] if args.explain else format_layout(record))
    return _exit_code(record)


def _build(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import build_file, format_summary

    _check_json(
        args,
        writes=[args.output, args.moves, args.takeoff],
        reads=[args.model, *args.others, args.plan],
    )
    progress = _Progress()
    try:
        record = build_file(
            args.model,
            args.output,
            others=args.others,
            plan=args.plan,
            system=args.system,
            policy=args.policy,
            detail=args.detail,
            replace=args.replace,
            overwrite=args.overwrite,
            sheets=args.sheets,
            moves=args.moves,
            takeoff=args.takeoff,
            units=args.units,
            on_room=progress,
        )
    finally:
        progress.close()
    _emit(record, args.json, format_summary(record))
    return _exit_code(record)


def _clash(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import clash_file, format_summary

    _check_json(args, writes=[], reads=[args.model, *args.others])
    record = clash_file(args.model, others=args.others)
    _emit(record, args.json, format_summary(record))
    return _exit_code(record)


def _check(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import check_file, format_check, format_rule_table, read_judging_of

    if args.table:
        print(format_rule_table(), end="")
        return 0
    if args.model is None:
        raise IfcGridError("check needs a MODEL, or --table for the rules alone")
    reads = [args.model, *args.others, args.plan]
    _check_json(args, writes=[args.csv, args.page], reads=reads)
    site = {name: getattr(args, name) for name in ("sds", "z_over_h", "importance")}
    site["walls_to_structure"] = True if args.walls_to_structure else None
    switches = dict(text.partition("=")[::2] for text in args.switch)
    judging = read_judging_of(args.plan, rules=args.rules, switches=switches, site=site)
    record = check_file(args.model, others=args.others, judging=judging, csv=args.csv, page=args.page)
    _emit(record, args.json, format_check(record))
    return _exit_code(record)


def _setout(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import format_summary, setout_file

    _check_json(args, writes=[], reads=[args.model, *args.others])
    record = setout_file(args.model, args.output, others=args.others, rooms=args.room, units=args.units)
    _emit(record, args.json, format_summary(record))
    return _exit_code(record)


def _explain(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import explain_file

    reads = [args.model, *args.others, args.plan]
    _check_json(args, writes=[args.picture], reads=reads)
    told = explain_file(
        args.model,
        args.room,
        others=args.others,
        plan=args.plan,
        system=args.system,
        policy=args.policy,
        picture=args.picture,
    )
    _emit(told.record, args.json, told.text)
    return 0


def _takeoff(args: argparse.Namespace) -> int:
    from ifcgrid.pipeline import format_take_off, takeoff_file

    reads = [args.model, *args.others, args.prices, args.order]
    _check_json(args, writes=[args.xlsx, args.csv], reads=reads)
    record = takeoff_file(
        args.model,
        others=args.others,
        xlsx=args.xlsx,
        csv=args.csv,
        prices=args.prices,
        order=args.order,
        scope=args.across,
        pattern=args.pattern,
        has_alternatives=args.alternatives,
        units=args.units,
    )
    _emit(record, args.json, format_take_off(record))
    return 0


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


def _add_units(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--units",
        choices=("auto", "mm", "ft-in"),
        default="auto",
        help="how sheets print lengths (auto: as the model or the room was given)",
    )


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ifcgrid",
        description="Lays out suspended lay-in ceilings in a building model and writes them back into it.",
        epilog="Outputs are a basis for work, not an approval: local codes, the authority having "
        "jurisdiction and licensed practice decide.",
    )
    parser.add_argument("--version", action="version", version=f"ifcgrid {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    spaces = commands.add_parser("spaces", help="what would be read: rooms, heights with evidence, reasons")
    spaces.add_argument("model", metavar="MODEL", nargs="+", help="IFC file")
    spaces.add_argument("--plan", metavar="PLAN", help="plan file (TOML)")
    _add_common(spaces, _spaces)

    layout = commands.add_parser("layout", help="one room without a model")
    shape = layout.add_mutually_exclusive_group(required=True)
    shape.add_argument(
        "--room", metavar="LENGTHxWIDTH", help='for example "9576 mm x 6.15 m" or "31\' 5 x 14\'"'
    )
    shape.add_argument("--outline", metavar="WKT", help="the room as a WKT polygon in mm")
    layout.add_argument("--module", metavar="AxB", help='panel size, for example "600 x 1200" or "2 x 4 ft"')
    layout.add_argument("--system", metavar="ID", help="grid system, instead of --module")
    layout.add_argument("--policy", metavar="ID", help="what counts as better (default half-module)")
    layout.add_argument("--sheet", metavar="FILE", help="also draw the room's set-out sheet as SVG")
    layout.add_argument("--explain", action="store_true", help="say why: borders, what lost, what would flip")
    layout.add_argument("--picture", metavar="FILE", help="draw the chosen layout and those that lost as SVG")
    _add_units(layout)
    _add_common(layout, _layout)

    build = commands.add_parser("build", help="ceilings for every room of a model, written into a copy")
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
    build.add_argument("--overwrite", action="store_true", help="allow OUT to be MODEL itself")
    build.add_argument("--sheets", metavar="DIR", help="set-out sheets and storey plans (SVG) into DIR")
    build.add_argument("--takeoff", metavar="FILE", help="take-off, cut list and order list as XLSX")
    build.add_argument("--moves", metavar="FILE", help="devices off the grid and their moves as CSV")
    _add_units(build)
    _add_common(build, _build)

    clash = commands.add_parser("clash", help="judge the ceilings in a model against what is in their way")
    clash.add_argument("model", metavar="MODEL", help="IFC file with ceilings written by ifcgrid")
    _add_others(clash)
    _add_common(clash, _clash)

    explain = commands.add_parser("explain", help="why a room is laid out as it is, and what lost")
    explain.add_argument("model", metavar="MODEL", help="IFC file")
    explain.add_argument("--room", metavar="NUMBER", required=True, help="its number, name or GlobalId")
    _add_others(explain)
    explain.add_argument("--plan", metavar="PLAN", help="plan file (TOML)")
    explain.add_argument("--system", metavar="ID", help="grid system, if the plan does not name one")
    explain.add_argument("--policy", metavar="ID", help="policy, if the plan does not name one")
    explain.add_argument(
        "--picture", metavar="FILE", help="draw the chosen layout and those that lost as SVG"
    )
    _add_common(explain, _explain)

    setout = commands.add_parser("setout", help="set-out sheets of the ceilings in a model")
    setout.add_argument("model", metavar="MODEL", help="IFC file with ceilings written by ifcgrid")
    setout.add_argument("-o", "--output", metavar="DIR", required=True, help="folder for the sheets")
    setout.add_argument("--room", metavar="NUMBER", action="append", help="only this room (repeatable)")
    _add_others(setout)
    _add_units(setout)
    _add_common(setout, _setout)
    _add_takeoff(commands)
    _add_check(commands)
    return parser


def _add_check(commands: Any) -> None:
    check = commands.add_parser("check", help="judge the ceilings in a model by documents and editions")
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
    _add_common(check, _check)


def _add_takeoff(commands: Any) -> None:
    takeoff = commands.add_parser("takeoff", help="quantities, cutting plans and order list of a model")
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
    _add_common(takeoff, _takeoff)


def _bear_any_name() -> None:
    """Letters that a terminal cannot show become ?, instead of an error after all the work."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code."""
    _bear_any_name()
    args = _parser().parse_args(argv)
    try:
        return int(args.run(args))
    except IfcGridError as error:
        print(f"ifcgrid: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output went away; nothing is left to tell it
        return 2
    except KeyboardInterrupt:
        print("ifcgrid: stopped", file=sys.stderr)
        return 2
