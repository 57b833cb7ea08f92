"""Whatever the rooms: no text on another, every border measured true, the drawing file clean and the same."""

from __future__ import annotations

import io
from itertools import combinations

import ezdxf
import numpy as np
import pytest
import shapely
from drawn_storeys import STAMP, keyed
from handmade_ceilings import L2, ROUND_ENDED, T1, TP1, build_ceiling, rectangle
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from shapely import box

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.outputs.dxf import write_storey_dxf
from ifcgrid.outputs.plan import StoreySheet, lay_out_storey
from ifcgrid.outputs.plan.drawing import DimensionLine, Tag

SHAPES = {"l": L2, "t": TP1, "taper": T1, "round": ROUND_ENDED}
KINDS = (Kind.LIGHT, Kind.AIR_TERMINAL, Kind.SPRINKLER, Kind.DETECTOR, Kind.DEVICE)

letters = st.characters(max_codepoint=0xFFFF)
"""Letters of all scripts; pictographs reach higher than a line of the lists beside a plan."""

rooms = st.tuples(
    st.one_of(st.sampled_from(sorted(SHAPES)), st.tuples(st.integers(650, 9000), st.integers(650, 9000))),
    st.floats(0, 359),
    st.text(letters, max_size=40),
    st.text(letters, max_size=8),
    st.integers(1, 600),
    st.integers(1, 600),
)
storeys = st.lists(rooms, min_size=1, max_size=6)


def make(given_rooms, far: float) -> list[Ceiling]:
    ceilings, x = [], far
    for k, (shape, angle, name, number, u, v) in enumerate(given_rooms):
        outline = SHAPES[shape] if isinstance(shape, str) else rectangle(*shape)
        made = build_ceiling(outline, (u, v), angle_deg=angle, name=name, number=number)
        moved = build_ceiling(
            outline,
            (u, v),
            angle_deg=angle,
            name=name,
            number=number,
            at=(x - made.zone.outline.bounds[0], far),
        )
        ceilings.append(keyed(moved, f"room {k}"))
        x = moved.zone.outline.bounds[2] + 150.0
    return ceilings


def devices(ceilings: list[Ceiling], seed: int) -> tuple[list[Obstacle], list[Finding]]:
    rng = np.random.default_rng(seed)
    things, findings = [], []
    for ceiling in ceilings:
        x0, y0, x1, y1 = ceiling.zone.outline.bounds
        for k in range(int(rng.integers(0, 6))):
            x, y, size = rng.uniform(x0, x1), rng.uniform(y0, y1), rng.uniform(20, 1200)
            things.append(
                Obstacle(
                    key=f"{ceiling.key}/{k}",
                    kind=KINDS[int(rng.integers(len(KINDS)))],
                    name="",
                    outline=box(x - size / 2, y - 100, x + size / 2, y + 100),
                    bottom=2700.0,
                    top=2800.0,
                )
            )
            if k % 2:
                findings.append(
                    Finding(
                        rule="r",
                        source="s",
                        clause="",
                        verdict=Verdict.FAIL,
                        room=ceiling.key,
                        subjects=(),
                        message="m",
                        point=(x, y, 2700.0),
                    )
                )
    return things, findings


def lay_out(given_rooms, seed: int, far: float, units: str) -> tuple[StoreySheet, list[Ceiling]]:
    ceilings = make(given_rooms, far)
    things, findings = devices(ceilings, seed)
    sheet = lay_out_storey("Storey", ceilings, obstacles=things, findings=findings, stamp=STAMP, units=units)
    return sheet, ceilings


@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow])
@given(storeys, st.integers(0, 99), st.sampled_from([0.0, -3e5, 6.4e9]), st.sampled_from(["mm", "ft-in"]))
@example([("l", 0.0, "", "", 300, 300)], 1, 6.4e9, "mm")
@example([((700, 700), 45.0, "%%d^J\\U+0041", "{\\P}", 350, 350)] * 3, 2, 0.0, "ft-in")
def test_any_storey_is_drawn_legibly_measured_truly_and_filed_cleanly(given_rooms, seed, far, units) -> None:
    sheet, ceilings = lay_out(given_rooms, seed, far, units)
    boxes = [text.label.box for text in sheet.page.texts]
    assert not any(a.meets(b) for a, b in combinations(boxes, 2))
    assert all(sheet.page.page.holds(a) for a in boxes)
    masks = [shapely.box(*t.mask) for t in sheet.drawing.things if isinstance(t, Tag)]
    assert not any(a.intersection(b).area > 0 for a, b in combinations(masks, 2))

    borders = {f"{c.key}/{b.ring}/{b.edge}": b for c in ceilings for b in c.layout.borders}
    lines = [t for t in sheet.drawing.things if isinstance(t, DimensionLine)]
    near = max(0.1, abs(far) * 1e-9)
    for line in lines:
        border = borders[f"{line.zone}/{line.edge[0]}/{line.edge[1]}"]
        assert border.least - near <= line.length <= border.greatest + near

    data = write_storey_dxf(sheet)
    doc = ezdxf.read(io.StringIO(data.decode("utf-8")))
    auditor = doc.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    factor = 25.4 if units == "ft-in" else 1.0
    measured = sorted(float(d.get_measurement()) * factor for d in doc.modelspace().query("DIMENSION"))
    assert measured == pytest.approx(sorted(line.length for line in lines), abs=max(1e-5, near))
    assert len(doc.modelspace().query("LINE")) == sum(len(c.members) for c in ceilings)
    assert data == write_storey_dxf(lay_out(given_rooms, seed, far, units)[0])
