"""Random services against written ceilings, judged by the program and by a geometry kernel's solids.

python scripts/clash_trials.py [--scenes 200] [--first 0]

A scene is a turned room with a slab over it, its ceiling written into the model and read
back, three lights, and services and beams of every shape: level, tilted and rolled, round,
hollow, flanged, bent, mapped with a scale, and wedges. The kernel tells with circles of 256
pieces what meets the build-up, the clear zone over the panels, the room over the lights,
and each hanger. What it finds in bodies made 1 mm smaller must be found; what it does not
find in bodies made 1 mm larger must not. Nothing within that 1 mm is judged, nor whether a
tray over a light feeds it.
"""

from __future__ import annotations

import argparse
import math
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import shapely
from demo_building.geometry import rect
from demo_building.shapes import brep, cylinder, extrusion, lying, pipe_shell
from demo_building.site import Building, start_building
from demo_building.writer import Model

import ifcgrid
from ifcgrid.checks.clash import find_clashes
from ifcgrid.checks.fixture import FED_BY
from ifcgrid.checks.limits import read_limits
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import STRUCTURE, Kind, Obstacle
from ifcgrid.ifc.project import model_from_file
from ifcgrid.ifc.reading.obstacles import read_obstacles
from ifcgrid.pipeline.written import read_back

__all__ = ["main", "try_scene"]

SLACK = 1.0
SERVICES = 10
CLEAR_RULES = frozenset({"panel-tilt-in", "fixture-depth"})
LEVELS = {"storey": ("Storey", 0.0)}


def _angle(rng: np.random.Generator, most: float) -> float:
    return math.radians(float(rng.uniform(-most, most)))


def _save(model: Model, folder: Path) -> Any:
    return ifcopenshell.open(str(model.save(folder)))


def _room_model(rng: np.random.Generator) -> tuple[Model, np.ndarray]:
    """A turned room with a slab 900 over its ceiling at 2700; and its corner and turn."""
    model = Model("trial-room", "IFC4", 1, "Trial")
    building = start_building(model, "Trial", LEVELS)
    length, width = (round(float(rng.uniform(*r)), 1) for r in ((3000, 7000), (2500, 5500)))
    turn = math.radians(float(rng.uniform(0, 90)))
    x, y = rng.uniform(-2e4, 2e4, 2).round(1).tolist()
    along = (math.cos(turn), math.sin(turn), 0.0)
    placement = model.placement(building.places["storey", "main"], (x, y, 0), along)
    shape = model.shape([extrusion(model, rect(0, 0, length, width), 0, 2700)])
    space = model.root(
        "IfcSpace",
        "room",
        "1",
        LongName="Room",
        ObjectPlacement=placement,
        Representation=shape,
        CompositionType="ELEMENT",
    )
    model.aggregate(building.storeys["storey"], space)
    slab = model.shape([extrusion(model, rect(-9000, -9000, 16000, 15000), 3600, 3800)])
    building.add("IfcSlab", "slab", "Slab", "storey", placement, slab, PredefinedType="FLOOR")
    return model, np.array([x, y, turn, length, width])


def _axes(rng: np.random.Generator, model: Model, origin: Sequence[float], tilt: float, roll: float) -> Any:
    """Axes whose X runs anywhere in plan, tilted, and rolled about it."""
    yaw, pitch, turn = _angle(rng, 180), _angle(rng, tilt), _angle(rng, roll)
    x = np.array([math.cos(yaw) * math.cos(pitch), math.sin(yaw) * math.cos(pitch), math.sin(pitch)])
    side = np.cross([0.0, 0.0, 1.0], x)
    side /= np.linalg.norm(side)
    z = np.cross(x, side) * math.cos(turn) + side * math.sin(turn)
    return model.axes(origin, tuple(z.tolist()), tuple(x.tolist()))


def _profile_run(model: Model, profile: Any, length: float) -> Any:
    axes = model.axes((0, 0, 0), (1, 0, 0), (0, 1, 0))
    return model.make("IfcExtrudedAreaSolid", profile, axes, model.direction(0, 0, 1), length)


def _flat(model: Model) -> Any:
    return model.make("IfcAxis2Placement2D", model.point(0, 0), model.direction(1, 0))


def _beam(model: Model, depth: float, length: float) -> Any:
    flat = _flat(model)
    section = model.make("IfcIShapeProfileDef", "AREA", None, flat, depth * 0.6, depth, 8.0, 14.0)
    return _profile_run(model, section, length)


def _tray(model: Model, width: float, length: float) -> Any:
    section = model.make("IfcUShapeProfileDef", "AREA", None, _flat(model), 60.0, width, 3.0, 3.0)
    return _profile_run(model, section, length)


def _bend(rng: np.random.Generator, model: Model, radius: float) -> Any:
    points = np.cumsum(rng.uniform((300, -500, -120), (900, 500, 120), (4, 3)), axis=0).round(1)
    line = model.make("IfcPolyline", [model.point(*p) for p in points.tolist()])
    return model.make("IfcSweptDiskSolid", line, radius)


def _mapped(rng: np.random.Generator, model: Model, solid: Any) -> Any:
    """The solid as a map that is scaled."""
    body = model.make("IfcShapeRepresentation", model.body, "Body", "SweptSolid", [solid])
    source = model.make("IfcRepresentationMap", model.axes((10, -20, 5)), body)
    scale = round(float(rng.uniform(0.7, 1.3)), 3)
    target = model.make("IfcCartesianTransformationOperator3D", None, None, model.point(30, 0, 0), scale)
    return model.make("IfcMappedItem", source, target)


def _service(rng: np.random.Generator, model: Model, kind: int) -> tuple[str, Any, str, float, float]:
    """Class, solid, representation type, and how much the body may be tilted and rolled, in degrees."""
    length, size = float(rng.uniform(500, 5000)), float(rng.uniform(40, 450))
    other = float(rng.uniform(40, 350))
    kinds: dict[int, Any] = {
        0: lambda: ("IfcDuctSegment", lying(model, (size, other), length), "SweptSolid", 0.0, 0.0),
        1: lambda: ("IfcPipeSegment", lying(model, size, length), "SweptSolid", 0.0, 0.0),
        2: lambda: ("IfcDuctSegment", lying(model, size, length), "SweptSolid", 25.0, 180.0),
        3: lambda: ("IfcDuctSegment", lying(model, (size, other), length), "SweptSolid", 15.0, 180.0),
        4: lambda: ("IfcPipeSegment", pipe_shell(model, size, size / 4, length), "SweptSolid", 80.0, 0.0),
        5: lambda: ("IfcBeam", _beam(model, size + 60, length), "SweptSolid", 4.0, 0.0),
        6: lambda: ("IfcCableCarrierSegment", _tray(model, size, length), "SweptSolid", 10.0, 180.0),
        7: lambda: ("IfcPipeSegment", _bend(rng, model, size / 6), "AdvancedSweptSolid", 10.0, 0.0),
        8: lambda: (
            "IfcDuctSegment",
            _mapped(rng, model, lying(model, (size, other), length)),
            "MappedRepresentation",
            20.0,
            90.0,
        ),
        9: lambda: (
            "IfcUnitaryEquipment",
            brep(model, ((0, 0), (length / 3, 0), (0, size * 2)), lambda _: 0.0, lambda p: 80 + p[0] / 5),
            "Brep",
            30.0,
            180.0,
        ),
    }
    made: tuple[str, Any, str, float, float] = kinds[kind]()
    return made


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """A ceiling read back from a model, and the file with everything else and its obstacles."""

    ceiling: Ceiling
    slab: Obstacle
    building: Building
    file: Any
    lights: tuple[Obstacle, ...]
    bodies: tuple[Obstacle, ...]


def _make_scene(seed: int, folder: Path) -> Scene:
    rng = np.random.default_rng(seed)
    model, (x, y, turn, length, width) = _room_model(rng)
    rooms = _save(model, folder)
    done = ifcgrid.build(rooms)
    ifcgrid.write_ceilings(rooms, done.ceilings, done.findings)
    back = read_back(model_from_file(rooms))
    (ceiling,) = back.ceilings
    (slab,) = (o for o in back.intake.obstacles if o.kind is Kind.SLAB)
    services = Model("trial-services", "IFC4", 1, "Trial")
    building = start_building(services, "Trial", LEVELS)
    _add_lights(rng, building, ceiling)
    for number in range(SERVICES):
        entity, solid, how, tilt, roll = _service(rng, services, number % 10)
        u, v = rng.uniform(-500, length + 500), rng.uniform(-500, width + 500)
        spot = (x + u * math.cos(turn) - v * math.sin(turn), y + u * math.sin(turn) + v * math.cos(turn))
        origin = (*spot, float(rng.uniform(2600, 3300)))
        axes = _axes(rng, services, origin, tilt, roll)
        placement = services.make("IfcLocalPlacement", None, axes)
        shape = services.shape([solid], how)
        building.add(entity, f"body {number}", f"Body {number}", "storey", placement, shape)
    file = _save(services, folder)
    found = read_obstacles(model_from_file(file))
    return Scene(
        ceiling=ceiling,
        slab=slab,
        building=building,
        file=file,
        lights=tuple(o for o in found if o.kind is Kind.LIGHT),
        bodies=tuple(o for o in found if o.kind is not Kind.LIGHT),
    )


def _add_lights(rng: np.random.Generator, building: Building, ceiling: Ceiling) -> None:
    """Three lights in the middle of full panels: two that are laid in, one round."""
    panels, frame, model = ceiling.panels, ceiling.layout.frame, building.model
    full = np.flatnonzero(panels.is_full)
    turn = math.radians(frame.angle_deg)
    for number, panel in enumerate(rng.choice(full, min(3, len(full)), replace=False).tolist()):
        middle = (panels.bounds[panel, :2] + panels.bounds[panel, 2:]) / 2
        spot = frame.to_world([middle])[0].tolist()
        plate = rect(-297.5, -297.5, 297.5, 297.5)
        solid = cylinder(model, 75, -3, 110) if number == 2 else extrusion(model, plate, 0, 80)
        along = (math.cos(turn), math.sin(turn), 0.0)
        placement = model.placement(None, (*spot, ceiling.zone.level), along)
        shape = model.shape([solid])
        building.add("IfcLightFixture", f"light {number}", f"Light {number}", "storey", placement, shape)


class _Referee:
    """What the kernel says of bodies and of probes put into the same file."""

    def __init__(self, scene: Scene) -> None:
        self._scene, self._model = scene, _Scratch(scene.file)
        self._probes: dict[tuple[str, str], Any] = {}

    def probe(self, name: str, outline: shapely.Geometry, low: float, high: float) -> None:
        """An upright prism to be asked about, 1 mm smaller and 1 mm larger."""
        for word, grow in (("small", -SLACK), ("large", SLACK)):
            shape = shapely.buffer(outline, grow, join_style="mitre")
            self._probes[name, word] = self._model.prism(shape, low - grow, high + grow)

    def wire(self, name: str, point: np.ndarray, radius: float, low: float, high: float) -> None:
        """An upright wire likewise."""
        for word, grow in (("small", -SLACK), ("large", SLACK)):
            self._probes[name, word] = self._model.rod(point, radius + grow, low - grow, high + grow)

    def answers(self) -> dict[tuple[str, str], set[str]]:
        """Keys of the bodies that meet each probe, by its name and `small` or `large`."""
        settings = ifcopenshell.geom.settings()
        settings.set("circle-segments", 256)
        bodies = [self._scene.file.by_guid(o.key) for o in self._scene.bodies]
        probes = list(self._probes.values())
        tree = ifcopenshell.geom.tree(backend="opencascade.trianglebvh")
        corners: dict[str, np.ndarray] = {}
        for shape in _shapes(settings, self._scene.file, bodies + probes):
            tree.add_element(shape)
            matrix = np.array(shape.transformation.matrix).reshape(4, 4).T
            local = np.array(shape.geometry.verts).reshape(-1, 3)
            corners[shape.guid] = (local @ matrix[:3, :3].T + matrix[:3, 3]) * 1000
        names = {probe.GlobalId: name for name, probe in self._probes.items()}
        met: dict[tuple[str, str], set[str]] = {name: set() for name in self._probes}
        for clash in tree.clash_collision_many(probes, bodies, allow_touching=False):
            met[names[clash.a.get_argument(0)]].add(clash.b.get_argument(0))
        # A body that lies wholly in a probe meets none of its faces.
        for name, (outline, low, high) in self._model.prisms.items():
            for body in self._scene.bodies:
                p = corners[body.key]
                inside = shapely.contains_xy(outline, p[:, 0], p[:, 1]) & (p[:, 2] > low) & (p[:, 2] < high)
                if inside.any():
                    met[names[name]].add(body.key)
        return met


class _Scratch:
    """Adds probes to an open file."""

    def __init__(self, file: Any) -> None:
        self._file, self._context = file, file.by_type("IfcGeometricRepresentationSubContext")[0]
        self.prisms: dict[str, tuple[shapely.Polygon, float, float]] = {}

    def prism(self, outline: shapely.Polygon, low: float, high: float) -> Any:
        file = self._file
        points = [file.create_entity("IfcCartesianPoint", p) for p in outline.exterior.coords]
        line = file.create_entity("IfcPolyline", points)
        probe = self._proxy(file.create_entity("IfcArbitraryClosedProfileDef", "AREA", None, line), low, high)
        self.prisms[probe.GlobalId] = (outline, low, high)
        return probe

    def rod(self, point: np.ndarray, radius: float, low: float, high: float) -> Any:
        file = self._file
        middle = file.create_entity("IfcCartesianPoint", tuple(point.tolist()))
        flat = file.create_entity("IfcAxis2Placement2D", middle)
        return self._proxy(file.create_entity("IfcCircleProfileDef", "AREA", None, flat, radius), low, high)

    def _proxy(self, area: Any, low: float, high: float) -> Any:
        file = self._file
        up = file.create_entity("IfcDirection", (0.0, 0.0, 1.0))
        foot = file.create_entity("IfcCartesianPoint", (0.0, 0.0, low))
        place = file.create_entity("IfcAxis2Placement3D", foot)
        solid = file.create_entity("IfcExtrudedAreaSolid", area, place, up, high - low)
        body = file.create_entity("IfcShapeRepresentation", self._context, "Body", "SweptSolid", [solid])
        shape = file.create_entity("IfcProductDefinitionShape", None, None, [body])
        origin = file.create_entity("IfcCartesianPoint", (0.0, 0.0, 0.0))
        axes = file.create_entity("IfcAxis2Placement3D", origin)
        return file.create_entity(
            "IfcBuildingElementProxy",
            GlobalId=ifcopenshell.guid.new(),
            ObjectPlacement=file.create_entity("IfcLocalPlacement", None, axes),
            Representation=shape,
        )


def _shapes(settings: Any, file: Any, elements: Sequence[Any]) -> Iterator[Any]:
    iterator = ifcopenshell.geom.iterator(settings, file, 1, include=list(elements))
    if iterator.initialize():
        yield iterator.get()
        while iterator.next():
            yield iterator.get()


def _ask(scene: Scene) -> dict[tuple[str, str], set[str]]:
    ceiling, limits = scene.ceiling, read_limits()
    low, high = ceiling.zone.level, ceiling.zone.level + ceiling.system.main.height
    referee = _Referee(scene)
    referee.probe("build-up", ceiling.zone.outline, low, high)
    referee.probe("clear", ceiling.zone.outline, high, low + limits["panel-tilt-in"].value)
    for light in scene.lights:
        need = light.top + limits["fixture-clearance"].value
        if light.top - low < 100:
            need = max(need, low + limits["fixture-depth"].value)
        referee.probe(light.key, light.outline.convex_hull, high, need)
    hangers = ceiling.hangers
    points = ceiling.layout.frame.to_world(hangers.point)
    radius = ceiling.system.hanger_diameter / 2
    for key, point, bottom, top in zip(
        hangers.keys(), points, hangers.bottom.tolist(), hangers.top.tolist(), strict=True
    ):
        referee.wire(f"{ceiling.key}/{key}", point, radius, bottom, top)
    return referee.answers()


def try_scene(seed: int) -> tuple[list[str], dict[str, int]]:
    """Complaints of the kernel about one scene, and how many clashes of each kind it had."""
    with tempfile.TemporaryDirectory() as folder:
        scene = _make_scene(seed, Path(folder))
    truth = _ask(scene)
    complaints: list[str] = []
    counts = {"in the build-up": 0, "in the clear zone": 0, "through hangers": 0, "of none": 0}
    for body in scene.bodies:
        found = find_clashes(scene.ceiling, [scene.slab, *scene.lights, body])
        named = [f for f in found if body.key in f.subjects]
        rules = {f.rule for f in named}
        told = _told(scene, body, rules, {s for f in named for s in f.subjects}, truth)
        complaints += [f"scene {seed}: {body.name} ({body.kind}): {words}" for words in told]
        in_build_up = any(rule.endswith("-in-ceiling") for rule in rules)
        counts["in the build-up"] += in_build_up
        counts["in the clear zone"] += bool(rules & CLEAR_RULES)
        counts["through hangers"] += any("/hanger/" in s for f in named for s in f.subjects)
        counts["of none"] += not rules
    return complaints, counts


def _told(
    scene: Scene,
    body: Obstacle,
    rules: set[str],
    subjects: set[str],
    truth: dict[tuple[str, str], set[str]],
) -> Iterator[str]:
    def meets(name: str, word: str) -> bool:
        return body.key in truth[name, word]

    in_build_up = any(rule.endswith("-in-ceiling") for rule in rules)
    if meets("build-up", "small") and not in_build_up:
        yield "missed in the build-up"
    if in_build_up and not meets("build-up", "large"):
        yield "invented in the build-up"
    zones = ["clear", *(light.key for light in scene.lights)]
    reach = read_limits()["connection"].value
    may_feed = any(
        body.kind in FED_BY[light.kind] and shapely.dwithin(light.outline, body.outline, reach)
        for light in scene.lights
    )
    if (
        not may_feed
        and any(meets(zone, "small") for zone in zones)
        and not (in_build_up or rules & CLEAR_RULES)
    ):
        yield "missed over panels or lights"
    if rules & CLEAR_RULES and not any(meets(zone, "large") for zone in zones):
        yield "invented over panels or lights"
    is_upper = body.top > scene.ceiling.zone.level + scene.ceiling.system.main.height + SLACK
    told_hangers = {s for s in subjects if "/hanger/" in s}
    clear_only = body.kind in STRUCTURE and "hanger-through-structure" not in rules and not in_build_up
    names = scene.ceiling.hangers.keys()
    for hanger in (f"{scene.ceiling.key}/{name}" for name in names):
        if is_upper and meets(hanger, "small") and hanger not in told_hangers and not clear_only:
            yield f"missed at {hanger}"
        if hanger in told_hangers and not meets(hanger, "large"):
            yield f"invented at {hanger}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Tries scenes; 1 when the kernel has anything to complain of."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--scenes", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    given = parser.parse_args(arguments)
    complaints: list[str] = []
    totals: dict[str, int] = {}
    for seed in range(given.first, given.first + given.scenes):
        told, counts = try_scene(seed)
        complaints += told
        totals = {word: totals.get(word, 0) + count for word, count in counts.items()}
    print("\n".join(complaints))
    words = ", ".join(f"{count} {word}" for word, count in totals.items())
    print(f"{given.scenes} scenes, {given.scenes * SERVICES} bodies: {words}; {len(complaints)} complaints")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())
