"""What was measured on site, as text in a model, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import shapely
from shapely import Polygon

from ifcgrid.domain.measured import AsMeasured, LayoutBefore, MeasuredLength, WallLength

__all__ = ["from_text", "to_text"]


def _plain(table: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in table.items() if name != "design"}


def to_text(measured: AsMeasured, outline: Polygon) -> str:
    """Everything of a measured outline as JSON, from which `from_text` reads it back.

    Coordinates keep all their digits, so that what was laid out is found again.
    """
    state = {
        name: _plain(value) if isinstance(value, dict) else value
        for name, value in _plain(asdict(measured)).items()
    }
    return json.dumps(
        {"outline": outline.wkb_hex, "design": measured.design.wkb_hex, **state}, sort_keys=True
    )


def from_text(text: str) -> tuple[AsMeasured, Polygon]:
    """What `to_text` wrote: the report and the adjusted outline.

    Raises:
        ValueError: the text was changed and says nothing that can be used.
    """
    try:
        state = json.loads(text)
        outline, design = shapely.from_wkb(state.pop("outline")), shapely.from_wkb(state.pop("design"))
        if not isinstance(outline, Polygon) or not isinstance(design, Polygon):
            raise ValueError("an outline is no polygon")
        before = state.pop("before")
        if before is not None:
            before = LayoutBefore(**before | {"borders": tuple((a, b, c) for a, b, c in before["borders"])})
        lengths = tuple(MeasuredLength(**one) for one in state.pop("lengths"))
        walls = tuple(WallLength(**one) for one in state.pop("walls"))
        notes = tuple(state.pop("notes"))
        found = AsMeasured(design=design, lengths=lengths, walls=walls, notes=notes, before=before, **state)
    except (TypeError, KeyError, AttributeError, shapely.GEOSException) as error:
        raise ValueError(f"the record of a measured room cannot be read: {error}") from error
    return found, outline
