"""BCF files: written whole, and brought up to date without losing what others wrote.

BCF 2.1 and 3.0 (buildingSMART BCF-XML). Our topics are known by GUIDs that stay the same
between runs; other people's topics, comments, viewpoints and documents are kept as they are.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree as Tree

from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.waiver import PLAN, Waiver
from ifcgrid.outputs.bcf.markup import (
    AUTHOR,
    OPEN,
    WAIVED,
    close_markup,
    comment_on,
    extensions_xml,
    keep_markup,
    new_markup,
    read_markup,
    version_xml,
    viewpoint_xml,
)
from ifcgrid.outputs.bcf.standing import PLAN_WORDS, Standing, standing_of, waiver_of
from ifcgrid.outputs.bcf.topic import Topic
from ifcgrid.outputs.files import write_bytes

__all__ = ["BcfChange", "Version", "read_waivers", "update_bcf"]

Version = Literal["2.1", "3.0"]

_EPOCH = (1980, 1, 1, 0, 0, 0)
"""Zip entries bear this date, so that the same topics give the same bytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BcfChange:
    """What a run changed: GUIDs of our topics that are new, still there, resolved, or waived."""

    new: tuple[str, ...]
    persisting: tuple[str, ...]
    resolved: tuple[str, ...]
    waived: tuple[str, ...]


def update_bcf(
    path: Path,
    topics: Sequence[Topic],
    *,
    when: str,
    model: Mapping[str, str],
    version: Version | None = None,
    kept: Collection[str] = (),
) -> BcfChange:
    """Write topics into a BCF file; an existing file is brought up to date.

    A topic that is there already keeps its comments and viewpoints, and its status unless
    its cause came back or its waiver ran out; one of ours whose cause is gone is closed with a
    comment; one that somebody waived stays waived.

    Args:
        path: the file; its folder exists.
        topics: what fails now.
        when: ISO 8601 time with zone, for dates.
        model: `file` name, `project` and (optional) `storey` GlobalIds of the judged model.
        version: 2.1 or 3.0; None keeps that of an existing file, else 3.0.
        kept: GUIDs of causes that are still there but not asked for: their topics stay as they are.

    Raises:
        OutputError: the existing file is no BCF file or of another version, or the target
            cannot be written.
    """
    entries = _read(path) if path.exists() else {}
    found = _version_of(path, entries) if entries else None
    if version and found and version != found:
        raise OutputError(f"{path} is BCF {found}; give another name, or leave the version at {found}")
    chosen: Version = found or version or "3.0"
    change = _merge(entries, topics, when, model, chosen, kept)
    entries["bcf.version"] = version_xml(chosen)
    if chosen == "3.0":
        entries["extensions.xml"] = extensions_xml(entries)
    write_bytes(path, _pack(entries))
    return change


def _read(path: Path) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(path) as archive:
            entries = {name: archive.read(name) for name in archive.namelist() if not name.endswith("/")}
    except (OSError, zipfile.BadZipFile) as error:
        raise OutputError(f"{path} is no BCF file ({error}); move it away or give another name") from error
    for name in sorted(entries):
        if name.endswith(("/markup.bcf", "extensions.xml")):
            try:
                Tree.fromstring(entries[name])
            except Tree.ParseError as error:
                raise OutputError(
                    f"{path} holds {name}, which is no XML ({error}); mend it or move the file away"
                ) from error
    return entries


def _version_of(path: Path, entries: Mapping[str, bytes]) -> Version:
    text = entries.get("bcf.version", b"").decode("utf-8", "replace")
    for version in ("2.1", "3.0"):
        if f'VersionId="{version}"' in text:
            return "2.1" if version == "2.1" else "3.0"
    raise OutputError(f"{path} is no BCF file of version 2.1 or 3.0; move it away or give another name")


def _merge(
    entries: dict[str, bytes],
    topics: Sequence[Topic],
    when: str,
    model: Mapping[str, str],
    version: Version,
    kept: Collection[str],
) -> BcfChange:
    known = _topics_in(entries)
    new: list[str] = []
    persisting: list[str] = []
    resolved: list[str] = []
    waived: list[str] = []
    for index, topic in enumerate(topics):
        if topic.guid in known:
            name = known[topic.guid]
            entries[name], is_waived = _again(entries[name], topic, when, version)
            (waived if is_waived else persisting).append(topic.guid)
            continue
        (waived if topic.waiver else new).append(topic.guid)
        _add_topic(entries, topic, index, when, model, version)
    present = {topic.guid for topic in topics} | set(kept)
    for guid in sorted(set(known) - present):
        data = entries[known[guid]]
        markup = read_markup(data)
        if markup.author == AUTHOR and standing_of(markup) in (Standing.OPEN, Standing.WAIVED_BY_PLAN):
            resolved.append(guid)
            entries[known[guid]] = close_markup(data, guid, when, model.get("file", ""), version)
    return BcfChange(
        new=tuple(new), persisting=tuple(persisting), resolved=tuple(resolved), waived=tuple(waived)
    )


def _topics_in(entries: Mapping[str, bytes]) -> dict[str, str]:
    """The entry of each topic's markup by GUID; some programs write GUIDs in upper case."""
    return {name.split("/")[0].lower(): name for name in sorted(entries) if name.endswith("/markup.bcf")}


def _add_topic(
    entries: dict[str, bytes],
    topic: Topic,
    index: int,
    when: str,
    model: Mapping[str, str],
    version: Version,
) -> None:
    markup = new_markup(topic, index, when, model, version)
    if topic.waiver:
        markup = comment_on(markup, topic.guid, _plan_words(topic), when, version, WAIVED)
    entries[f"{topic.guid}/markup.bcf"] = markup
    if topic.camera:
        entries[f"{topic.guid}/viewpoint.bcfv"] = viewpoint_xml(topic, version)
    if topic.snapshot:
        entries[f"{topic.guid}/snapshot.png"] = topic.snapshot


def _again(data: bytes, topic: Topic, when: str, version: Version) -> tuple[bytes, bool]:
    """A topic whose cause is still there, and whether it is waived."""
    standing = standing_of(read_markup(data))
    data = keep_markup(data, topic, when)
    if standing is Standing.WAIVED:
        return data, True
    if topic.waiver is not None and topic.waiver.where == PLAN:
        words = _plan_words(topic)
        ours = [text for author, text in read_markup(data).comments if author == AUTHOR]
        if standing is not Standing.WAIVED_BY_PLAN or ours[-1] != words:
            data = comment_on(data, topic.guid, words, when, version, WAIVED)
        return data, True
    if standing is Standing.WAIVED_BY_PLAN:
        data = comment_on(data, topic.guid, "The plan no longer waives it.", when, version, OPEN)
    elif standing is Standing.CLOSED:
        data = comment_on(data, topic.guid, "Found again.", when, version, OPEN)
    return data, False


def _plan_words(topic: Topic) -> str:
    assert topic.waiver is not None
    until = f" until {topic.waiver.until.isoformat()}" if topic.waiver.until else ""
    return f"{PLAN_WORDS} by {topic.waiver.by}{until}: {topic.waiver.reason}"


def read_waivers(path: Path) -> dict[str, Waiver]:
    """What people waived in a BCF file, by topic GUID; nothing where there is no file.

    Raises:
        OutputError: the file is no BCF file.
    """
    if not path.exists():
        return {}
    entries = _read(path)
    _version_of(path, entries)
    found = {}
    for guid, name in _topics_in(entries).items():
        waiver = waiver_of(read_markup(entries[name]), path.name)
        if waiver is not None:
            found[guid] = waiver
    return found


def _pack(entries: Mapping[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(entries, key=lambda n: (n != "bcf.version", n)):
            archive.writestr(zipfile.ZipInfo(name, _EPOCH), entries[name], zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
