"""Values of rows as STEP text (ISO 10303-21), the way ifcopenshell itself writes them.

What an attribute may hold is asked of the schema: a whole number where a real is declared
gets its point, attributes left off at the end are `$`, derived ones `*`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

import ifcopenshell.ifcopenshell_wrapper as wrapper

from ifcgrid.ifc.writing.rows import DERIVED, Enum, Own, Ref, Typed

__all__ = ["EntityForm", "entity_form", "format_real", "format_string", "format_value"]

_PLAIN = re.compile(r"[ -&(-\[\]-~]*")
"""Text that needs no escape: printable ASCII without apostrophe and backslash (6.4.3)."""

_FOREIGN = re.compile(r"[^ -~]+")

_IDENTIFIERS = {"IFC4X3": "IFC4X3_ADD2"}
"""The schema of a family that is asked for the attributes where only the family is known."""


def format_string(text: str) -> str:
    """Text in apostrophes: doubled ones, everything beyond printable ASCII in hexadecimal (6.4.3)."""
    if _PLAIN.fullmatch(text):
        return f"'{text}'"
    escaped = text.replace("\\", "\\\\").replace("'", "''")
    return f"'{_FOREIGN.sub(_coded, escaped)}'"


def _coded(match: re.Match[str]) -> str:
    """Characters in hexadecimal: four digits each, or eight where one lies beyond those."""
    characters = match[0]
    if max(characters) > "\uffff":
        return "\\X4\\" + "".join(f"{ord(c):08X}" for c in characters) + "\\X0\\"
    return "\\X2\\" + "".join(f"{ord(c):04X}" for c in characters) + "\\X0\\"


def format_real(value: float) -> str:
    """The shortest text that reads as the same number; with a point, as a real has to (6.4.2).

    Raises:
        ValueError: the number is infinite or none.
    """
    text = repr(float(value))
    if text.endswith(".0"):
        return text[:-1]
    mantissa, sign, exponent = text.partition("e")
    if not sign:
        if text in {"inf", "-inf", "nan"}:
            raise ValueError(f"{text} cannot be written to a model")
        return text
    return f"{mantissa if '.' in mantissa else mantissa + '.'}E{exponent}"


def format_value(value: Any, is_real: bool = False) -> str:
    """One value of a row; `is_real` where the schema declares a real."""
    formatter = _BY_KIND.get(type(value))
    return formatter(value) if formatter is not None else _format_rare(value, is_real)


def _format_ref(value: Ref) -> str:
    return "#" + _NUMBER(value)


def _format_none(_: None) -> str:
    return "$"


def _format_typed(value: Typed) -> str:
    name = _TYPED.get(value.name)
    if name is None:
        name = _TYPED[value.name] = (value.name.upper(), _is_real_name(value.name))
    return f"{name[0]}({format_value(value.value, name[1])})"


_NUMBER = int.__repr__
_TYPED: dict[str, tuple[str, bool]] = {}
_BY_KIND: dict[type, Callable[[Any], str]] = {
    Ref: _format_ref,
    str: format_string,
    float: format_real,
    type(None): _format_none,
    Typed: _format_typed,
}


def _format_rare(value: Any, is_real: bool) -> str:
    if type(value) is tuple or type(value) is list:
        if set(map(type, value)) == {Ref}:
            return f"(#{',#'.join(map(_NUMBER, value))})"
        return f"({','.join([format_value(v, is_real) for v in value])})"
    if value is DERIVED:
        return "*"
    if isinstance(value, bool):
        return ".T." if value else ".F."
    if isinstance(value, Enum):
        return f".{value}."
    if isinstance(value, int) and not isinstance(value, Own):
        return format_real(value) if is_real else str(int(value))
    if isinstance(value, float):  # numpy's too
        return format_real(value)
    raise TypeError(f"{value!r} of {type(value).__name__} is no value of a row")


class EntityForm:
    """How one class of entities stands in the text: its name, and which attributes are real or derived."""

    __slots__ = ("_tails", "count", "derived", "is_real", "name")

    def __init__(self, schema: str, entity: str) -> None:
        declaration = _schema(schema).declaration_by_name(entity).as_entity()
        attributes = declaration.all_attributes()
        self.name = declaration.name_uc()
        self.count = len(attributes)
        self.is_real = tuple(_is_real(a.type_of_attribute()) for a in attributes)
        self.derived = tuple(declaration.derived())
        rest = ["*" if d else "$" for d in self.derived]
        self._tails = [",".join(["", *rest[n:]]) if n else ",".join(rest) for n in range(self.count + 1)]

    def padded(self, attributes: Sequence[Any]) -> list[Any]:
        """All attributes, with what was left off and what is derived.

        Raises:
            ValueError: there are more than the class has.
        """
        self._count(attributes)
        given = [*attributes, *[None] * (self.count - len(attributes))]
        return [DERIVED if d else v for v, d in zip(given, self.derived, strict=True)]

    def format(self, row_id: int, attributes: Sequence[Any]) -> str:
        """The whole instance with its semicolon."""
        return f"#{_NUMBER(row_id)}{self.format_rest(attributes)}"

    def format_rest(self, attributes: Sequence[Any]) -> str:
        """The instance without its name: from the equals sign on.

        Raises:
            ValueError: there are more attributes than the class has.
        """
        values = [
            formatter(v) if (formatter := _BY_KIND.get(type(v))) is not None else _format_rare(v, is_real)
            for v, is_real in zip(attributes, self.is_real, strict=False)
        ]
        self._count(attributes)
        if True in self.derived:
            values = ["*" if d else v for v, d in zip(values, self.derived, strict=False)]
        return f"={self.name}({','.join(values)}{self._tails[len(values)]});"

    def _count(self, attributes: Sequence[Any]) -> None:
        if len(attributes) > self.count:
            raise ValueError(f"{self.name} has {self.count} attributes, not {len(attributes)}")


def _schema(name: str) -> Any:
    return wrapper.schema_by_name(_IDENTIFIERS.get(name, name))


def _is_real(declared: Any) -> bool:
    """Whether a declared type, also within lists and named types, is a real number."""
    while (step := _inner(declared)) is not None:
        declared = step
    simple = declared.as_simple_type() if hasattr(declared, "as_simple_type") else None
    return simple is not None and simple.declared_type() in ("real", "number")


def _inner(declared: Any) -> Any:
    if (aggregation := declared.as_aggregation_type()) is not None:
        return aggregation.type_of_element()
    if (named := declared.as_named_type()) is not None:
        definition = named.declared_type().as_type_declaration()
        return None if definition is None else definition.declared_type()
    return None


@cache
def entity_form(schema: str, entity: str) -> EntityForm:
    """The form of a class in a schema (an identifier, or the family IFC4X3)."""
    return EntityForm(schema, entity)


@cache
def _is_real_name(name: str) -> bool:
    """Whether a named type is a real number; the schemas agree on all but counts, which are whole."""
    for schema in ("IFC4X3_ADD2", "IFC4", "IFC2X3"):
        try:
            declared = _schema(schema).declaration_by_name(name).as_type_declaration()
        except RuntimeError:
            continue
        return declared is not None and _is_real(declared.declared_type())
    return False
