"""Judges 2,000 fixtures in a ceiling of 5,000 members, and puts all pairs to the geometry kernel.

python scripts/bench.py clash [--repeats 5]

One room's ceiling is written into a model and read back; lights, diffusers, downlights,
domes and heads of true shapes are read from a second one, one in ten of them off its cell.
What is timed is the whole judging of devices and members, exact step included, and for the
same bodies the kernel's tree with all its pairs. Times are those of this machine and this
run; only ratios within one run mean anything.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import ifcopenshell
import ifcopenshell.geom
import numpy as np
from demo_building.devices import Devices
from demo_building.geometry import rect
from demo_building.shapes import extrusion
from demo_building.site import start_building
from demo_building.writer import Model
from shapely.affinity import rotate

import ifcgrid
from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.ifc.project import model_from_file
from ifcgrid.ifc.reading.obstacles import read_obstacles
from ifcgrid.pipeline.written import read_back

__all__ = ["main", "make_case"]

LEVELS = {"storey": ("Storey", 0.0)}
ROOM = (600.0 * 61, 600.0 * 82)
FIXTURES = 2000
KINDS = ("light", "light", "diffuser", "light", "downlight", "light", "sprinkler", "diffuser", "detector")

Answer = TypeVar("Answer")


def _open(model: Model, folder: Path) -> Any:
    return ifcopenshell.open(str(model.save(folder)))


def make_case() -> tuple[Ceiling, Any, Any, tuple[Obstacle, ...]]:
    """A ceiling read back, the model it stands in, the fixtures' model, and the fixtures."""
    with tempfile.TemporaryDirectory() as folder:
        model = Model("bench-room", "IFC4", 1, "Bench")
        building = start_building(model, "Bench", LEVELS)
        place = building.places["storey", "main"]
        shape = model.shape([extrusion(model, rect(0, 0, *ROOM), 0, 2700)])
        space = model.root(
            "IfcSpace",
            "room",
            "1",
            LongName="Room",
            ObjectPlacement=place,
            Representation=shape,
            CompositionType="ELEMENT",
        )
        model.aggregate(building.storeys["storey"], space)
        slab = model.shape([extrusion(model, rect(-500, -500, ROOM[0] + 500, ROOM[1] + 500), 3600, 3800)])
        building.add("IfcSlab", "slab", "Slab", "storey", place, slab, PredefinedType="FLOOR")
        rooms = _open(model, Path(folder))
        done = ifcgrid.build(rooms)
        ifcgrid.write_ceilings(rooms, done.ceilings, done.findings)
        (ceiling,) = read_back(model_from_file(rooms)).ceilings
        services = _open(_fixtures(ceiling), Path(folder))
    return ceiling, rooms, services, read_obstacles(model_from_file(services))


def _fixtures(ceiling: Ceiling) -> Model:
    rng = np.random.default_rng(1)
    model = Model("bench-services", "IFC4", 1, "Bench")
    building = start_building(model, "Bench", LEVELS)
    devices = Devices(model)
    panels = ceiling.panels
    full = rng.permutation(np.flatnonzero(panels.is_full))[:FIXTURES]
    middle = (panels.bounds[full, :2] + panels.bounds[full, 2:]) / 2
    off = rng.uniform(-250, 250, middle.shape) * (rng.random(len(full)) < 0.1)[:, None]
    places = ceiling.layout.frame.to_world(middle + off)
    for number, (x, y) in enumerate(places.tolist()):
        placement = model.placement(None, (round(x, 3), round(y, 3), ceiling.zone.level))
        kind = KINDS[number % len(KINDS)]
        devices.place(kind, f"{kind} {number}", placement, building.storeys["storey"])
    return model


def _each_its_own(obstacles: Sequence[Obstacle]) -> list[Obstacle]:
    """The fixtures, each turned by an angle of its own, so that no two have one shape."""
    turned = []
    for number, fixture in enumerate(obstacles):
        middle, angle = fixture.outline.centroid, 0.001 * (number + 1)
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        assert fixture.mesh is not None
        mesh, at = fixture.mesh.copy(), np.array([middle.x, middle.y])
        mesh[:, :, :2] = (mesh[:, :, :2] - at) @ np.array([[c, s], [-s, c]]) + at
        turned.append(replace(fixture, mesh=mesh, outline=rotate(fixture.outline, angle, middle)))
    return turned


def _best(run: Callable[[], Answer], repeats: int) -> tuple[float, Answer]:
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        answer = run()
        times.append(time.perf_counter() - begin)
    return min(times), answer


def _add(tree: Any, settings: Any, file: Any, elements: Sequence[Any]) -> None:
    iterator = ifcopenshell.geom.iterator(settings, file, 1, include=list(elements))
    if iterator.initialize():
        tree.add_element(iterator.get())
        while iterator.next():
            tree.add_element(iterator.get())


def main(arguments: Sequence[str] | None = None) -> int:
    """Prints both times and their ratio; 1 when judging takes longer than half a second."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--repeats", type=int, default=5)
    given = parser.parse_args(arguments)
    ceiling, rooms, services, obstacles = make_case()
    took, findings = _best(lambda: find_clashes(ceiling, obstacles), given.repeats)

    own = _each_its_own(obstacles)
    alone, _ = _best(lambda: find_clashes(ceiling, own), 1)

    settings = ifcopenshell.geom.settings()
    members = rooms.by_type("IfcMember")
    fixtures = [services.by_guid(o.key) for o in obstacles]

    def build_tree() -> Any:
        tree = ifcopenshell.geom.tree(backend="opencascade.trianglebvh")
        _add(tree, settings, rooms, members)
        _add(tree, settings, services, fixtures)
        return tree

    building, tree = _best(build_tree, 1)
    asking, pairs = _best(
        lambda: tree.clash_collision_many(members, fixtures, allow_touching=False), min(given.repeats, 3)
    )
    print(f"{len(ceiling.members)} members, {len(obstacles)} fixtures, one core")
    print(f"  judged, exact step included      {took:8.3f} s   {len(findings)} findings")
    print(f"  the same, no two of one shape    {alone:8.3f} s")
    print(f"  kernel: bodies and tree          {building:8.3f} s")
    print(f"  kernel: all pairs                {asking:8.3f} s   {len(pairs)} pairs of bodies that meet")
    print(f"  ratio of the kernel, in all      {(building + asking) / took:8.1f}")
    return 1 if took > 0.5 else 0


if __name__ == "__main__":
    sys.exit(main())
