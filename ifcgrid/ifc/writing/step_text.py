"""The text of a STEP file (ISO 10303-21): where its sections and instances stand, without parsing values.

Strings and comments are blanked first, so that what they hold (`;`, `ENDSEC;`, `#7=`) is
never taken for structure. Offsets are those of the text as given.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["OddTextError", "Span", "StepText", "split_values"]

Span = tuple[int, int]
"""Where something begins and where it ends."""

BOM = b"\xef\xbb\xbf"
"""The byte order mark of UTF-8, which no STEP file should begin with and some do."""

_TAIL = re.compile(rb"ENDSEC\s*;\s*END-ISO-10303-21\s*;[\s\0]*\Z")
_TAIL_REACH = 4096
_OPAQUE = re.compile(rb"'[^']*'|/\*.*?\*/", re.DOTALL)
_DATA = re.compile(rb"\bDATA\s*(?:\(|;)")
_END = re.compile(rb"\bENDSEC\s*;")
_SIGNED = re.compile(rb"\bSIGNATURE\b")
_FILE_NAME = re.compile(rb"\bFILE_NAME\s*\(")
_LINE_END = re.compile(rb"\r\n|\n|\r")
_HEADER_REACH = 1 << 16
_SPACE = frozenset(b" \t\r\n")
_DIGITS = 19
"""Digits of the greatest id that fits into 64 bits."""


class OddTextError(ValueError):
    """The text is too odd to be edited in place; the message says in what."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Index:
    """Instances by ascending id: `ids` (n,), and where each begins (`#`) and ends (after `;`)."""

    ids: NDArray[np.int64]
    begins: NDArray[np.int64]
    ends: NDArray[np.int64]


class StepText:
    """Finds its way about a STEP file.

    Args:
        content: the bytes of the file.
    """

    def __init__(self, content: bytes) -> None:
        self.content = content[len(BOM) :] if content.startswith(BOM) else content

    @cached_property
    def line_end(self) -> bytes:
        """The line end that the file itself uses first; LF where it has none."""
        match = _LINE_END.search(self.content[:_HEADER_REACH])
        return match[0] if match else b"\n"

    @cached_property
    def end_of_data(self) -> int:
        """Where the ENDSEC of the last DATA section stands.

        Raises:
            OddTextError: there is none, or the file is signed.
        """
        start = max(len(self.content) - _TAIL_REACH, 0)
        match = _TAIL.search(self.content[start:])
        if match and not _END.search(self.content[start + match.start() + 6 :]):
            return start + match.start()
        if _SIGNED.search(self._blanked):
            raise OddTextError("it is signed, and a signature holds for what was signed only")
        ends = [m.start() for m in _END.finditer(self._blanked)]
        begins = [m.start() for m in _DATA.finditer(self._blanked)]
        after = [end for end in ends if begins and end > begins[-1]]
        if not after:
            raise OddTextError("no DATA section that is closed by ENDSEC")
        return after[0]

    @cached_property
    def file_name(self) -> tuple[Span, ...]:
        """Where the values of FILE_NAME in the header stand.

        Raises:
            OddTextError: there is none with seven values.
        """
        head = self.content[:_HEADER_REACH]
        blank = _blank_by_tokens(head)
        match = _FILE_NAME.search(blank)
        values = () if match is None else split_values(blank, match.end() - 1)
        if len(values) != 7:
            raise OddTextError("the header has no FILE_NAME with seven values")
        return tuple(values)

    @cached_property
    def _blanked(self) -> bytes:
        """The text with blanks for strings and comments."""
        if b"/*" in self.content:
            return _blank_by_tokens(self.content)
        text = np.frombuffer(self.content, dtype=np.uint8)
        # Without comments a byte is inside a string when an odd number of apostrophes stands before it.
        quotes = text == ord("'")
        inside = np.bitwise_xor.accumulate(quotes.view(np.uint8)).view(bool)
        return np.where(inside | quotes, np.uint8(ord(" ")), text).tobytes()

    @cached_property
    def _index(self) -> _Index:
        text = np.frombuffer(self._blanked, dtype=np.uint8)
        hashes = np.flatnonzero(text == ord("#"))
        equals = np.flatnonzero(text == ord("="))
        semicolons = np.flatnonzero(text == ord(";"))
        before = np.searchsorted(hashes, equals) - 1
        after = np.searchsorted(semicolons, equals)
        if len(equals) and (before.min() < 0 or after.max() >= len(semicolons)):
            raise OddTextError("an instance without # or without an end")
        begins = hashes[before]
        ids = _read_numbers(text, begins + 1, equals)
        order = np.argsort(ids, kind="stable")
        ends = semicolons[after] + 1
        return _Index(ids=ids[order], begins=begins[order], ends=ends[order])

    @cached_property
    def greatest_unread(self) -> int:
        """The greatest id of instances that readers skip (complex ones, own classes); 0 without any."""
        text = np.frombuffer(self.content, dtype=np.uint8)
        places = np.flatnonzero(text[:-1] == ord("=")) + 1
        while len(places) and (gap := np.isin(text[places], list(_SPACE))).any():
            places[gap] += 1
            places = places[places < len(text)]
        if not np.isin(text[places], [ord("("), ord("!"), ord("/")]).any():
            return 0
        # Rare, and it may be only a word in a string: looked at properly.
        index, blank = self._index, self._blanked
        begins = {
            int(i): m
            for i, b in zip(index.ids.tolist(), index.begins.tolist(), strict=True)
            if (m := re.compile(rb"#\d+\s*=\s*[(!]").match(blank, b))
        }
        return max(begins, default=0)

    def find(self, ids: Sequence[int]) -> list[Span]:
        """Where instances stand, from `#` to after the semicolon.

        Raises:
            OddTextError: an id stands nowhere or more than once.
        """
        index, wanted = self._index, np.asarray(ids, dtype=np.int64)
        low, high = np.searchsorted(index.ids, wanted), np.searchsorted(index.ids, wanted, side="right")
        if wrong := wanted[high - low != 1].tolist():
            raise OddTextError(f"#{wrong[0]} stands in the text {int((index.ids == wrong[0]).sum())} times")
        return list(zip(index.begins[low].tolist(), index.ends[low].tolist(), strict=True))

    def values(self, span: Span) -> list[Span]:
        """Where the values of one instance stand.

        Raises:
            OddTextError: it is no simple instance.
        """
        begin = self._blanked.find(b"(", *span)
        if begin < 0 or self._blanked[begin - 1 : begin] == b"=":
            raise OddTextError(f"{self.content[span[0] : span[0] + 20]!r} is no simple instance")
        return split_values(self._blanked, begin)

    def with_line_end(self, span: Span) -> Span:
        """An instance with the line end that follows it at once."""
        match = _LINE_END.match(self.content, span[1])
        return (span[0], match.end()) if match else span


def split_values(blank: bytes, opening: int) -> list[Span]:
    """Where the values between a bracket and the one that closes it stand; the text must be blanked.

    Raises:
        OddTextError: the bracket is never closed.
    """
    depth, begin, found = 0, opening + 1, []
    for token in re.compile(rb"[(),]").finditer(blank, opening):
        if token[0] == b"(":
            depth += 1
        elif token[0] == b")":
            depth -= 1
        if depth == 0 or (depth == 1 and token[0] == b","):
            found.append((begin, token.start()))
            begin = token.end()
        if depth == 0:
            return found
    raise OddTextError("a list of values that is never closed")


def _blank_by_tokens(content: bytes) -> bytes:
    """Blanks strings and comments as they come, each of which may hold the other's marks."""
    spans = np.array(list(_opaque(content)), dtype=np.int64).reshape(-1, 2)
    steps = np.zeros(len(content) + 1, dtype=np.int8)
    # A string may begin where another ends ('' within it), so steps are added up.
    np.add.at(steps, spans[:, 0], 1)
    np.add.at(steps, spans[:, 1], -1)
    inside = np.cumsum(steps[:-1], dtype=np.int8).astype(bool)
    text = np.frombuffer(content, dtype=np.uint8)
    return np.where(inside, np.uint8(ord(" ")), text).tobytes()


def _opaque(content: bytes) -> Iterator[Span]:
    for match in _OPAQUE.finditer(content):
        yield match.span()


def _read_numbers(
    text: NDArray[np.uint8], begins: NDArray[np.int64], ends: NDArray[np.int64]
) -> NDArray[np.int64]:
    """The numbers that begin at places of the text, blanks after them ignored.

    Raises:
        OddTextError: there is none, or it has more digits than 64 bits hold.
    """
    numbers = np.zeros(len(begins), dtype=np.int64)
    is_open = np.ones(len(begins), dtype=bool)
    for step in range(_DIGITS):
        places = np.minimum(begins + step, ends)
        digits = text[places].astype(np.int64) - ord("0")
        is_open &= (digits >= 0) & (digits <= 9) & (begins + step < ends)
        if step == 0 and not is_open.all():
            raise OddTextError("an instance whose name is no number")
        if not is_open.any():
            return numbers
        numbers = np.where(is_open, numbers * 10 + digits, numbers)
    raise OddTextError("an instance whose name has too many digits")
