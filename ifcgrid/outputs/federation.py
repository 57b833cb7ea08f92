"""What does not fit of further models, for people: a check against a misplaced model finds nothing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

__all__ = ["federation_lines"]


def federation_lines(model: Mapping[str, Any]) -> list[str]:
    """A paragraph on the models of a record that were moved into place, or do not fit; none where all do."""
    lines: list[str] = []
    for other in model.get("with", ()):
        told = other.get("alignment") or {}
        name = "".join(c for c in PurePath(str(other.get("path", ""))).name if c.isprintable()) or "model"
        shift = told.get("shift_mm") or (0.0, 0.0, 0.0)
        turn = told.get("turn_deg") or 0.0
        if any(shift) or turn:
            place = ", ".join(f"{x / 1000:,.3f}" for x in shift)
            lines.append(f"  {name}: put by its map conversion to {place} m, turned by {turn:g} degrees")
        lines += [f"  {name}: {note}" for note in told.get("notes", ())]
    return ["", "Further models: look at these before you trust a clash", *lines] if lines else []
