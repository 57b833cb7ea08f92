"""Writes the delivery specifications (IDS 1.0) in ifcgrid/ifc/delivery.

python scripts/make_delivery.py [--check]

`rooms-*.ids` ask a model for what ifcgrid reads best, `ceilings-*.ids` for what it writes.
There is one for IFC2X3 and one for IFC4 and later, so that a file asks for nothing that its
schema lacks: some programs take a specification for another schema as failed.
Needs ifctester (`pip install .[test]`). With --check nothing is written; the exit code is
1 where a file differs from what would be.
"""

from __future__ import annotations

import argparse
import sys
from itertools import product
from pathlib import Path
from typing import Any

from ifctester import ids

__all__ = ["FOLDER", "SCHEMAS", "main", "specify_ceilings", "specify_rooms"]

FOLDER = Path(__file__).resolve().parent.parent / "ifcgrid" / "ifc" / "delivery"
SCHEMAS = {"ifc2x3": ["IFC2X3"], "ifc4": ["IFC4", "IFC4X3_ADD2"]}
"""What stands in a file's name, and the schemas that it is for."""

OURS = "IfcGrid_Provenance"


class _Delivery:
    """One file in the making."""

    def __init__(self, schemas: str, title: str, description: str) -> None:
        self.document = ids.Ids(
            title=title,
            description=description,
            version="1.0",
            author="ifcgrid@example.org",
            date="2026-01-01",
            purpose="Setting out suspended ceilings",
        )
        self.schemas = SCHEMAS[schemas]
        self.has_standard_quantities = schemas != "ifc2x3"

    def add(
        self,
        identifier: str,
        name: str,
        applies: list[Any],
        asked: list[Any],
        *,
        usage: str = "required",
        why: str = "",
    ) -> None:
        """One specification: what it applies to, and what it asks of that."""
        one = ids.Specification(
            name=name, ifcVersion=self.schemas, identifier=identifier, description=why or None
        )
        one.set_usage(usage)
        one.applicability += applies
        one.requirements += asked
        self.document.specifications.append(one)

    def above_zero(self, kind: str, name: str, measure: str) -> ids.Property:
        """A quantity of a kind of element, by the set that the schema has for it."""
        group = f"Qto_{kind}BaseQuantities" if self.has_standard_quantities else "BaseQuantities"
        above = ids.Restriction(options={"minExclusive": 0.0}, base="double")
        return ids.Property(propertySet=group, baseName=name, dataType=measure, value=above)


def _some_text() -> ids.Restriction:
    return ids.Restriction(options={"pattern": ".*[^ ].*"}, base="string")


def specify_rooms(schemas: str) -> ids.Ids:
    """What rooms should carry before ceilings are set out in them; `schemas` is a key of `SCHEMAS`."""
    delivery = _Delivery(
        schemas,
        "Rooms for ceilings",
        "What ifcgrid reads of rooms. A room without a stated ceiling height is not lost: the height is "
        "then taken from a modelled ceiling, other stated values or the space's body, and the source named.",
    )
    space = [ids.Entity(name="IFCSPACE")]
    delivery.add(
        "R1",
        "A room has a number or name",
        space,
        [ids.Attribute(name="Name", value=_some_text())],
        why="Sheets, lists and findings name rooms by it.",
    )
    delivery.add(
        "R2",
        "A room belongs to a storey",
        space,
        [ids.PartOf(name="IFCBUILDINGSTOREY", relation="IFCRELAGGREGATES")],
        why="Its floor level and its plan are the storey's.",
    )
    delivery.add(
        "R3",
        "A room states its ceiling height",
        space,
        [delivery.above_zero("Space", "FinishCeilingHeight", "IFCLENGTHMEASURE")],
        why="Top of the finished floor to the underside of the suspended ceiling.",
    )
    walls = [ids.Entity(name=ids.Restriction(options={"enumeration": ["IFCWALL", "IFCWALLSTANDARDCASE"]}))]
    rating = ids.Property(
        propertySet="Pset_WallCommon",
        baseName="FireRating",
        dataType="IFCLABEL",
        value=_some_text(),
        cardinality="optional",
    )
    delivery.add(
        "R4",
        "A rated wall states its rating as text",
        walls,
        [rating],
        usage="optional",
        why="Walls with a rating that stop at a ceiling or short of the slab are told.",
    )
    return delivery.document


def specify_ceilings(schemas: str) -> ids.Ids:
    """What ifcgrid's ceilings carry; other ceilings of the model are left alone."""
    delivery = _Delivery(
        schemas,
        "Ceilings set out by ifcgrid",
        "What ifcgrid writes at the detail levels grid and panels. It says that the data are there, "
        "not that a ceiling is in order.",
    )
    ours = ids.Property(propertySet=OURS, baseName="Key")
    in_space = ids.PartOf(name="IFCSPACE", relation="IFCRELCONTAINEDINSPATIALSTRUCTURE")
    ceiling = [ids.Entity(name="IFCCOVERING", predefinedType="CEILING"), ours]
    kept = "Where the architect's ceilings are kept, none is ours."
    delivery.add("C1", "A ceiling lies in a room", ceiling, [in_space], usage="optional", why=kept)
    delivery.add(
        "C2",
        "A ceiling states its areas and its thickness",
        ceiling,
        [
            delivery.above_zero("Covering", "GrossArea", "IFCAREAMEASURE"),
            delivery.above_zero("Covering", "NetArea", "IFCAREAMEASURE"),
            delivery.above_zero("Covering", "Width", "IFCLENGTHMEASURE"),
        ],
        usage="optional",
    )
    told = ("Library", "Policy", "HeightSource", "Reason")
    delivery.add(
        "C3",
        "A ceiling says where it comes from",
        ceiling,
        [ids.Property(propertySet=OURS, baseName=name) for name in told],
        usage="optional",
    )
    reference = ids.Property(propertySet="Pset_CoveringCommon", baseName="Reference")
    delivery.add("C4", "A ceiling names its system", ceiling, [reference], usage="optional")
    delivery.add("A1", "A grid lies in a room", [ids.Entity(name="IFCELEMENTASSEMBLY"), ours], [in_space])
    words = ids.Restriction(options={"enumeration": ["MAINRUNNER", "CROSSTEE", "WALLANGLE"]})
    part = ids.PartOf(name="IFCELEMENTASSEMBLY", relation="IFCRELAGGREGATES")
    delivery.add(
        "M1",
        "A member is part of its grid, has a material and states its length",
        [ids.Entity(name="IFCMEMBER", predefinedType=words), ours],
        [part, ids.Material(), delivery.above_zero("Member", "Length", "IFCLENGTHMEASURE")],
    )
    delivery.add(
        "H1",
        "A hanger is part of its grid and names what carries it",
        [ids.Entity(name="IFCDISCRETEACCESSORY", predefinedType="Drop rod"), ours],
        [part, ids.Property(propertySet="IfcGrid_Hanger", baseName="Support")],
        usage="optional",
    )
    delivery.add(
        "P1",
        "A panel is part of its ceiling",
        [
            ids.Entity(name="IFCBUILDINGELEMENTPART"),
            ids.Property(propertySet="IfcGrid_Piece", baseName="CutSize"),
        ],
        [ids.PartOf(name="IFCCOVERING", relation="IFCRELAGGREGATES")],
        usage="optional",
    )
    lines = [ids.Entity(name="IFCGRID"), ours]
    delivery.add("G1", "Set-out lines lie in their room", lines, [in_space], usage="optional")
    return delivery.document


SPECIFIED = {"rooms": specify_rooms, "ceilings": specify_ceilings}


def main(arguments: list[str] | None = None) -> int:
    """Writes or compares the files."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="write nothing; 1 where a file differs")
    is_check = parser.parse_args(arguments).check
    differing = []
    for (kind, specify), schemas in product(SPECIFIED.items(), SCHEMAS):
        name, text = f"{kind}-{schemas}.ids", specify(schemas).to_string()
        target = FOLDER / name
        if not target.exists() or target.read_text(encoding="utf-8") != text:
            differing.append(name)
            if not is_check:
                target.parent.mkdir(exist_ok=True)
                target.write_text(text, encoding="utf-8", newline="\n")
    print(f"{', '.join(differing)} {'differ' if is_check else 'written'}" if differing else "nothing to do")
    return 1 if is_check and differing else 0


if __name__ == "__main__":
    sys.exit(main())
