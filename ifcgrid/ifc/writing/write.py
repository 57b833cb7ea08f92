"""Writes ceilings into an open model, or into the text of the file that it was read from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from dataclasses import replace as with_changes
from os import PathLike
from typing import Any

import ifcopenshell

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.edit import Edit
from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.finding import Finding
from ifcgrid.ifc.edits import Survey, survey_edits
from ifcgrid.ifc.lineage import RoomFacts, find_earlier, read_facts
from ifcgrid.ifc.project import ModelFile, open_model, read_text
from ifcgrid.ifc.writing.compile import Compiled, compile_ceilings
from ifcgrid.ifc.writing.context import read_context
from ifcgrid.ifc.writing.header import sign_model
from ifcgrid.ifc.writing.keep import Keeping, find_keepable, keep_elements
from ifcgrid.ifc.writing.model_sink import write_rows
from ifcgrid.ifc.writing.removal import Removal
from ifcgrid.ifc.writing.remove import take_ceilings, take_elements
from ifcgrid.ifc.writing.row_edits import find_roots, renamed
from ifcgrid.ifc.writing.rows import Rows
from ifcgrid.ifc.writing.save import check_name, save_model, save_pieces
from ifcgrid.ifc.writing.step_sink import edit_text
from ifcgrid.ifc.writing.step_text import OddTextError, StepText

__all__ = ["SINKS", "FileReport", "WriteReport", "write_ceilings", "write_file"]

SINKS = ("auto", "text", "model")
"""Ways to a file: into the text of the model's own file, or through the open model; `auto` takes the
first that can be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteReport:
    """What was written.

    `counts` by part (`covering`, `assembly`, `main_runner`, `cross_tee`, `second_tee`,
    `wall_angle`, `hanger`, `panel`, `opening`, `setout`, `type`, `filled`, `interference`);
    `adopted` and `replaced` are GlobalIds of the architect's ceilings; `removed` counts the
    elements of an earlier run. `edits` are what somebody changed of it by hand, and whether
    that was kept. `owners` gives by room what GlobalIds are made from, where that is not the
    room's own GlobalId.
    """

    counts: Mapping[str, int]
    adopted: tuple[str, ...]
    replaced: tuple[str, ...]
    removed: int
    edits: tuple[Edit, ...] = ()
    owners: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReport:
    """What was written, and how: the `sink` is `text` or `model`, `why` says why it is not the text."""

    written: WriteReport
    sink: str
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _How:
    """What the callers of both ways choose."""

    detail: str
    replace: bool
    provenance: Mapping[str, str] | None
    keep_edits: bool
    earlier: ifcopenshell.file | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Draft:
    """All that a sink needs: what goes, what comes, and what to report of both."""

    removal: Removal
    compiled: Compiled
    report: WriteReport
    keeping: Keeping | None = None


def write_ceilings(
    file: ifcopenshell.file,
    ceilings: Sequence[Ceiling],
    findings: Sequence[Finding] = (),
    *,
    detail: str = "grid",
    replace: bool = False,
    provenance: Mapping[str, str] | None = None,
    keep_edits: bool = False,
    earlier: ifcopenshell.file | None = None,
) -> WriteReport:
    """Replaces what an earlier run wrote into an open model by these ceilings.

    Nothing else in the model is changed: every entity that is not ours keeps its id and its
    attributes. Only the header names us, see `ifcgrid.ifc.writing.header`. What we add has
    the ids after the greatest one of the model.

    Args:
        file: an open model.
        ceilings: one a zone; their rooms' keys are GlobalIds of spaces of this model.
        findings: failing clashes become relations where the schema has one.
        detail: `ceiling`, `grid` or `panels`; see `ifcgrid.ifc.writing.compile.DETAILS`.
        replace: remove the architect's ceilings of these rooms and write our own; without
            it they are adopted.
        provenance: texts for the provenance set, by property name. Names that begin with
            `Input` tell of the file that was read; see `ifcgrid.ifc.writing.provenance`.
        keep_edits: leave what somebody changed by hand since the last run as it is, see
            `ifcgrid.ifc.writing.keep`; without it that is replaced too. The report names it
            in either case.
        earlier: a model that an earlier run wrote. Rooms that are found in it by GlobalId, by
            storey, number and name, or by their footprint give ceilings the GlobalIds that
            they had there. What the open model itself holds of an earlier run goes first.

    Raises:
        ModelError: a room's space is not in the model, or the model has no 3D context.
        ValueError: the detail is unknown.
    """
    how = _How(detail=detail, replace=replace, provenance=provenance, keep_edits=keep_edits, earlier=earlier)
    draft = _draft(file, ceilings, findings, how)
    _into_model(file, draft)
    return draft.report


def write_file(
    model: ModelFile,
    ceilings: Sequence[Ceiling],
    findings: Sequence[Finding],
    path: str | PathLike[str],
    *,
    timestamp: str,
    detail: str = "grid",
    replace: bool = False,
    provenance: Mapping[str, str] | None = None,
    keep_edits: bool = False,
    earlier: ifcopenshell.file | None = None,
    overwrite: bool = False,
    sink: str = "auto",
) -> FileReport:
    """Writes a copy of a model's file with these ceilings, whole or not at all.

    The text of the file is kept byte for byte but for what an earlier run wrote, the
    header's names and the time. Where it cannot be edited in place, the open model is
    changed and written instead, and the report says why.

    Args:
        model: a model that was read from a file; with the sink `model` any open model, which is changed.
        ceilings: one a zone, as for `write_ceilings`.
        findings: failing clashes, as there.
        path: where to, ending in one of `ifcgrid.ifc.writing.save.SUFFIXES`.
        timestamp: ISO 8601 time for the header; the caller has the clock.
        detail: `ceiling`, `grid` or `panels`.
        replace: remove the architect's ceilings, as there.
        provenance: texts for the provenance set, as there.
        keep_edits: leave what was changed by hand as it is, as there.
        earlier: a model whose GlobalIds are to live on, as there.
        overwrite: allow `path` to be the model's own.
        sink: one of `SINKS`. Tests use it to compare the two ways; nobody else needs it.

    Raises:
        ModelError: a room's space is not in the model, or the model has no 3D context.
        OutputError: the target cannot be written, or the text cannot be edited although `sink` asks for it.
        ValueError: the detail or the sink is unknown.
    """
    if sink not in SINKS:
        raise ValueError(f"sink {sink!r}; choose one of {', '.join(SINKS)}")
    check_name(path, model.path, overwrite=overwrite)
    text, why, unread = None, "asked for", 0
    if sink != "model":
        try:
            text = _text_of(model)
            unread = text.greatest_unread
        except OddTextError as odd:
            text, why = None, _unless(sink, odd, model)
    how = _How(detail=detail, replace=replace, provenance=provenance, keep_edits=keep_edits, earlier=earlier)
    draft = _draft(model.file, ceilings, findings, how, unread)
    if text is not None and draft.keeping is not None:
        text, why = None, "what was changed by hand is kept"
    if text is not None:
        try:
            edited = edit_text(
                text, draft.removal, draft.compiled.rows, model.file.schema_identifier, timestamp
            )
            save_pieces(edited, path)
            return FileReport(written=draft.report, sink="text")
        except OddTextError as odd:
            why = _unless(sink, odd, model)
    if model.is_lazy:
        # What the parser has not looked at yet it would leave out without a word.
        model = open_model(model.path)
        draft = _draft(model.file, ceilings, findings, how)
    _into_model(model.file, draft)
    save_model(model.file, path, timestamp=timestamp, source=model.path, overwrite=overwrite)
    return FileReport(written=draft.report, sink="model", why=why)


def _draft(
    file: ifcopenshell.file,
    ceilings: Sequence[Ceiling],
    findings: Sequence[Finding],
    how: _How,
    unread: int = 0,
) -> _Draft:
    """Works out what goes and what comes, with ids above `unread`; the model is not touched."""
    known = (*read_facts(file), *(read_facts(how.earlier) if how.earlier is not None else ()))
    removal, survey = Removal(file), _as_rooms_are_now(survey_edits(file), file, ceilings, known)
    zones = {ceiling.key for ceiling in ceilings}
    kept = {k for k, e in survey.edits.items() if how.keep_edits and (e.zone in zones or not e.zone)}
    staying = {survey.present[k] for k in kept if k in survey.present}
    changed = [file.by_id(i) for k, i in survey.present.items() if survey.edits[k].zone]
    removed = take_ceilings(file, removal, changed, staying)
    replaced = _take_coverings(file, ceilings, removal) if how.replace else ()
    context = read_context(file, ceilings, findings, removal.dead.keys(), known)
    compiled = compile_ceilings(
        with_changes(context, first=max(context.first, unread + 1)),
        ceilings,
        findings,
        how.detail,
        replace=how.replace,
        provenance=how.provenance,
        earlier=removed.provenance,
    )
    if removed.elements or survey.expected:
        rows = _without_doubles(file, compiled.rows, removal, staying)
        compiled = with_changes(compiled, rows=rows)
    keeping = None
    if kept:
        kept = find_keepable(survey, kept, compiled.rows)
        removal.take(file.by_id(i) for k, i in survey.present.items() if i in staying and k not in kept)
        edits = {k: e for k, e in survey.edits.items() if k in kept}
        keeping = keep_elements(file, with_changes(survey, edits=edits), compiled.rows, removal)
    report = WriteReport(
        counts=compiled.counts,
        adopted=compiled.adopted,
        replaced=replaced,
        removed=removed.elements,
        edits=tuple(with_changes(edit, is_kept=key in kept) for key, edit in survey.edits.items()),
        owners=context.owners,
    )
    return _Draft(removal=removal, compiled=compiled, report=report, keeping=keeping)


def _as_rooms_are_now(
    survey: Survey, file: ifcopenshell.file, ceilings: Sequence[Ceiling], known: Sequence[RoomFacts]
) -> Survey:
    """The survey with the present keys of zones whose rooms got new GlobalIds since."""
    if not survey.edits:
        return survey
    rooms = list({room.key: room for ceiling in ceilings for room in ceiling.zone.rooms}.values())
    earlier = find_earlier(rooms, known, [s.GlobalId for s in file.by_type("IfcSpace")])
    now = {facts.key: key for key, facts in earlier.items()}
    return with_changes(
        survey, edits={k: with_changes(e, zone=now.get(e.zone, e.zone)) for k, e in survey.edits.items()}
    )


def _without_doubles(file: ifcopenshell.file, rows: Rows, removal: Removal, staying: Set[int]) -> Rows:
    """Sees to it that no GlobalId is given twice; gives the rows.

    What somebody cut loose from its whole or left without any element goes. A relation or
    set of ours that others use by now stays theirs, and the new one gets another GlobalId.
    """
    ids = find_roots(rows).ids
    doubles = [r for r in file.by_type("IfcRoot") if r.id() not in removal.dead and r.GlobalId in ids]
    kept = {e.id() for key in staying for e in file.get_inverse(file.by_id(key))} | staying
    held = {e.id() for d in doubles if d.id() in kept for e in file.traverse(d, max_levels=1)}
    doubles = [d for d in doubles if d.id() not in kept | held]
    removal.take(d for d in doubles if d.is_a("IfcProduct") or not _users(file, d, removal))
    return renamed(rows, {d.GlobalId for d in doubles if d.id() not in removal.dead})


def _users(file: ifcopenshell.file, root: Any, removal: Removal) -> bool:
    """Whether anything that stays is related by a relation, or uses a set."""
    if root.is_a("IfcRelationship"):
        return True
    return any(i.id() not in removal.dead for i in file.get_inverse(root))


def _take_coverings(
    file: ifcopenshell.file, ceilings: Sequence[Ceiling], removal: Removal
) -> tuple[str, ...]:
    own = [r.covering for c in ceilings for r in c.zone.rooms if r.covering is not None]
    keys = {key for covering in own for key in (covering.key, *covering.also)}
    staying = [c for c in file.by_type("IfcCovering") if c.id() not in removal.dead]
    found = {c.GlobalId: c for c in staying if c.GlobalId in keys}
    take_elements([found[key] for key in sorted(found)], removal)
    return tuple(sorted(found))


def _into_model(file: ifcopenshell.file, draft: _Draft) -> None:
    draft.removal.apply()
    if draft.keeping is None:
        write_rows(file, draft.compiled.rows)
    else:
        write_rows(file, draft.keeping.rows)
        draft.keeping.finish(file)
    sign_model(file)


def _text_of(model: ModelFile) -> StepText:
    """The text that a model was read from.

    Raises:
        OddTextError: there is none.
    """
    content = read_text(model)
    if content is None:
        raise OddTextError("the model was not read from a file, or the file has changed since")
    return StepText(content)


def _unless(sink: str, odd: OddTextError, model: ModelFile) -> str:
    """Why the text cannot be edited, unless that was asked for."""
    if sink == "text":
        raise OutputError(f"the text of {model.path} cannot be edited in place: {odd}") from odd
    return str(odd)
