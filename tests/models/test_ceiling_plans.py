"""Ceiling plans of the demo storeys and of a real model: all of the take-off, and no text on another."""

from __future__ import annotations

import io
from collections import Counter
from itertools import combinations
from pathlib import Path

import ezdxf
import pytest
import shapely

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import Kind
from ifcgrid.domain.plan import Plan
from ifcgrid.domain.quantity import Item
from ifcgrid.ifc.project import open_model
from ifcgrid.outputs.plan import read_layers
from ifcgrid.outputs.plan.drawing import DimensionLine, Part, Tag
from ifcgrid.outputs.takeoff.measure import measure_ceiling
from ifcgrid.pipeline.files import with_defaults
from ifcgrid.pipeline.flow import Build, build, read_plan_file
from ifcgrid.pipeline.storey_plans import StoreyPlan, find_by_zone, lay_out_plans

ROOT = Path(__file__).resolve().parents[2]
OWN = ROOT / "models"

LAYER_OF = {
    Item.MAIN_RUNNER: Part.MAIN_RUNNER,
    Item.CROSS_TEE: Part.CROSS_TEE,
    Item.SECOND_TEE: Part.SECOND_TEE,
    Item.WALL_ANGLE: Part.WALL_ANGLE,
    Item.TRAPEZE: Part.TRAPEZE,
}
BLOCK_OF = {Item.HANGER: "HANGER", Item.BRACE: "BRACE", Item.DEVICE_WIRE: "DEVICE-WIRE"}


class Drawn:
    """A model's ceilings with its plans."""

    def __init__(self, done: Build, units: str) -> None:
        self.done = done
        self.plans: list[StoreyPlan] = list(
            lay_out_plans(done, units, findings=find_by_zone(done), stamp={"model": "m"}, north_deg=80.0)
        )

    def ceilings(self, plan: StoreyPlan) -> list[Ceiling]:
        return [c for c in self.done.ceilings if c.zone.rooms[0].storey_key == plan.storey_key]


def drawn(rooms: Path, others: list[Path], plan: Plan, units: str = "mm") -> Drawn:
    return Drawn(build(open_model(rooms), plan, [open_model(path) for path in others]), units)


def sandrell(plan: str) -> Drawn:
    others = [OWN / "sandrell-services.ifc", OWN / "sandrell-structure.ifc"]
    return drawn(OWN / "sandrell-architecture.ifc", others, read_plan_file(OWN / plan))


def gatehouse(_: str) -> Drawn:
    plan = with_defaults(read_plan_file(None), "lay-in-2x2-ft", None)
    return drawn(OWN / "gatehouse.ifc", [OWN / "gatehouse-services.ifc"], plan, "ft-in")


def duplex(_: str) -> Drawn:
    folder = ROOT.parent / "shared" / "models"
    if not folder.is_dir():
        pytest.skip(f"no real models at {folder}")
    others = [folder / "duplex_Electrical_20121207.ifc"]
    return drawn(folder / "duplex_A_20110907.ifc", others, read_plan_file(None))


@pytest.fixture(
    scope="module",
    params=[
        (sandrell, "sandrell-seismic-plan.toml"),
        (gatehouse, ""),
        pytest.param((duplex, ""), marks=pytest.mark.models),
    ],
    ids=["sandrell", "gatehouse", "duplex"],
)
def model(request) -> Drawn:
    make, plan = request.param
    return make(plan)


@pytest.fixture(scope="module")
def files(model: Drawn) -> list:
    return [ezdxf.read(io.StringIO(plan.data("dxf").decode("utf-8"))) for plan in model.plans]


def layer(part: Part) -> str:
    return read_layers()[part].layer


def test_files_are_audited_without_an_error(files) -> None:
    for doc in files:
        auditor = doc.audit()
        assert (auditor.errors, auditor.fixes) == ([], [])


def test_lines_and_blocks_are_as_many_as_the_take_off_counts(model: Drawn, files) -> None:
    for plan, doc in zip(model.plans, files, strict=True):
        counted: Counter[Item] = Counter()
        for ceiling in model.ceilings(plan):
            for quantity in measure_ceiling(ceiling):
                counted[quantity.item] += round(quantity.value)
        space = doc.modelspace()
        for item, part in LAYER_OF.items():
            assert len(space.query(f'LINE[layer=="{layer(part)}"]')) == counted[item], item
        for item, block in BLOCK_OF.items():
            assert len(space.query(f'INSERT[name=="{block}"]')) == counted[item], item
        openings = space.query(f'LWPOLYLINE[layer=="{layer(Part.OPENING)}"]')
        assert len(openings) == counted[Item.LAY_IN_OPENING] + counted[Item.CUT_OPENING]


def test_every_device_that_has_an_opening_is_a_block_of_its_kind_on_its_layer(model: Drawn, files) -> None:
    kind_of = {o.key: o.kind for o in model.done.intake.obstacles}
    for plan, doc in zip(model.plans, files, strict=True):
        wanted = Counter(
            (o.key, kind_of[o.key].value)
            for c in model.ceilings(plan)
            for o in c.openings
            if o.key in kind_of
        )
        blocks = Counter(
            (e.get_attrib_text("GLOBALID"), e.get_attrib_text("KIND"))
            for kind in (Kind.LIGHT, Kind.AIR_TERMINAL, Kind.SPRINKLER, Kind.DETECTOR, Kind.DEVICE)
            for e in doc.modelspace().query(f'INSERT[layer=="{layer(Part(kind.value))}"]')
        )
        assert set(wanted) <= set(blocks)
        assert max(blocks.values(), default=1) == 1


def test_dimensions_of_the_file_are_those_of_the_layouts(model: Drawn, files) -> None:
    factor = 25.4 if model.plans[0].sheet.drawing.units == "ft-in" else 1.0
    for plan, doc in zip(model.plans, files, strict=True):
        borders = {f"{c.key}/{b.ring}/{b.edge}": b for c in model.ceilings(plan) for b in c.layout.borders}
        found = list(doc.modelspace().query("DIMENSION"))
        assert len(found) >= 2 * len(model.ceilings(plan))
        for entity in found:
            border = borders[entity.get_xdata("IFCGRID")[0].value]
            length = float(entity.get_measurement()) * factor
            assert border.least - 0.1 <= length <= border.greatest + 0.1


def test_every_ceiling_has_its_borders_drawn_or_listed(model: Drawn) -> None:
    for plan in model.plans:
        told = " ".join(text.label.text.strip() for text in plan.sheet.furniture.texts)
        lines = [t for t in plan.sheet.drawing.things if isinstance(t, DimensionLine)]
        for ceiling in model.ceilings(plan):
            axes = {b.axis for b in ceiling.layout.borders} & {"u", "v"}
            number = ceiling.zone.rooms[0].number or ceiling.zone.rooms[0].name
            assert any(line.zone == ceiling.key for line in lines) or number in told or not axes


def test_every_room_has_a_tag_that_stands_in_it_or_leads_to_it(model: Drawn) -> None:
    for plan in model.plans:
        tags = {t.room: t for t in plan.sheet.drawing.things if isinstance(t, Tag)}
        for ceiling in model.ceilings(plan):
            for room in ceiling.zone.rooms:
                tag = tags[room.key]
                shape = room.outline if len(ceiling.zone.rooms) > 1 else ceiling.zone.outline
                spot = tag.leader[-1] if tag.leader else tag.lines[0][1].point
                assert shape.contains(shapely.Point(spot))
                assert tag.lines[0][1].text == (room.number or room.name)


def test_rooms_without_a_ceiling_are_dotted_and_tagged_where_they_lie(model: Drawn, files) -> None:
    numbers: set[str] = set()
    for plan, doc in zip(model.plans, files, strict=True):
        tags = [t for t in plan.sheet.drawing.things if isinstance(t, Tag) and not t.room]
        numbers |= {t.lines[0][1].text for t in tags}
        ceilings = shapely.union_all([c.zone.outline for c in model.ceilings(plan)])
        for hatch in doc.modelspace().query(f'HATCH[layer=="{layer(Part.NO_GRID)}"]'):
            ring = shapely.Polygon([(x, y) for x, y, *_ in hatch.paths[0].vertices])
            assert hatch.has_pattern_fill
            if plan.sheet.drawing.units == "mm":
                assert ring.intersection(ceilings).area < ring.area / 2
    skipped = {room.number: room.reason for room in model.done.skipped}
    assert numbers <= set(skipped)
    if "011" in skipped:  # the demo: a stair, a shaft, a lift, a cupboard, a roof terrace
        assert numbers == {"011", "026", "027", "028", "130"}
        assert all("same room" not in skipped[number] for number in numbers)


def test_no_text_of_a_sheet_meets_another_and_all_stand_on_the_page(model: Drawn) -> None:
    for plan in model.plans:
        page = plan.sheet.page
        labels = [text.label for text in page.texts]
        boxes = [label.box for label in labels]
        assert all(page.page.holds(box) for box in boxes)
        met = [
            (a.text, b.text)
            for (a, x), (b, y) in combinations(zip(labels, boxes, strict=True), 2)
            if x.meets(y)
        ]
        assert met == []


def test_no_tag_covers_a_device_or_another_tag(model: Drawn) -> None:
    for plan in model.plans:
        tags = [t for t in plan.sheet.drawing.things if isinstance(t, Tag)]
        masks = [shapely.box(*tag.mask) for tag in tags]
        for a, b in combinations(masks, 2):
            assert a.intersection(b).area == 0
        spots = [
            shapely.Point(t.point)
            for t in plan.sheet.drawing.things
            if getattr(t, "part", None) in (Part.LIGHT, Part.SPRINKLER, Part.DETECTOR, Part.AIR_TERMINAL)
        ]
        assert not any(mask.contains(spot) for mask in masks for spot in spots)


def test_pdf_and_svg_are_of_the_same_page(model: Drawn) -> None:
    for plan in model.plans:
        assert plan.data("pdf").startswith(b"%PDF")
        assert f'width="{plan.sheet.paper.width:g}mm"'.encode() in plan.data("svg")
