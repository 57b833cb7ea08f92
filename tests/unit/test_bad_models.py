"""Models that are damaged or strange: one clear line, or a reason for the one room, never half a file."""

from __future__ import annotations

import json
import math
import warnings

import ifcopenshell
import pytest
from handmade_spaces import SpaceModel

from ifcgrid.cli import main
from ifcgrid.design.layout import solve_requests


def rectangle(x0, y0, x1, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def a_model(*, has_room=True):
    """A sound room of 5.0 x 4.2 m in a storey."""
    model = SpaceModel()
    storey = model.storey("Level 1", 0.0)
    if has_room:
        model.solid_room(rectangle(0, 0, 5000, 4200), storey=storey, name="sound")
    return model, storey


def build(model, tmp_path, capsys, *, spoil=("", "")):
    """Exit code, message and record of a build; and nothing but the input may be left by a refusal."""
    source, target = tmp_path / "in.ifc", tmp_path / "out.ifc"
    model.file.write(str(source))
    if spoil[0]:
        source.write_text(source.read_text().replace(*spoil))
    sheets, told = str(tmp_path / "sheets"), tmp_path / "told.json"
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        code = main(["build", str(source), "-o", str(target), "--sheets", sheets, "--json", str(told)])
    error = capsys.readouterr().err
    if code == 2:
        assert error.count("\n") == 1
        assert [p.name for p in tmp_path.iterdir()] == ["in.ifc"]
        return code, error, None
    assert error == ""
    return code, error, json.loads(told.read_text(encoding="utf-8"))


def two_projects(model, _):
    other = model.root("IfcProject", Name="Q")
    other.UnitsInContext = model.project.UnitsInContext


def no_unit(model, _):
    model.project.UnitsInContext = None


def no_context(model, _):
    plan = model.file.createIfcGeometricRepresentationContext(None, "Plan", 2, 1e-5, model.origin(), None)
    model.project.RepresentationContexts = [plan]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (two_projects, "holds 2 IfcProject; a building model has one"),
        (no_unit, "names no length unit"),
        (no_context, "has no 3D geometric context"),
    ],
)
def test_a_model_that_cannot_be_used_is_refused_in_one_line(tmp_path, capsys, spoil, words):
    model, storey = a_model()
    spoil(model, storey)
    code, error, _ = build(model, tmp_path, capsys)
    assert code == 2
    assert words in error


def test_a_model_without_rooms_is_refused_and_told_what_it_lacks(tmp_path, capsys):
    model, _ = a_model(has_room=False)
    code, error, _ = build(model, tmp_path, capsys)
    assert code == 2
    assert "holds no IfcSpace" in error
    assert main(["spaces", str(tmp_path / "in.ifc")]) == 2


@pytest.mark.parametrize(
    "content",
    [
        "",
        "ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;\n",
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
        "FILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n",
        "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n#1=IFCPROJECT(;\nENDSEC;\nEND-ISO-10303-21;",
    ],
)
def test_a_file_with_nothing_in_it_is_refused_in_one_line(tmp_path, capsys, content):
    source = tmp_path / "in.ifc"
    source.write_text(content)
    assert main(["build", str(source), "-o", str(tmp_path / "out.ifc")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert [p.name for p in tmp_path.iterdir()] == ["in.ifc"]


def crossing(model, storey):
    model.solid_room([(9000, 0), (14000, 5000), (14000, 0), (9000, 5000)], storey=storey, name="odd")


def without_body(model, storey):
    model.room(storey=storey, name="odd")


def of_no_height(model, storey):
    model.solid_room(rectangle(9000, 0, 14000, 4000), height=1e-9, storey=storey, name="odd")


def for_creeping(model, storey):
    model.solid_room(rectangle(9000, 0, 14000, 4000), height=400.0, storey=storey, name="odd")


def beyond_the_earth(model, storey):
    model.solid_room([(9000, 0), (1e300, 0), (9000, 5000)], storey=storey, name="odd")


def of_kilometres(model, storey):
    model.solid_room(rectangle(9000, 0, 2_009_000, 1_000_000), storey=storey, name="odd")


def of_the_same_id(model, storey):
    room = model.solid_room(rectangle(9000, 0, 14000, 4000), storey=storey, name="odd")
    room.GlobalId = min(s.GlobalId for s in model.file.by_type("IfcSpace"))


def of_no_id(model, storey):
    model.solid_room(rectangle(9000, 0, 14000, 4000), storey=storey, name="odd").GlobalId = "an id"


@pytest.mark.parametrize(
    ("add", "words"),
    [
        (crossing, "crosses itself at (11500, 2500) mm"),
        (without_body, "has no shape"),
        (of_no_height, "no usable body"),
        (for_creeping, "400 mm above its floor (body), less than 1500 mm"),
        (beyond_the_earth, "reaches to 1e+300 mm"),
        (of_kilometres, "would take 5,555,556 panels"),
        (of_the_same_id, "occurs twice"),
        (of_no_id, "its GlobalId is 'an id'"),
    ],
)
def test_a_room_that_cannot_be_used_fails_alone_with_its_reason(tmp_path, capsys, add, words):
    model, storey = a_model()
    add(model, storey)
    code, _, record = build(model, tmp_path, capsys)
    assert code == 0
    rooms = {room["number"]: room for room in record["rooms"]}
    assert rooms["sound"]["status"] == "laid-out"
    assert rooms["odd"]["status"] == "failed"
    assert words in rooms["odd"]["reason"]


@pytest.mark.parametrize("word", ["NaN", "INF", "-nan(ind)", "1.#QNAN"])
def test_coordinates_that_are_no_numbers_are_told_and_not_dropped(tmp_path, capsys, word):
    model, storey = a_model()
    model.solid_room([(9000, 0), (12345, 0), (9000, 5000)], storey=storey, name="odd")
    code, error, _ = build(model, tmp_path, capsys, spoil=("12345.", word))
    assert code == 2
    assert "cannot be read" in error or "no readable" in error


def test_a_wall_under_the_same_id_is_not_taken_for_the_room(tmp_path, capsys):
    model, storey = a_model()
    (space,) = model.file.by_type("IfcSpace")
    wall = model.element("IfcWall", storey, model.body(rectangle(0, 4200, 5000, 4300), 0.0, 3000.0))
    wall.GlobalId = space.GlobalId
    build(model, tmp_path, capsys)
    made = ifcopenshell.open(tmp_path / "out.ifc")
    covering = made.by_type("IfcCovering")[0]
    assert covering.ContainedInStructure[0].RelatingStructure.is_a("IfcSpace")


def test_a_room_that_breaks_the_solver_fails_alone(tmp_path, capsys, monkeypatch):
    model, storey = a_model()
    model.solid_room(rectangle(9000, 0, 13000, 4000), storey=storey, name="odd")
    odd = max(model.file.by_type("IfcSpace"), key=lambda s: s.id()).GlobalId

    def solve(requests, system, policy):
        if any(request.key == odd for request in requests):
            raise MemoryError("Unable to allocate 142 GiB")
        return solve_requests(requests, system, policy)

    monkeypatch.setattr("ifcgrid.pipeline.ahead.solve_requests", solve)
    monkeypatch.setattr("ifcgrid.design.layout.solver.solve_requests", solve)
    _, _, record = build(model, tmp_path, capsys)
    rooms = {room["number"]: room for room in record["rooms"]}
    assert rooms["sound"]["status"] == "laid-out"
    assert (
        rooms["odd"]["reason"] == "no ceiling could be worked out (MemoryError: Unable to allocate 142 GiB)"
    )


def circle(count):
    turns = (2 * math.pi * k / count for k in range(count))
    return [(20_000 + 4000 * math.cos(t), 4000 * math.sin(t)) for t in turns]


def ring(model):
    return model.profile(rectangle(9000, 0, 19000, 10000), [rectangle(10000, 1000, 18000, 9000)])


SPIKE = [(9000, 0), (14000, 0), (14000, 4000), (11000, 4000), (11000, 9000), (11000, 4000), (9000, 4000)]


@pytest.mark.parametrize(
    ("outline", "area"),
    [
        (ring, 36.0),
        (lambda m: m.profile(circle(200)), 200 * 8.0 * math.sin(math.pi / 100)),
        (lambda m: m.profile(SPIKE), 20.0),
    ],
    ids=["a ring", "a circle", "a spike"],
)
def test_odd_outlines_get_a_ceiling(tmp_path, capsys, outline, area):
    model, storey = a_model()
    body = model.representation([model.prism(outline(model))])
    model.room(body, storey=storey, name="odd")
    _, _, record = build(model, tmp_path, capsys)
    (room,) = [r for r in record["rooms"] if r["number"] == "odd"]
    assert room["status"] == "laid-out"
    assert room["area_m2"] == pytest.approx(area, rel=1e-6)


@pytest.mark.parametrize("far", [1e8, 5e9])  # 100 km, and a national grid in millimetres
@pytest.mark.parametrize("turn", [0.0, 33.3])
def test_a_building_far_from_the_origin_gets_the_same_ceiling(tmp_path, capsys, far, turn):
    near, _ = a_model()
    (tmp_path / "near").mkdir()
    _, _, here = build(near, tmp_path / "near", capsys)
    model, storey = a_model(has_room=False)
    storey.ObjectPlacement = model.place(far, 1.3 * far, 0.0, turn)
    place = model.place(inside=storey.ObjectPlacement)
    model.solid_room(rectangle(0, 0, 5000, 4200), storey=storey, name="sound", placement=place)
    (tmp_path / "far").mkdir()
    _, _, there = build(model, tmp_path / "far", capsys)
    for entry in ("panels", "members", "hangers", "meets_minimum"):
        assert there["rooms"][0][entry] == here["rooms"][0][entry]
    one, other = (told["rooms"][0]["borders_mm"] for told in (here, there))
    for axis in ("along", "across"):
        assert one[axis] == pytest.approx(other[axis], abs=0.01)


def test_a_model_without_storeys_gets_its_ceilings(tmp_path, capsys):
    model = SpaceModel()
    model.solid_room(rectangle(0, 0, 5000, 4200), name="sound")
    _, _, record = build(model, tmp_path, capsys)
    assert [(r["status"], r["storey"]) for r in record["rooms"]] == [("laid-out", "")]


def test_names_of_any_length_and_letters_make_files_that_every_system_takes(tmp_path, capsys):
    model, storey = a_model()
    names = ("x" * 500, "../up", 'a/b\\c:*?"<>|', "a1", "A1", "..", "con.")
    for k, name in enumerate(names):
        room = rectangle(0, 9000 * k + 9000, 3000, 9000 * k + 11000)
        model.solid_room(room, storey=storey, name=name, long_name="y" * 3000)
    build(model, tmp_path, capsys)
    # Further pages and PDFs bear the same names; how many there are depends on what is installed.
    sheets = [p.name for p in (tmp_path / "sheets").rglob("*.svg")]
    made = [name for name in sheets if "-page-" not in name]
    assert len({name.casefold() for name in made}) == len(made) == len(names) + 2
    assert max(map(len, made)) < 100
    assert all(set('/\\:*?"<>|').isdisjoint(name) and not name.startswith(".") for name in made)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in.ifc", "out.ifc", "sheets", "told.json"]
