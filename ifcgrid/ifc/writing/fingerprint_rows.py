"""The codes of all that is written, as one property set a zone, made from the rows themselves.

Text by text the set holds elements that are alike: the codes of the aspects they share, the
word they are called by, then for each element the rest of its tag and the code of its place,
nothing between:

    aaaaaabbbbbbccccccddddddeeeeeeffffff cross_tee:1/0KKKKK 1/2LLLLL 2/0MMMMM

Where elements have no tag of their own the word begins with `#`, and a GlobalId stands for
the rest of the tag.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.ifc.fingerprint import (
    ELEMENTS,
    FINGERPRINT_SET,
    OWNER,
    Digester,
    Node,
    code,
    digest,
    name_text,
    place_codes,
)
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.rows import DERIVED, Block, Column, Own, Ref, Row, Typed

__all__ = ["ZoneRows", "add_fingerprints"]

_PRODUCT = ("IfcCovering", "IfcElementAssembly", "IfcGrid", "IfcAnnotation", "IfcOpeningElement")
_PROXIES = ("IfcBuildingElementProxy", "IfcVirtualElement")
_UP, _ALONG = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)
_TAG = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneRows:
    """The rows of one zone: from which place among the parts of the rows to which; who carries the set."""

    key: str
    begin: int
    end: int
    carriers: Sequence[Ref]


@dataclass(slots=True, kw_only=True, eq=False)
class _Batch:
    """Elements of one word: ids, tags or GlobalIds, codes of their places, digests that single rows share."""

    word: str
    ids: NDArray[np.int64]
    names: list[str]
    places: list[str]
    called: int
    shapes: NDArray[np.uint64]


def add_fingerprints(book: Book, zones: Sequence[ZoneRows]) -> None:
    """Adds the sets of all zones; every other row has to be there already."""
    reader = _RowReader(book)
    batches = [list(reader.batches(zone)) for zone in zones]
    known = reader.gather([b for own in batches for b in own])
    for zone, own in zip(zones, batches, strict=True):
        texts = tuple(Typed("IfcText", text) for batch in own for text in _texts(batch, known))
        if texts and zone.carriers:
            owner = Typed("IfcText", book.context.identity(zone.key))
            made = book.sets.properties(zone.key, FINGERPRINT_SET, {OWNER: owner, ELEMENTS: texts})
            book.sets.relate(zone.key, FINGERPRINT_SET, zone.carriers, made)


def _texts(batch: _Batch, known: _Gathered) -> Iterator[str]:
    """One text for all elements of a batch that share all codes."""
    at = np.searchsorted(known.ids, batch.ids)
    shared = np.column_stack([batch.shapes, *(sums[at] for sums in known.sums)])
    kinds, kind_of = np.unique(shared, axis=0, return_inverse=True)
    entries = [name + place for name, place in zip(batch.names, batch.places, strict=True)]
    order = np.argsort(kind_of.ravel(), kind="stable")
    bounds = np.searchsorted(kind_of.ravel()[order], np.arange(len(kinds) + 1))
    for k, row in enumerate(kinds.tolist()):
        head = "".join(map(code, (batch.called, *row)))
        chosen = order[bounds[k] : bounds[k + 1]].tolist()
        yield f"{head} {batch.word}:{' '.join([entries[i] for i in chosen])}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Gathered:
    """What relations say of elements: sorted ids, and sums of digests by aspect."""

    ids: NDArray[np.int64]
    sums: tuple[NDArray[np.uint64], ...]


class _RowReader:
    """Reads elements and what is said of them from rows."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._singles = {part.id: part for part in book.rows.parts if isinstance(part, Row)}
        self._blocks = [part for part in book.rows.parts if isinstance(part, Block)]
        self._units = {unit: told for told, unit in book.context.units.items()}
        self._digester = Digester(
            self._open_up, lambda v: isinstance(v, Ref), int, _typed, book.context.scale, Ref
        )

    def _open_up(self, reference: Any) -> Node:
        if reference in self._units:
            return "IfcSIUnit", [None, *self._units[reference]]
        row = self._singles[int(reference)]
        if DERIVED not in row.attributes:
            return row.entity, row.attributes
        return row.entity, [None if v is DERIVED else v for v in row.attributes]

    def batches(self, zone: ZoneRows) -> Iterator[_Batch]:
        """The elements of a zone."""
        for part in self._book.rows.parts[zone.begin : zone.end]:
            if isinstance(part, Row):
                if part.entity in _PRODUCT or part.entity in _PROXIES:
                    yield self._single(part)
            elif part.count:
                yield from self._block(part)

    def _single(self, row: Row) -> _Batch:
        entity, attributes = row.entity, row.attributes
        _, (_, axes) = self._open_up(attributes[5])
        _, axes_values = self._open_up(axes)
        point, z, x = (*axes_values, None, None)[:3]
        _, (coordinates,) = self._open_up(point)
        points = np.array([coordinates]) * self._book.context.scale
        shape = 0
        if attributes[6] is not None:
            _, (_, _, views) = self._open_up(attributes[6])
            shape = self._digester.shape(views)
        return _Batch(
            word=f"#{entity[3:].lower()}",
            ids=np.array([row.id]),
            names=[attributes[0]],
            places=place_codes(points, [self._direction(z, _UP)], [self._direction(x, _ALONG)]),
            called=digest(name_text(self._digester, entity, attributes, has_tag=True)),
            shapes=np.array([shape], dtype=np.uint64),
        )

    def _direction(self, reference: Any, otherwise: Sequence[float]) -> Sequence[float]:
        if not reference:
            return otherwise
        found: Sequence[float] = self._singles[int(reference)].attributes[0]
        return found

    def _block(self, block: Block) -> Iterator[_Batch]:
        """The elements of a block by the first word of their tags."""
        *_, (entity, attributes) = block.template
        placing = block.template[attributes[5]]
        _, axes = block.template[placing[1][1]]
        _, (points,) = block.template[axes[0]]
        z, x = (self._directions(v, d, block.count) for v, d in ((axes[1], _UP), (axes[2], _ALONG)))
        _, (_, _, (view,)) = block.template[attributes[6]]
        coordinates = np.asarray(points.values, dtype=float) * self._book.context.scale
        tags = [_text(tag) for tag in attributes[_TAG].values]
        word = tags[0].partition("/")[0]
        names = [tag.partition("/")[2] for tag in tags]
        yield _Batch(
            word=word,
            ids=np.arange(block.count) * len(block.template) + block.first + len(block.template) - 1,
            names=names,
            places=place_codes(coordinates, z, x),
            called=digest(name_text(self._digester, entity, _plain(attributes), has_tag=False)),
            shapes=self._block_shapes(block.template[view][1], block.count),
        )

    def _directions(self, value: Any, otherwise: Sequence[float], count: int) -> NDArray[np.float64]:
        if not isinstance(value, Column):
            return np.tile(otherwise, (count, 1))
        known: dict[int, Sequence[float]] = {}
        found = []
        for reference in value.values:
            number = int(reference or 0)
            if number not in known:
                known[number] = self._direction(number, otherwise)
            found.append(known[number])
        return np.array(found)

    def _block_shapes(self, view: Sequence[Any], count: int) -> NDArray[np.uint64]:
        """The digests of shapes that are one view of one item each."""
        _, identifier, kind, (items,) = view
        kinds = kind.values if isinstance(kind, Column) else [kind] * count
        known: dict[tuple[str, int], int] = {}
        found = []
        for sort, item in zip(kinds, items.values, strict=True):
            key = (_text(sort), int(item))
            if key not in known:
                item_digest = self._digester.of(Ref(key[1]), is_shape=True)
                view_digest = digest(f"IfcShapeRepresentation($,{identifier!r},{key[0]!r},(#{item_digest}))")
                known[key] = digest(str(view_digest))
            found.append(known[key])
        return np.array(found, dtype=np.uint64)

    def gather(self, batches: Sequence[_Batch]) -> _Gathered:
        """Sums over relations what they say of the elements of these batches."""
        ids = np.sort(np.concatenate([b.ids for b in batches])) if batches else np.zeros(0, dtype=np.int64)
        sums = tuple(np.zeros(len(ids), dtype=np.uint64) for _ in range(4))
        for row in self._singles.values():
            said = self._said(row)
            if said is None:
                continue
            aspect, objects, number = said
            related = np.fromiter(objects, dtype=np.int64)
            at = np.minimum(np.searchsorted(ids, related), max(len(ids) - 1, 0))
            if len(ids):
                np.add.at(sums[aspect], at[ids[at] == related], np.uint64(number))
        return _Gathered(ids=ids, sums=sums)

    def _said(self, row: Row) -> tuple[int, Sequence[Ref], int] | None:
        """Of which aspect a relation tells, of which objects, and what."""
        a = row.attributes
        if row.entity == "IfcRelDefinesByProperties":
            return 0, a[4], self._digester.set(a[5])
        if row.entity == "IfcRelDefinesByType":
            return 1, a[4], digest(str(self._global_id(a[5])))
        if row.entity == "IfcRelAssociatesMaterial":
            return 2, a[4], digest(row.entity + str(self._digester.of(a[5])))
        if row.entity == "IfcRelAssociatesClassification":
            return 2, a[4], digest(row.entity + self._book.classified[a[5]])
        if row.entity in ("IfcRelAggregates", "IfcRelVoidsElement"):
            objects = a[5] if row.entity == "IfcRelAggregates" else (a[5],)
            return 3, objects, digest(row.entity + self._global_id(a[4]))
        if row.entity == "IfcRelContainedInSpatialStructure":
            return 3, a[4], digest(row.entity + "IfcSpace")
        return None

    def _global_id(self, reference: Ref) -> str:
        row = self._singles.get(int(reference))
        if row is not None:
            return str(row.attributes[0])
        return _text(_value_in_block(self._blocks, int(reference)))


def _value_in_block(blocks: Sequence[Block], number: int) -> Any:
    """The GlobalId of an element that stands in a block."""
    for part in blocks:
        if part.first <= number < part.first + part.count * len(part.template):
            item, place = divmod(number - part.first, len(part.template))
            return part.template[place][1][0].values[item]
    raise ValueError(f"#{number} is no row")


def _typed(value: Any) -> tuple[str, Any] | None:
    return (value.name, value.value) if isinstance(value, Typed) else None


def _text(value: Any) -> str:
    return value.decode() if isinstance(value, bytes) else str(value)


def _plain(attributes: Sequence[Any]) -> list[Any]:
    """A template's attributes without those that differ from item to item."""
    return [None if isinstance(v, Column | Own) else v for v in attributes]
