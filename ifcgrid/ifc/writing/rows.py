"""Entity rows: what is to be written, in a form that knows no file.

A row is an IFC class and its attributes in the schema's order. STEP ids are settled here,
when a row is added, so a row refers to another row and to an entity of the model in the
same way. What comes in thousands (members, hangers, panels) is one block: a template of a
few rows and one column of values per attribute that differs. A sink walks the rows in
order; a row refers only to entities of the model and to earlier rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["DERIVED", "Block", "Column", "Enum", "Own", "Ref", "Row", "Rows", "Typed"]


class Ref(int):
    """The STEP id of a row or of an entity that the model already holds."""

    __slots__ = ()


class Own(int):
    """In a block: the row with this number of the same item."""

    __slots__ = ()


class Enum(str):
    """An enumeration value or a logical constant, without dots."""

    __slots__ = ()


class Typed(NamedTuple):
    """A value that names its type, as a select of measures asks for."""

    name: str
    value: str | float | bool


class Column:
    """In a block: one value an item.

    Values are a sequence of what a row holds, or an array: of whole numbers (n,), ids with
    0 for none; of reals (n,) or (n, k), a list of k reals each; of bytes, texts of printable
    ASCII that need no escape, such as GlobalIds.
    """

    __slots__ = ("values",)

    def __init__(self, values: Sequence[Any] | NDArray[Any]) -> None:
        self.values = values

    def rows(self) -> Sequence[Any]:
        """The values as a row holds them."""
        values = self.values
        if not isinstance(values, np.ndarray):
            return values
        if values.dtype.kind == "S":
            return [v.decode("ascii") for v in values.tolist()]
        if values.dtype.kind in "iu":
            return [Ref(v) if v else None for v in values.tolist()]
        return list(map(tuple, values.tolist())) if values.ndim > 1 else values.tolist()


class _Derived:
    def __repr__(self) -> str:
        return "DERIVED"

    def __reduce__(self) -> str:
        return "DERIVED"  # copied and pickled, it stays the one there is


DERIVED = _Derived()
"""The value of an attribute that the schema derives (an asterisk in STEP)."""


class Row(NamedTuple):
    """One entity. Attributes left off at the end are absent ($)."""

    id: int
    entity: str
    attributes: tuple[Any, ...]


Template = Sequence[tuple[str, tuple[Any, ...]]]
_Resolver = Callable[[int, int], Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """`count` items of the template's rows; item i's row k has the id first + i * len(template) + k."""

    first: int
    count: int
    template: Template

    def ids(self, row: int) -> list[Ref]:
        """The ids of one row of the template, one an item."""
        width = len(self.template)
        first = self.first + row
        return list(map(Ref, range(first, first + self.count * width, width)))

    def __iter__(self) -> Iterator[Row]:
        width = len(self.template)
        resolved = [(entity, tuple(map(_resolver, attributes))) for entity, attributes in self.template]
        for i in range(self.count):
            base = self.first + i * width
            for k, (entity, resolvers) in enumerate(resolved):
                yield Row(base + k, entity, tuple([r(i, base) for r in resolvers]))


def _resolver(attribute: Any) -> _Resolver:
    if isinstance(attribute, Column):
        values = attribute.rows()
        return lambda i, _: values[i]
    if isinstance(attribute, Own):
        return lambda _, base: Ref(base + attribute)
    if isinstance(attribute, tuple) and not isinstance(attribute, Typed):
        inner = tuple(map(_resolver, attribute))
        return lambda i, base: tuple([r(i, base) for r in inner])
    return lambda _i, _base: attribute


class Rows:
    """Rows in the order in which they will stand in the file, with consecutive ids from `first`."""

    def __init__(self, first: int) -> None:
        self.first = first
        self._next = first
        self._parts: list[Row | Block] = []

    def __len__(self) -> int:
        return self._next - self.first

    def __iter__(self) -> Iterator[Row]:
        for part in self._parts:
            if isinstance(part, Row):
                yield part
            else:
                yield from part

    @property
    def parts(self) -> Sequence[Row | Block]:
        """Single rows and blocks, in order."""
        return self._parts

    def with_parts(self, parts: Sequence[Row | Block]) -> Rows:
        """Rows in the same range of ids that hold these parts alone; ids may then be left free."""
        rows = Rows(self.first)
        rows._parts, rows._next = list(parts), self._next
        return rows

    def add(self, entity: str, *attributes: Any) -> Ref:
        """Adds one row and gives its id."""
        reference = Ref(self._next)
        self._parts.append(Row(reference, entity, attributes))
        self._next += 1
        return reference

    def add_block(self, template: Template, count: int) -> Block:
        """Adds `count` items of a template."""
        block = Block(first=self._next, count=count, template=template)
        self._parts.append(block)
        self._next += count * len(template)
        return block
