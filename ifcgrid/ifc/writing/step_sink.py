"""The sink that adds rows to the text of a STEP file and takes out what has to go.

Every byte that is not ours stays: comments, line ends, encodings, the order of instances.
New instances stand at the end of the last DATA section, in the file's own kind of lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from ifcgrid.ifc.writing.header import signed_header
from ifcgrid.ifc.writing.removal import Removal
from ifcgrid.ifc.writing.rows import Rows
from ifcgrid.ifc.writing.step_rows import format_rows
from ifcgrid.ifc.writing.step_text import OddTextError, Span, StepText

__all__ = ["edit_text"]


def edit_text(
    text: StepText, removal: Removal, rows: Rows, schema: str, timestamp: str
) -> Iterator[bytes | memoryview]:
    """The new text in pieces.

    Args:
        text: the file as it is.
        removal: what goes from it and what is left in lists of what stays.
        rows: what comes to it, with ids that it does not hold.
        schema: the schema's identifier in the file.
        timestamp: ISO 8601 time for the header.

    Raises:
        OddTextError: something of it cannot be edited in place; before the first piece.
    """
    edits = signed_header(text, timestamp)
    edits += _deletions(text, removal.dead)
    edits += _changed_lists(text, removal.changes)
    return _pieces(text.content, sorted(edits), text.end_of_data, format_rows(rows, schema, text.line_end))


def _deletions(text: StepText, dead: Mapping[int, Any]) -> list[tuple[Span, bytes]]:
    """What goes, in runs: an earlier run's instances stand together."""
    runs: list[list[int]] = []
    for begin, end in map(text.with_line_end, sorted(text.find(list(dead))) if dead else ()):
        if runs and runs[-1][1] == begin:
            runs[-1][1] = end
        else:
            runs.append([begin, end])
    return [((begin, end), b"") for begin, end in runs]


def _changed_lists(
    text: StepText, changes: Mapping[tuple[int, int], Sequence[Any]]
) -> list[tuple[Span, bytes]]:
    found = []
    for span, ((key, place), left) in zip(text.find([k for k, _ in changes]), changes.items(), strict=True):
        values = text.values(span)
        if place >= len(values):
            raise OddTextError(f"#{key} has {len(values)} values")
        found.append((values[place], b"(%s)" % b",".join(b"#%d" % e.id() for e in left)))
    return found


def _pieces(
    content: bytes, edits: Iterable[tuple[Span, bytes]], end: int, added: Iterable[bytes]
) -> Iterator[bytes | memoryview]:
    view, done = memoryview(content), 0
    for (begin, after), replacement in edits:
        yield view[done:begin]
        yield replacement
        done = after
    yield view[done:end]
    yield from added
    yield view[end:]
