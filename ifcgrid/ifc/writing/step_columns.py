"""Columns of values as columns of characters: many values become text in a few array operations.

A text column is a matrix (n, width) of bytes, one row a value; bytes of no use are NUL, and
whoever joins columns takes the NULs out. So values of unlike length may stand in one matrix.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.ifc.writing.rows import Ref
from ifcgrid.ifc.writing.step_values import format_value

__all__ = ["Characters", "format_column", "format_ids", "format_reals"]

Characters = NDArray[np.uint8]
"""Characters (n, width) in ASCII; NUL stands for none."""

_FOUR = np.array([f"{n:04d}".encode() for n in range(10_000)]).view(np.uint32)
"""The four digits of each number below 10,000, as one word each."""

_EXACT = float(2**50)
"""Below it a scaled real and its rounding to a whole number leave no doubt."""

_MOST_DECIMALS = 9
_QUOTE, _BACKSLASH = ord("'"), ord("\\")


def format_column(values: Any, is_real: bool = False) -> Characters:
    """One column of values: lists of what rows hold, or arrays.

    Arrays hold ids (whole numbers, 0 for none), reals (n,) or lists of reals (n, k), or
    texts as bytes of printable ASCII.
    """
    if isinstance(values, np.ndarray):
        return _format_array(values)
    first = type(values[0]) if len(values) else None
    if first is str and (found := _format_texts(values)) is not None:
        return found
    if (first is Ref or first is type(None)) and (ids := _ids_of(values)) is not None:
        return format_ids(ids)
    if first is tuple and (reals := _reals_of(values)) is not None:
        return _format_array(reals)
    return _matrix([format_value(v, is_real).encode("ascii") for v in values])


def _format_array(values: NDArray[Any]) -> Characters:
    if values.dtype.kind == "S":
        return _quoted(values)
    if values.dtype.kind in "iu":
        return format_ids(values.astype(np.int64))
    if values.ndim == 1:
        return format_reals(values)
    rows = len(values)
    columns: list[Characters] = [_constant(b"(", rows)]
    for k in range(values.shape[1]):
        columns += [_constant(b",", rows)] if k else []
        columns.append(format_reals(values[:, k]))
    return np.hstack([*columns, _constant(b")", rows)])


def _constant(text: bytes, rows: int) -> Characters:
    return np.broadcast_to(np.frombuffer(text, dtype=np.uint8), (rows, len(text)))


def _matrix(texts: Sequence[bytes]) -> Characters:
    array = np.array(texts, dtype=np.bytes_)
    return array.view(np.uint8).reshape(len(texts), -1)


def _quoted(values: NDArray[np.bytes_]) -> Characters:
    rows = len(values)
    inside = np.ascontiguousarray(values).view(np.uint8).reshape(rows, -1)
    quote = _constant(b"'", rows)
    return np.hstack([quote, inside, quote])


def _format_texts(values: Sequence[Any]) -> Characters | None:
    """Texts in apostrophes; None where one of them needs an escape, or is no text."""
    try:
        array = np.array(values, dtype=np.bytes_)
    except (UnicodeEncodeError, TypeError, ValueError):
        return None
    codes = array.view(np.uint8)
    odd = (codes == _QUOTE) | (codes == _BACKSLASH) | (codes > 126) | ((codes < 32) & (codes > 0))
    if odd.any() or None in values or any("\0" in v for v in values):
        return None
    return _quoted(array)


def _ids_of(values: Sequence[Any]) -> NDArray[np.int64] | None:
    """Ids with 0 for none; None where something else is among them."""
    if not all(v is None or type(v) is Ref for v in values):
        return None
    return np.array([v or 0 for v in values], dtype=np.int64)


def _reals_of(values: Sequence[Any]) -> NDArray[np.float64] | None:
    """Lists of reals of one length; None where they are not."""
    width = len(values[0])
    if not width or not all(
        type(v) is tuple and len(v) == width and all(type(x) is float for x in v) for v in values
    ):
        return None
    return np.array(values, dtype=np.float64)


def format_ids(ids: NDArray[np.int64], sign: bytes = b"#") -> Characters:
    """References (n,) to ids; `$` for 0."""
    digits = _digits(ids)
    if (ids > 0).all():
        return np.hstack([_constant(sign, len(ids)), digits]) if sign else digits
    found = np.hstack([_constant(sign, len(ids)), digits])
    found[ids == 0] = 0
    found[ids == 0, 0] = ord("$")
    return found


def _digits(numbers: NDArray[np.int64]) -> Characters:
    """Whole numbers from 0 on without leading zeros (0 as `0`)."""
    width = len(str(int(numbers.max(initial=0))))
    found = _with_zeros(numbers, width)
    lengths = len(str(int(numbers.min(initial=10**18))))
    for place in range(width - lengths):
        found[numbers < 10 ** (width - 1 - place), place] = 0
    return found


def _with_zeros(numbers: NDArray[np.int64], width: int) -> Characters:
    """The last digits of whole numbers, as many as `width`."""
    words = -(-width // 4)
    found = np.empty((len(numbers), words), dtype=np.uint32)
    left = numbers
    for word in reversed(range(words)):
        above = left // 10_000
        found[:, word] = _FOUR[left - above * 10_000]
        left = above
    return found.view(np.uint8)[:, 4 * words - width :]


def format_reals(values: NDArray[np.float64]) -> Characters:
    """Reals that read as the same numbers; those without a short decimal form by their shortest text."""
    scale, whole = _scaled(values)
    if whole is None:
        return _matrix([format_value(v).encode("ascii") for v in values.tolist()])
    size = np.abs(whole)
    above = size // 10**scale
    parts = [_digits(above), _constant(b".", len(values))]
    if scale:
        parts.append(_fraction(size - above * 10**scale, scale))
    if (negative := np.signbit(values)).any():
        parts.insert(0, np.where(negative, np.uint8(ord("-")), np.uint8(0))[:, None])
    return np.hstack(parts)


def _scaled(values: NDArray[np.float64]) -> tuple[int, NDArray[np.int64] | None]:
    """The fewest decimals that all values have, and the values in units of the last one.

    A quotient of whole numbers below 2^53 by a power of ten is rounded once, as the reading
    of the decimal text is; so the text stands for the very number.
    """
    for scale in (0, 1, 3, 6, _MOST_DECIMALS):
        factor = 10.0**scale
        whole = np.rint(values * factor)
        if not (np.abs(whole) < _EXACT).all():
            break
        if (whole / factor == values).all():
            return scale, whole.astype(np.int64)
    return 0, None


def _fraction(numbers: NDArray[np.int64], scale: int) -> Characters:
    """The digits behind the point without zeros at the end."""
    found = _with_zeros(numbers, scale)
    for places in range(1, scale + 1):
        empty = numbers % 10**places == 0
        if not empty.any():
            break
        found[empty, scale - places] = 0
    return found
