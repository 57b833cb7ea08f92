"""The class that a plan gives to ceilings in a published or a project's own classification."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from ifcgrid.domain.errors import PlanError

__all__ = ["Classification", "read_classification"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Classification:
    """One class: the name of its system, its code and its name; edition and publisher where told."""

    system: str
    code: str
    name: str = ""
    edition: str = ""
    source: str = ""


def read_classification(value: Any) -> Classification:
    """A classification from a plan's table `{system = "...", code = "...", name = "..."}`.

    Raises:
        PlanError: it is no table, an entry is unknown or no text, or system or code is missing.
    """
    known = [f.name for f in fields(Classification)]
    if not isinstance(value, Mapping):
        raise PlanError(f'classification is {value!r}; give {{system = "...", code = "...", name = "..."}}')
    if unknown := sorted(set(value) - set(known)):
        raise PlanError(f"classification has no entry {unknown[0]!r}; allowed: {', '.join(known)}")
    for name in ("system", "code"):
        if name not in value:
            raise PlanError(f"classification.{name} is missing; give a text")
    for name, text in value.items():
        if not isinstance(text, str) or not text.strip():
            raise PlanError(f"classification.{name} is {text!r}; give a text")
    return Classification(**{name: text.strip() for name, text in value.items()})
