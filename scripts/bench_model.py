"""A synthetic model for the build benchmark: storeys of fifty offices, a slab over each, and furniture.

Rooms are rectangles of random sizes (the seed is fixed) that say how high their ceiling
hangs. Furniture has no shape but five properties a piece: it stands for the bulk that a
real model carries, which has to be opened and copied but is no concern of a ceiling.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import ifcopenshell.guid

__all__ = ["write_bench_model"]

_NAMESPACE = uuid.UUID("0d6c7f0c-3c58-5a0e-8f5c-6f3f6f6b7d11")
_A_STOREY, _A_ROW = 50, 10
_PITCH = (9000, 8000)
_HEADER = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION(('ViewDefinition [ReferenceView_V1.2]'),'2;1');
FILE_NAME('bench.ifc','2024-01-01T00:00:00',('Bench'),('Bench'),'bench','Bench - Bench - 1.0','none');
FILE_SCHEMA(('IFC4'));
ENDSEC;
DATA;
"""


def write_bench_model(path: Path, rooms: int, furniture: int) -> None:
    """Writes a model of so many rooms, each with so many pieces of furniture."""
    with path.open("w", encoding="ascii") as stream:
        stream.write(_HEADER)
        stream.writelines(_Bench().lines(rooms, furniture))
        stream.write("ENDSEC;\nEND-ISO-10303-21;\n")


def _guid(key: str) -> str:
    return str(ifcopenshell.guid.compress(uuid.uuid5(_NAMESPACE, key).hex))


def _refs(ids: list[int]) -> str:
    return ",".join(f"#{i}" for i in ids)


class _Bench:
    def __init__(self) -> None:
        self._ids = count(1)
        self._out: list[str] = []
        self._random = random.Random(1)

    def add(self, text: str) -> int:
        number = next(self._ids)
        self._out.append(f"#{number}={text};\n")
        return number

    def relate(self, key: str, whole: int, parts: list[int]) -> None:
        self.add(f"IFCRELAGGREGATES('{_guid(key)}',$,$,$,#{whole},({_refs(parts)}))")

    def lines(self, rooms: int, furniture: int) -> Iterator[str]:
        self._frame()
        storeys = []
        for level, first in enumerate(range(0, rooms, _A_STOREY)):
            storeys.append(self._storey(level, range(first, min(first + _A_STOREY, rooms)), furniture))
            yield from self._out
            self._out.clear()
        self.relate("storeys", self.building, storeys)
        yield from self._out

    def _frame(self) -> None:
        origin = self.add("IFCCARTESIANPOINT((0.,0.,0.))")
        self.axes = self.add(f"IFCAXIS2PLACEMENT3D(#{origin},$,$)")
        self.up = self.add("IFCDIRECTION((0.,0.,1.))")
        context = self.add(f"IFCGEOMETRICREPRESENTATIONCONTEXT($,'Model',3,1.E-05,#{self.axes},$)")
        self.body = self.add(
            f"IFCGEOMETRICREPRESENTATIONSUBCONTEXT('Body','Model',*,*,*,*,#{context},$,.MODEL_VIEW.,$)"
        )
        units = [
            self.add("IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.)"),
            self.add("IFCSIUNIT(*,.AREAUNIT.,$,.SQUARE_METRE.)"),
        ]
        assigned = self.add(f"IFCUNITASSIGNMENT(({_refs(units)}))")
        project = self.add(f"IFCPROJECT('{_guid('p')}',$,'Bench',$,$,$,$,(#{context}),#{assigned})")
        self.ground = self.add(f"IFCLOCALPLACEMENT($,#{self.axes})")
        self.building = self.add(
            f"IFCBUILDING('{_guid('b')}',$,'Bench',$,$,#{self.ground},$,$,.ELEMENT.,$,$,$)"
        )
        self.relate("building", project, [self.building])

    def _place(self, parent: int, x: float, y: float, z: float) -> int:
        point = self.add(f"IFCCARTESIANPOINT(({x:.1f},{y:.1f},{z:.1f}))")
        axes = self.add(f"IFCAXIS2PLACEMENT3D(#{point},$,$)")
        return self.add(f"IFCLOCALPLACEMENT(#{parent},#{axes})")

    def _box(self, width: float, depth: float, height: float) -> int:
        corners = [
            self.add(f"IFCCARTESIANPOINT(({x:.1f},{y:.1f}))")
            for x, y in ((0, 0), (width, 0), (width, depth), (0, depth))
        ]
        line = self.add(f"IFCPOLYLINE(({_refs([*corners, corners[0]])}))")
        profile = self.add(f"IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#{line})")
        solid = self.add(f"IFCEXTRUDEDAREASOLID(#{profile},#{self.axes},#{self.up},{height:.1f})")
        shape = self.add(f"IFCSHAPEREPRESENTATION(#{self.body},'Body','SweptSolid',(#{solid}))")
        return self.add(f"IFCPRODUCTDEFINITIONSHAPE($,$,(#{shape}))")

    def _storey(self, level: int, rooms: range, furniture: int) -> int:
        z = 3600.0 * level
        place = self._place(self.ground, 0.0, 0.0, z)
        key = _guid(f"storey {level}")
        storey = self.add(f"IFCBUILDINGSTOREY('{key}',$,'Level {level}',$,$,#{place},$,$,.ELEMENT.,{z:.1f})")
        spaces = [self._room(number, place) for number in rooms]
        pieces = [self._piece(number, k) for number in rooms for k in range(furniture)]
        self.relate(f"spaces {level}", storey, spaces)
        under, shape = self._place(place, -2000.0, -2000.0, 3300.0), self._box(95000.0, 45000.0, 300.0)
        slab = self.add(f"IFCSLAB('{_guid(f'slab {level}')}',$,'Slab',$,$,#{under},#{shape},$,.FLOOR.)")
        self.add(
            f"IFCRELCONTAINEDINSPATIALSTRUCTURE('{_guid(f'in {level}')}',$,$,$,"
            f"({_refs([slab, *pieces])}),#{storey})"
        )
        return storey

    def _room(self, number: int, storey: int) -> int:
        width = round(self._random.uniform(4000.0, 8500.0), 1)
        depth = round(self._random.uniform(3500.0, 7500.0), 1)
        row, column = divmod(number % _A_STOREY, _A_ROW)
        place = self._place(storey, column * _PITCH[0], row * _PITCH[1], 0.0)
        shape = self._box(width, depth, 2700.0)
        space = self.add(
            f"IFCSPACE('{_guid(f'room {number}')}',$,'{number:04d}',$,$,#{place},#{shape},'Office',"
            ".ELEMENT.,.SPACE.,$)"
        )
        height = self.add("IFCQUANTITYLENGTH('FinishCeilingHeight',$,$,2700.,$)")
        quantities = self.add(
            f"IFCELEMENTQUANTITY('{_guid(f'q {number}')}',$,'Qto_SpaceBaseQuantities',$,$,(#{height}))"
        )
        key = _guid(f"has q {number}")
        self.add(f"IFCRELDEFINESBYPROPERTIES('{key}',$,$,$,(#{space}),#{quantities})")
        return space

    def _piece(self, number: int, k: int) -> int:
        key = f"{number}/{k}"
        piece = self.add(f"IFCFURNITURE('{_guid(key)}',$,'Chair {k}',$,$,$,$,'{k}',.CHAIR.)")
        values = [
            self.add(f"IFCPROPERTYSINGLEVALUE('Property {j}',$,IFCLABEL('Value {j} of {k}'),$)")
            for j in range(5)
        ]
        data = self.add(f"IFCPROPERTYSET('{_guid(f'set {key}')}',$,'Data',$,({_refs(values)}))")
        self.add(f"IFCRELDEFINESBYPROPERTIES('{_guid(f'has {key}')}',$,$,$,(#{piece}),#{data})")
        return piece
