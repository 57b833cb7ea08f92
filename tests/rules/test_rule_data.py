"""The rules and the rows of their numbers belong together; each row says who says so."""

from __future__ import annotations

from pathlib import Path

import pytest

from ifcgrid.checks.rule import rule
from ifcgrid.checks.rule_data import BASES, list_rule_files, read_rule_file
from ifcgrid.checks.rule_sets import RULE_SETS, check_switches, choose_sets, rules_of
from ifcgrid.checks.rule_table import format_rule_table
from ifcgrid.checks.units import find_unit
from ifcgrid.domain.errors import PlanError, SystemDataError

ROOT = Path(__file__).parents[2]
FILES = list_rule_files()
SI_ONLY = {"mm", "m", "m2", "N", "N/m", "N/m2", "kg/m2"}
INCH_ONLY = {"in", "ft", "ft2", "lb", "lb/ft", "psf", "ksi"}


@pytest.mark.parametrize("file_id", FILES)
def test_every_rule_has_its_row_and_every_row_its_rule(file_id: str) -> None:
    file, rules = read_rule_file(file_id), rules_of(read_rule_file(file_id))
    assert set(file.rows) | set(file.left_out) == set(rules)
    assert set(file.rows) & set(file.left_out) == set()


@pytest.mark.parametrize("file_id", FILES)
def test_rows_and_rules_name_the_same_clause(file_id: str) -> None:
    file = read_rule_file(file_id)
    for name, found in rules_of(file).items():
        clauses = {
            row.clause for row in file.rows.get(name, ()) if row.variant == file.defaults.get(name, "")
        }
        assert clauses <= {found.clause}, name


@pytest.mark.parametrize("file_id", FILES)
def test_every_row_says_who_says_so_and_how_sure_that_is(file_id: str) -> None:
    for rows in read_rule_file(file_id).rows.values():
        for row in rows:
            assert row.source
            assert row.basis in BASES
            assert (
                ("memory" in row.source) == (row.basis == "M")
                or row.basis in ("S2", "P")
                or "rev." in row.source
            )


@pytest.mark.parametrize("file_id", FILES)
def test_inch_pound_and_si_numbers_are_never_in_one_file(file_id: str) -> None:
    file = read_rule_file(file_id)
    units = {row.unit for rows in file.rows.values() for row in rows}
    units |= {name.rpartition("_")[2] for rows in file.rows.values() for row in rows for name in row.also}
    assert not units & (SI_ONLY if file.units == "inch-pound" else INCH_ONLY)


def test_no_rule_file_is_in_no_set() -> None:
    assert {file for found in RULE_SETS for file in found.files} == set(FILES)


def test_the_table_for_engineers_is_that_of_the_data() -> None:
    assert (ROOT / "ifcgrid" / "checks" / "RULES.md").read_text(encoding="utf-8") == format_rule_table(), (
        "run: ifcgrid check --table > ifcgrid/checks/RULES.md"
    )


def test_the_table_holds_every_rule_with_its_number_and_source() -> None:
    text = format_rule_table()
    for file_id in FILES:
        for name, rows in read_rule_file(file_id).rows.items():
            for row in rows:
                number = f"{row.value:.6g} {row.unit}" if row.value is not None else row.by
                lines = [
                    line for line in text.splitlines() if line.startswith(f"| {name} |") and number in line
                ]
                assert any(row.source in line and f"| {row.basis} |" in line for line in lines), (name, row)


@pytest.mark.parametrize(
    ("names", "files"),
    [
        ([], ["layout-1"]),
        (["c636-19"], ["layout-1", "c636-19"]),
        (["e580-14-sdc-ab"], ["layout-1", "c635-17", "c636-19"]),
        (["c636-19", "e580-14-sdc-d"], ["layout-1", "c636-19", "c635-17", "e580-14-sdc-d"]),
    ],
)
def test_a_set_brings_the_documents_that_go_with_it_each_once(names: list[str], files: list[str]) -> None:
    assert [file.id for file in choose_sets(names).files] == files


def test_an_edition_of_asce_7_comes_with_categories_d_to_f_unless_one_is_named() -> None:
    def chosen(*names: str) -> list[str]:
        return [f.id for f in choose_sets(names, edition="7-16").files if f.id.startswith("asce")]

    assert chosen("e580-14-sdc-d") == ["asce7-16"]
    assert chosen("e580-14-sdc-d", "asce7-22") == ["asce7-22"]
    assert chosen("e580-14-sdc-c") == []


def test_what_does_not_exist_is_answered_with_what_does() -> None:
    with pytest.raises(PlanError, match=r"no rule set 'c636-07'; choose one of c635-17"):
        choose_sets(["c636-07"])
    with pytest.raises(PlanError, match=r"no switch 'brace'; there are .*first-brace"):
        check_switches({"brace": "six-foot"})
    with pytest.raises(PlanError, match=r"first-brace is '5 ft'; choose one of six-foot, four-foot"):
        check_switches({"first-brace": "5 ft"})
    with pytest.raises(SystemDataError, match=r"no rules 'c637-19'"):
        read_rule_file("c637-19")
    with pytest.raises(SystemDataError, match=r"unit 'yd' is not known"):
        find_unit("yd")


def test_a_rule_stands_once_and_has_a_title() -> None:
    with pytest.raises(SystemDataError, match="has no title"):

        @rule("Test", "1")
        def nameless(_case, _row):
            return ""

    @rule("Test", "1", name="own")
    def one(_case, _row):
        """A title."""
        return ""

    with pytest.raises(SystemDataError, match="twice"):
        rule("Test", "1", name="own")(one)
