"""Records as text for a terminal: plain tables, our own words in ASCII, names without control characters."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import PurePath
from typing import Any

from ifcgrid.domain.units import INCH, format_feet_inches, in_feet_and_inches
from ifcgrid.outputs.edits import format_edits
from ifcgrid.outputs.federation import federation_lines
from ifcgrid.outputs.finding_text import format_findings
from ifcgrid.outputs.measured import summary_lines

__all__ = ["format_layout", "format_spaces", "format_summary"]

_MOST_EACH = 5
_MOST_FILES = 3
_MOST_MOVES = 20
_WIDEST_NAME = 26
_AREA_UNIT = {"mm": "m2", "ft-in": "ft2"}
_CAUTION = (
    "Geometry only, from the model or room named above. Local codes, the authority having jurisdiction and a "
    "registered design professional decide; what no finding names was not checked."
)

Row = Sequence[str]


def _clean(text: Any) -> str:
    """Text that cannot move the cursor or colour the terminal: control and format characters become ?."""
    return "".join("?" if unicodedata.category(c)[0] == "C" else c for c in str(text))


def _width(text: str) -> int:
    """Columns that a text takes on a terminal."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text
    )


def _cut(text: str, width: int) -> str:
    if _width(text) <= width:
        return text
    while text and _width(text) > width - 2:
        text = text[:-1]
    return text + ".."


def _table(head: Row, rows: Iterable[Row], right: frozenset[int] = frozenset()) -> list[str]:
    """Columns as wide as their widest cell; those in `right` are aligned to the right."""
    cells = [list(head), *(list(row) for row in rows)]
    widths = [max(_width(row[k]) for row in cells) for k in range(len(head))]

    def line(row: Row) -> str:
        parts = []
        for k, cell in enumerate(row):
            gap = " " * (widths[k] - _width(cell))
            parts.append(gap + cell if k in right else cell + gap)
        return "  ".join(parts).rstrip()

    return [line(cells[0]), "  ".join("-" * w for w in widths), *map(line, cells[1:])]


def _units(record: Mapping[str, Any]) -> str:
    """How lengths are told: as the record says, else as the model's own unit is."""
    unit = str((record.get("model") or {}).get("unit", "")).lower()
    return str(record.get("units") or ("ft-in" if "foot" in unit or "inch" in unit else "mm"))


def _length(value: float | None, units: str) -> str:
    """A length without needless digits: 335, 212.5 or 1'-1 3/16"."""
    if value is None:
        return "-"
    return format_feet_inches(value) if units == "ft-in" else f"{value:.1f}".removesuffix(".0")


def _area(square_metres: float, units: str, digits: int = 2) -> str:
    """An area in m2 or, where lengths are in feet, in ft2."""
    if units == "ft-in":
        return f"{square_metres * 1e6 / (144 * float(INCH) ** 2):.{digits}f}"
    return f"{square_metres:.{digits}f}"


def _told(sentence: Any, units: str) -> str:
    """A sentence of ours, its lengths in the units in which all else is told."""
    text = _clean(sentence)
    return in_feet_and_inches(text) if units == "ft-in" else text


def _pair(values: Sequence[float | None] | None, units: str) -> str:
    if not values:
        return "-"
    first, last = (_length(value, units) for value in values)
    return first if first == last else f"{first}{'/' if units == 'mm' else ' / '}{last}"


def _title(room: Mapping[str, Any]) -> str:
    """Number and name, for lists."""
    return " ".join(_clean(room.get(k) or "") for k in ("number", "name")).strip() or _clean(room["key"])


def _model_line(record: Mapping[str, Any]) -> list[str]:
    model = record.get("model") or {}
    facts = [_clean(model.get(k)) for k in ("path", "schema", "unit") if model.get(k)]
    return [f"Model: {', '.join(facts)}"] if facts else []


def _by_storey(rooms: Sequence[Mapping[str, Any]]) -> dict[str, list[Mapping[str, Any]]]:
    storeys: dict[str, list[Mapping[str, Any]]] = {}
    for room in rooms:
        storeys.setdefault(_clean(room.get("storey") or "no storey"), []).append(room)
    return storeys


def _height_cells(room: Mapping[str, Any], units: str) -> tuple[str, str]:
    height = room.get("height")
    if not height:
        return "-", "-"
    mark = " *" if height.get("disputes") else ""
    return _length(height["value_mm"], units), height["source"] + mark


def _laid_out(rooms: Sequence[Mapping[str, Any]], failing: Counter[str], units: str) -> list[str]:
    head = (
        "Room", "Name", f"Area {_AREA_UNIT[units]}", "Height", "from", "System", "Along", "Across", "Full",
        "Cut", "Hangers", "Fails",
    )  # fmt: skip
    rows = []
    for room in rooms:
        borders = room["borders_mm"]
        rows.append(
            (
                _cut(_clean(room["number"] or "-"), 14),
                _cut(_clean(room["name"]), _WIDEST_NAME),
                _area(room["area_m2"], units),
                *_height_cells(room, units),
                room["system"],
                _pair(borders["along"], units) + ("" if room.get("meets_minimum", True) else " !"),
                _pair(borders["across"], units),
                str(room["panels"]["full"]),
                str(room["panels"]["cut"]),
                str(room["hangers"]),
                str(failing[room["key"]] or "-"),
            )
        )
    return _table(head, rows, right=frozenset({2, 3, 8, 9, 10, 11}))


def _reasons(rooms: Sequence[Mapping[str, Any]], units: str) -> list[str]:
    lines: list[str] = []
    for status in ("skipped", "failed"):
        chosen = [room for room in rooms if room["status"] == status]
        if chosen:
            lines += ["", f"{status.capitalize()}: {len(chosen)}"]
            lines += [f"  {_title(room)}: {_told(room['reason'], units)}" for room in chosen]
    return lines


def _conflicts(rooms: Sequence[Mapping[str, Any]], units: str) -> list[str]:
    lines = []
    for room in rooms:
        height = room.get("height") or {}
        for other in height.get("disputes", ()):
            where = f" ({_clean(other['where'])})" if other.get("where") else ""
            lines.append(
                f"  {_title(room)}: used {_length(height['value_mm'], units)} ({height['source']}); "
                f"{other['source']} says {_length(other['value_mm'], units)}{where}"
            )
    return ["", f"* Heights to settle: {len(lines)}", *lines] if lines else []


def _narrow_walls(room: Mapping[str, Any], units: str) -> str:
    """The walls at fault, by the letters that the set-out sheet gives them."""
    walls: dict[str, float] = {}
    for edge in room.get("narrow", ()):
        walls[edge["wall"]] = min(edge["least_mm"], walls.get(edge["wall"], edge["least_mm"]))
    shown = [f"{letter} {_length(least, units)}" for letter, least in list(walls.items())[:_MOST_EACH]]
    rest = f" and {len(walls) - _MOST_EACH} more" if len(walls) > _MOST_EACH else ""
    return f" (all: wall {', '.join(shown)}{rest})" if len(walls) > 1 else ""


def _policies(rooms: Sequence[Mapping[str, Any]]) -> list[str]:
    """Which policies applied, with who asks for them."""
    chosen = {r["policy"]: r for r in rooms if r["status"] == "laid-out" and r.get("policy_source")}
    if not chosen:
        return []
    lines = [
        f"  {_clean(name)}: least border {room['policy_minimum']}; {_clean(room['policy_source'])} "
        f"[{room['policy_basis']}]"
        for name, room in chosen.items()
    ]
    return ["", "Policy" if len(lines) == 1 else "Policies", *lines]


def _short_borders(rooms: Sequence[Mapping[str, Any]], units: str) -> list[str]:
    chosen = [room for room in rooms if room["status"] == "laid-out" and not room.get("meets_minimum", True)]
    if not chosen:
        return []
    lines = [
        f"  {_title(room)}: {_told(room['reason'], units)}{_narrow_walls(room, units)}" for room in chosen
    ]
    return ["", f"! Least border not met: {len(chosen)}", *lines]


def _step(vector: Sequence[float]) -> str:
    """A move along the model's X and Y: (-40, 0) mm."""
    return "(" + ", ".join("0" if abs(x) < 0.05 else f"{x:+.1f}".removesuffix(".0") for x in vector) + ") mm"


def _move_text(move: Mapping[str, Any]) -> str:
    """One device that is off its seat, and the way there or why there is none."""
    text = f"{move['kind']} {_clean(move['name'])!r} ({move['hold']})"
    if move["vector_mm"] is None:
        return f"{text}: {_clean(move['reason'])}"
    turn = f", turn by {move['turn_deg']:+.1f} degrees" if move["turn_deg"] else ""
    return f"{text}: move by {_step(move['vector_mm'])} in X and Y{turn}"


def _moves(rooms: Sequence[Mapping[str, Any]], units: str) -> list[str]:
    found = [(room, move) for room in rooms for move in room.get("moves", ())]
    if not found:
        return []
    lines = [f"  {_title(room)}: {_told(_move_text(move), units)}" for room, move in found[:_MOST_MOVES]]
    if len(found) > _MOST_MOVES:
        lines.append(f"  ... and {len(found) - _MOST_MOVES} more: see the record, or build --moves FILE.csv")
    return ["", f"Devices off their seats: {len(found)}", *lines]


def _findings(record: Mapping[str, Any], units: str) -> list[str]:
    titles = {room["key"]: _title(room) for room in record.get("rooms", ())}
    return format_findings(record.get("findings", ()), titles, lambda text: _told(text, units), _clean)


def _total_lines(totals: Mapping[str, Any], units: str) -> list[str]:
    rooms = totals.get("rooms", {})
    lines = ["", "Rooms: " + ", ".join(f"{count} {word}" for word, count in rooms.items())]
    if "panels" in totals:
        members = ", ".join(f"{n} {role.replace('_', ' ')}" for role, n in totals["members"].items())
        lines.append(
            f"Ceilings: {_area(totals['area_m2'], units)} {_AREA_UNIT[units]}, "
            f"{totals['panels']['full']} full and {totals['panels']['cut']} cut panels, "
            f"{totals['hangers']} hangers"
        )
        lines.append(f"Members: {members}")
        lines.append("Findings: " + ", ".join(f"{n} {word}" for word, n in totals["findings"].items()))
    return lines


def _written(paths: Sequence[str]) -> list[str]:
    """Files one by one; many in one folder as their number."""
    folders: dict[str, list[str]] = {}
    for path in paths:
        folders.setdefault(str(PurePath(path).parent), []).append(path)
    lines = []
    for folder, files in folders.items():
        if len(files) > _MOST_FILES:
            lines.append(f"  {len(files)} files in {_clean(folder)}")
        else:
            lines += [f"  {_clean(path)}" for path in files]
    return lines


def format_summary(record: Mapping[str, Any]) -> str:
    """A build's record for people: rooms by storey, reasons, conflicts, findings, totals.

    Lengths are in mm, or in feet and inches where the model's are.
    """
    rooms, units = record.get("rooms", []), _units(record)
    failing = Counter(f.get("room", "") for f in record.get("findings", ()) if f["verdict"] == "fail")
    lines = _model_line(record) + federation_lines(record.get("model") or {})
    for storey, found in _by_storey([r for r in rooms if r["status"] == "laid-out"]).items():
        lines += ["", storey, *_laid_out(found, failing, units)]
    lines += summary_lines(rooms, lambda x: _length(x, units))
    lines += _policies(rooms) + _short_borders(rooms, units) + _moves(rooms, units)
    lines += _conflicts(rooms, units) + _reasons(rooms, units) + _findings(record, units)
    if record.get("totals"):
        lines += _total_lines(record["totals"], units)
    lines += format_edits(record.get("written", {}).get("edits", {}), _clean)
    if record.get("outputs"):
        lines += ["", "Written", *_written(record["outputs"])]
    if why := record.get("written", {}).get("why"):
        lines.append(f"  The model was written anew and not copied byte for byte: {_clean(why)}.")
    return "\n".join([*lines, "", _CAUTION]).lstrip("\n")


def format_spaces(record: Mapping[str, Any]) -> str:
    """What would be read from a model, for people: rooms, heights and where they stand, reasons."""
    rooms, units = record.get("rooms", []), _units(record)
    lines = _model_line(record)
    head = ("Room", "Name", f"Area {_AREA_UNIT[units]}", "stated", "Height", "from", "where")
    for storey, found in _by_storey([r for r in rooms if r["status"] == "ready"]).items():
        rows = []
        for room in found:
            stated = room.get("stated_area_m2")
            rows.append(
                (
                    _cut(_clean(room["number"] or "-"), 14),
                    _cut(_clean(room["name"]), _WIDEST_NAME),
                    _area(room["area_m2"], units),
                    "-" if stated is None else _area(stated, units),
                    *_height_cells(room, units),
                    _cut(_clean((room.get("height") or {}).get("where", "-")), 40),
                )
            )
        lines += ["", storey, *_table(head, rows, right=frozenset({2, 3, 4}))]
    notes = [f"  {_title(room)}: {_told(note, units)}" for room in rooms for note in room.get("notes", ())]
    lines += ["", "Notes", *notes] if notes else []
    lines += _conflicts(rooms, units) + _reasons(rooms, units)
    if record.get("totals"):
        lines += _total_lines(record["totals"], units)
    return "\n".join(lines).lstrip("\n")


def _runner_up(place: int, candidate: Mapping[str, Any], won: Mapping[str, Any], units: str) -> str:
    x, y = candidate["origin_mm"]
    text = f"  {place}. {candidate['angle_deg']:g} degrees, origin {_length(x, units)}, {_length(y, units)}"
    term = candidate["lost_on"]
    if not term:
        return text + ": chosen"
    ours, theirs = won["scores"].get(term), candidate["scores"].get(term)
    if ours is None or theirs is None:
        return f"{text}: lost on {term}"
    return f"{text}: lost on {term} ({theirs:g}, chosen {ours:g})"


def _candidates(certificate: Mapping[str, Any], units: str) -> list[str]:
    best = certificate["best"]
    lines = [f"Certificate: {certificate['method']}, {certificate['tried']} layouts tried"]
    if certificate["resolution_mm"]:
        lines[0] += f", offsets to {certificate['resolution_mm']:g} mm"
    lines.append(f"  {_told(certificate['statement'], units)}")
    return lines + [_runner_up(k, c, best[0], units) for k, c in enumerate(best, start=1)]


def format_layout(record: Mapping[str, Any]) -> str:
    """One room's record for people, with the runners-up and the term on which each lost.

    Lengths are in mm, or in feet and inches where the room or the module was given so.
    """
    borders, panels, units = record["borders_mm"], record["panels"], _units(record)
    along, across, *origin = (_length(x, units) for x in (*record["module_mm"], *record["origin_mm"]))
    members = ", ".join(f"{n} {role.replace('_', ' ')}" for role, n in record["members"].items() if n)
    size = f"{_area(record['area_m2'], units, 3)} {_AREA_UNIT[units]}"
    lines = [
        f"Room:    {_clean(record.get('given') or _title(record))}, {size}",
        f"System:  {record['system']}, module {along} x {across} (along x across the mains)",
        f"Layout:  {_told(record['reason'], units)}",
        f"Borders: along {_pair(borders['along'], units)}, across {_pair(borders['across'], units)}",
        f"Mains:   at {record['angle_deg']:g} degrees to X, grid origin {', '.join(origin)}",
        f"Panels:  {panels['full']} full, {panels['cut']} cut",
        f"Members: {members}",
        f"Hangers: {record['hangers']}",
    ]
    lines += [f"Note: {_told(note, units)}" for note in record.get("notes", ())]
    if record.get("certificate"):
        lines += _candidates(record["certificate"], units)
    if record.get("outputs"):
        lines += ["Written", *(f"  {_clean(path)}" for path in record["outputs"])]
    return "\n".join([*lines, "", _CAUTION])
