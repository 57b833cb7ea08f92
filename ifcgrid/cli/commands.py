"""One function a command: arguments in, one pipeline function, an exit code out.

What a command needs is imported inside it, so that the others start at once.
"""

from __future__ import annotations

import argparse

from ifcgrid.cli.printing import Progress, check_json, emit, exit_code
from ifcgrid.cli.sheets import read_sheet_style
from ifcgrid.domain.errors import IfcGridError

__all__ = [
    "run_build",
    "run_check",
    "run_clash",
    "run_explain",
    "run_layout",
    "run_setout",
    "run_spaces",
    "run_takeoff",
]


def run_spaces(args: argparse.Namespace) -> int:
    """What would be read from models."""
    from ifcgrid.pipeline import format_spaces, list_spaces

    check_json(args, writes=[], reads=[*args.model, args.plan])
    record = list_spaces(args.model, plan=args.plan)
    emit(record, args.json, format_spaces(record))
    return 0


def run_layout(args: argparse.Namespace) -> int:
    """One room without a model."""
    from ifcgrid.pipeline import format_layout, lay_out_one

    check_json(args, writes=[args.sheet, args.picture], reads=[])
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
        style=read_sheet_style(args),
    )
    emit(record, args.json, record["explanation"] if args.explain else format_layout(record))
    return exit_code(record)


def run_build(args: argparse.Namespace) -> int:
    """Ceilings for every room of a model."""
    from ifcgrid.pipeline import build_file, format_summary

    check_json(
        args,
        writes=[args.output, args.moves, args.takeoff, args.bcf, args.report],
        reads=[args.model, *args.others, args.plan, args.earlier],
    )
    style = read_sheet_style(args, is_wanted=args.sheets is not None)
    with Progress() as progress:
        record = build_file(
            args.model,
            args.output,
            others=args.others,
            plan=args.plan,
            system=args.system,
            policy=args.policy,
            detail=args.detail,
            replace=args.replace,
            keep_edits=args.keep_edits,
            earlier=args.earlier,
            overwrite=args.overwrite,
            sheets=args.sheets,
            style=style,
            dxf=args.dxf,
            layers=args.layers,
            moves=args.moves,
            takeoff=args.takeoff,
            bcf=args.bcf,
            bcf_version=args.bcf_version,
            report=args.report,
            units=args.units,
            on_room=progress,
        )
    emit(record, args.json, format_summary(record))
    return exit_code(record)


def run_clash(args: argparse.Namespace) -> int:
    """Ceilings against what is in their way."""
    from ifcgrid.pipeline import clash_file, format_summary

    check_json(args, writes=[args.bcf, args.csv], reads=[args.model, *args.others, args.plan])
    with Progress() as progress:
        record = clash_file(
            args.model,
            others=args.others,
            plan=args.plan,
            bcf=args.bcf,
            bcf_version=args.bcf_version,
            csv=args.csv,
            asked={"storey": args.storey, "trade": args.trade, "severity": args.severity},
            has_ways=not args.no_ways,
            on_cause=progress,
        )
    emit(record, args.json, format_summary(record))
    return exit_code(record)


def run_check(args: argparse.Namespace) -> int:
    """Ceilings against documents and editions."""
    from ifcgrid.pipeline import check_file, format_check, format_rule_table, read_judging_of

    if args.table:
        print(format_rule_table(), end="")
        return 0
    if args.model is None:
        raise IfcGridError("check needs a MODEL, or --table for the rules alone")
    reads = [args.model, *args.others, args.plan]
    check_json(args, writes=[args.csv, args.page], reads=reads)
    site = {name: getattr(args, name) for name in ("sds", "z_over_h", "importance")}
    site["walls_to_structure"] = True if args.walls_to_structure else None
    switches = dict(text.partition("=")[::2] for text in args.switch)
    judging = read_judging_of(args.plan, rules=args.rules, switches=switches, site=site)
    record = check_file(args.model, others=args.others, judging=judging, csv=args.csv, page=args.page)
    emit(record, args.json, format_check(record))
    return exit_code(record)


def run_setout(args: argparse.Namespace) -> int:
    """Set-out sheets of a model's ceilings."""
    from ifcgrid.pipeline import format_summary, setout_file

    check_json(args, writes=[], reads=[args.model, *args.others])
    record = setout_file(
        args.model,
        args.output,
        others=args.others,
        rooms=args.room,
        style=read_sheet_style(args),
        dxf=args.dxf,
        layers=args.layers,
        units=args.units,
    )
    emit(record, args.json, format_summary(record))
    return exit_code(record)


def run_explain(args: argparse.Namespace) -> int:
    """Why a room is laid out as it is."""
    from ifcgrid.pipeline import explain_file

    reads = [args.model, *args.others, args.plan]
    check_json(args, writes=[args.picture], reads=reads)
    told = explain_file(
        args.model,
        args.room,
        others=args.others,
        plan=args.plan,
        system=args.system,
        policy=args.policy,
        picture=args.picture,
    )
    emit(told.record, args.json, told.text)
    return 0


def run_takeoff(args: argparse.Namespace) -> int:
    """Quantities, cutting plans and orders."""
    from ifcgrid.pipeline import format_take_off, takeoff_file

    reads = [args.model, *args.others, args.prices, args.order]
    check_json(args, writes=[args.xlsx, args.csv], reads=reads)
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
    emit(record, args.json, format_take_off(record))
    return 0
