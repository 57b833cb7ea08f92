"""The JSON record of a build: one dictionary per room, findings, totals. Plain types, rounded numbers.

Lengths are rounded to 0.001 mm, areas to 1e-6 m², so that equal ceilings give equal bytes.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from shapely import LineString

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.layout import Certificate, Layout
from ifcgrid.domain.room import CeilingHeight, HeightEvidence, Room, SkippedRoom
from ifcgrid.outputs.finding_record import record_coordination
from ifcgrid.outputs.measured import record_measured
from ifcgrid.outputs.moves import record_devices, record_moves
from ifcgrid.outputs.pieces import record_pieces
from ifcgrid.outputs.setout.wall import name_walls
from ifcgrid.outputs.setting_out import record_setting_out

__all__ = ["record_build", "record_finding", "record_room", "record_skipped", "record_spaces"]


def _number(value: float | None, digits: int = 3) -> float | None:
    """A finite rounded float, None for what JSON cannot hold."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0  # turns -0.0 into 0.0


def _area(square_mm: float) -> float | None:
    return _number(square_mm / 1e6, 6)


def _plain(value: Any) -> Any:
    """Mappings, sequences and numpy scalars as JSON holds them; NaN and infinity become None."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, np.generic | np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value if value is None or isinstance(value, bool | int) else str(value)


def _evidence(evidence: HeightEvidence) -> dict[str, Any]:
    return {
        "source": evidence.source.value,
        "value_mm": _number(evidence.value),
        "where": evidence.where,
    }


def _height(height: CeilingHeight | None) -> dict[str, Any] | None:
    if height is None:
        return None
    return {
        "value_mm": _number(height.value),
        "source": height.source.value,
        "where": height.candidates[0].where if height.candidates else "",
        "conflicts": [_evidence(c) for c in height.conflicts],
        "disputes": [_evidence(c) for c in height.disputes],
    }


def _least_strips(low: float, high: float, layout: Layout) -> list[float | None]:
    """The narrower strips of all rows at both ends of a stretch along the mains."""
    each = [_strips(low - shift, high - shift, layout.along) for shift in layout.row_offsets]
    return [min((s for s in ends if s is not None), default=None) for ends in zip(*each, strict=True)]


def _strips(low: float, high: float, module: float) -> list[float | None]:
    """The strips at both ends of a stretch of the axis; the whole stretch where no line crosses it."""
    first = tolerance.floor_div(low, module) + 1
    last = tolerance.ceil_div(high, module) - 1
    if first > last:
        return [_number(high - low)] * 2
    return [_number(first * module - low), _number(high - last * module)]


def _borders(ceiling: Ceiling, room: Room) -> dict[str, Any]:
    layout = ceiling.layout
    u0, v0, u1, v1 = layout.frame.shape_to_local(room.outline).bounds
    is_shared = len(ceiling.zone.rooms) > 1
    near = room.outline.buffer(tolerance.GAP) if is_shared else None
    walls = [
        {
            "ring": border.ring,
            "edge": border.edge,
            "length_mm": _number(border.length),
            "least_mm": _number(border.least),
            "greatest_mm": _number(border.greatest),
            "axis": border.axis,
        }
        for border in layout.borders
        # An edge of a shared outline counts for every room that it runs along.
        if near is None
        or LineString([border.start, border.end]).intersection(near).length > 4 * tolerance.GAP
    ]
    return {
        "along": _least_strips(u0, u1, layout),
        "across": _strips(v0, v1, layout.across),
        "walls": walls,
    }


def _narrow(ceiling: Ceiling, room: Room) -> list[dict[str, Any]]:
    """The walls of a room whose borders fall short of the policy's minimum, the worst first."""
    layout, policy = ceiling.layout, ceiling.policy
    if not layout.narrow or policy is None:
        return []
    letter = {(wall.ring, edge): wall.letter for wall in name_walls(ceiling) for edge in wall.edges}
    border = {(b.ring, b.edge): b for b in layout.borders}
    module = {"u": (layout.along,), "v": (layout.across,)}
    near = room.outline.buffer(tolerance.GAP)
    return [
        {
            "wall": letter[key],
            "ring": key[0],
            "edge": key[1],
            "least_mm": _number(border[key].least),
            "minimum_mm": _number(
                min(map(policy.minimum, module.get(border[key].axis, (layout.along, layout.across))))
            ),
            "from_mm": [_number(x) for x in border[key].start],
            "to_mm": [_number(x) for x in border[key].end],
        }
        for key in layout.narrow
        if LineString([border[key].start, border[key].end]).intersection(near).length > 0
    ]


def _policy(ceiling: Ceiling) -> dict[str, Any]:
    """Who asked for the policy that applied, and how sure that is."""
    policy = ceiling.policy
    if policy is None:
        return {}
    return {
        "policy_title": policy.title,
        "policy_source": policy.source,
        "policy_basis": policy.basis,
        "policy_minimum": policy.minimum_words,
    }


def _certificate(certificate: Certificate) -> dict[str, Any]:
    return {
        "method": certificate.method,
        "tried": int(certificate.tried),
        "resolution_mm": _number(certificate.resolution),
        "gap": _number(certificate.gap, 6),
        "gap_term": certificate.gap_term,
        "statement": certificate.statement,
        "best": [
            {
                "angle_deg": _number(c.angle_deg, 6),
                "origin_mm": [_number(x) for x in c.origin],
                "scores": {str(term): _number(score, 6) for term, score in c.scores},
                "lost_on": str(c.lost_on),
            }
            for c in certificate.best
        ],
    }


def _room_head(room: Room | SkippedRoom, status: str, reason: str) -> dict[str, Any]:
    return {
        "key": room.key,
        "name": room.name,
        "number": room.number,
        "storey": room.storey,
        "status": status,
        "reason": reason,
    }


def record_room(ceiling: Ceiling, index: int = 0) -> dict[str, Any]:
    """The record of one room of a ceiling; `index` is the room's place in `ceiling.zone.rooms`.

    Panels, members and hangers of a ceiling over several rooms are counted by room, and
    `zone` names the zone.
    """
    room, layout = ceiling.zone.rooms[index], ceiling.layout
    panels = ceiling.panels.room == index
    full = int(ceiling.panels.is_full[panels].sum())
    roles = ceiling.members.role[ceiling.members.room == index]
    record = {
        **_room_head(room, "laid-out", layout.reason),
        "height": _height(room.height),
        "system": ceiling.system.id,
        "policy": layout.policy,
        **_policy(ceiling),
        "meets_minimum": bool(layout.meets_minimum),
        "narrow": _narrow(ceiling, room),
        "area_m2": _area(room.outline.area),
        "angle_deg": _number(layout.frame.angle_deg, 6),
        "origin_mm": [_number(layout.frame.x), _number(layout.frame.y)],
        "module_mm": [_number(layout.along), _number(layout.across)],
        "borders_mm": _borders(ceiling, room),
        **record_setting_out(ceiling),
        **record_measured(ceiling),
        "certificate": _certificate(layout.certificate),
        "panels": {"full": full, "cut": int(panels.sum()) - full},
        "members": {role.word: int((roles == role).sum()) for role in Role},
        "hangers": int((ceiling.hangers.room == index).sum()),
        **record_pieces(ceiling, index),
        "openings": sum(opening.room == index for opening in ceiling.openings),
        "devices": record_devices(ceiling),
        "moves": record_moves(ceiling, index),
        "notes": list(dict.fromkeys((*room.notes, *ceiling.zone.notes))),
    }
    if room.also:
        record["also"] = list(room.also)
    if len(ceiling.zone.rooms) > 1:
        record["zone"] = ceiling.zone.key
    plain: dict[str, Any] = _plain(record)
    return plain


def record_skipped(room: SkippedRoom) -> dict[str, Any]:
    """The record of a room without a ceiling: the same keys, empty where a ceiling would say more."""
    return {
        **_room_head(room, room.status, room.reason),
        "height": None,
        "system": None,
        "area_m2": None,
        "angle_deg": None,
        "origin_mm": None,
        "borders_mm": None,
        "certificate": None,
        "panels": {"full": 0, "cut": 0},
        "members": {role.word: 0 for role in Role},
        "hangers": 0,
    }


def record_finding(finding: Finding) -> dict[str, Any]:
    """The record of one finding; `point_mm` is in model coordinates."""
    return {
        "rule": finding.rule,
        "source": finding.source,
        "clause": finding.clause,
        "verdict": finding.verdict.value,
        "room": finding.room,
        "subjects": list(finding.subjects),
        "message": finding.message,
        "value": _number(finding.value),
        "limit": _number(finding.limit),
        "unit": finding.unit,
        "point_mm": None if finding.point is None else [_number(x) for x in finding.point],
        **record_coordination(finding),
        **(_ruling(finding) if finding.document else {}),
    }


def _ruling(finding: Finding) -> dict[str, Any]:
    """What a finding of a rule set says besides."""
    return {
        "title": finding.title,
        "document": finding.document,
        "edition": finding.edition,
        "basis": finding.basis,
        "value": _number(finding.value, 4),
        "limit": _number(finding.limit, 4),
        "margin": _number(finding.margin, 4),
        "measured": finding.measured,
    }


def _natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A sort key in which 2 comes before 10."""
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in re.split(r"(\d+)", text) if p)


def _in_order(rooms: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Storeys in the order in which they first occur (the reader's, from the lowest), rooms by number."""
    rooms = list(rooms)
    storeys = {name: rank for rank, name in enumerate(dict.fromkeys(r["storey"] for r in rooms))}
    return sorted(
        rooms,
        key=lambda r: (storeys[r["storey"]], _natural(r["number"]), _natural(r["name"]), r["key"]),
    )


def _totals(rooms: Sequence[Mapping[str, Any]], findings: Sequence[Finding]) -> dict[str, Any]:
    status = Counter(room["status"] for room in rooms)
    verdict = Counter(finding.verdict for finding in findings)
    return {
        "rooms": {word: status.get(word, 0) for word in ("laid-out", "skipped", "failed")},
        "area_m2": _number(math.fsum(room["area_m2"] or 0.0 for room in rooms), 6),
        "panels": {kind: sum(room["panels"][kind] for room in rooms) for kind in ("full", "cut")},
        "members": {role.word: sum(room["members"][role.word] for room in rooms) for role in Role},
        "hangers": sum(room["hangers"] for room in rooms),
        "findings": {word.value: verdict.get(word, 0) for word in Verdict},
    }


def record_build(
    *,
    model: Mapping[str, Any],
    ceilings: Sequence[Ceiling],
    skipped: Sequence[SkippedRoom] = (),
    findings: Sequence[Finding] = (),
    outputs: Sequence[str] = (),
) -> dict[str, Any]:
    """The record of a whole build, as `--json` writes it.

    Args:
        model: path, sha256, schema and unit of the model, and whatever else is known of it.
        ceilings: all ceilings.
        skipped: the rooms that got none, with the reason.
        findings: what the judges say.
        outputs: paths of the files that were written.
    """
    rooms = _in_order(
        [
            *(record_room(ceiling, k) for ceiling in ceilings for k in range(len(ceiling.zone.rooms))),
            *(record_skipped(room) for room in skipped),
        ]
    )
    return {
        "model": _plain(model),
        "rooms": rooms,
        "findings": [record_finding(finding) for finding in findings],
        "totals": _totals(rooms, findings),
        "outputs": [str(path) for path in outputs],
    }


def _record_space(room: Room) -> dict[str, Any]:
    rings = (room.outline.exterior, *room.outline.interiors)
    return {
        **_room_head(room, "ready", ""),
        "height": _height(room.height),
        "candidates": [_evidence(c) for c in room.height.candidates] if room.height else [],
        "area_m2": _area(room.outline.area),
        "stated_area_m2": _number(room.stated_area_m2, 6),
        "outline_mm": [[[_number(x), _number(y)] for x, y in np.asarray(r.coords)[:, :2]] for r in rings],
        "floor_mm": _number(room.floor),
        "covering": room.covering.key if room.covering else None,
        "soffits": [soffit.key for soffit in room.soffits],
        "open_to": list(room.open_to),
        "also": list(room.also),
        "notes": list(room.notes),
    }


def record_spaces(
    *, model: Mapping[str, Any], rooms: Sequence[Room], skipped: Sequence[SkippedRoom] = ()
) -> dict[str, Any]:
    """What would be read from a model: rooms that are ready, and the others with the reason."""
    records = [*map(_record_space, rooms), *(_room_head(s, s.status, s.reason) for s in skipped)]
    count = Counter(record["status"] for record in records)
    return {
        "model": _plain(model),
        "rooms": _in_order(records),
        "totals": {"rooms": {word: count.get(word, 0) for word in ("ready", "skipped", "failed")}},
    }
