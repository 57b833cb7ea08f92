"""Model queries in the selector syntax of ifcopenshell, for plan files."""

from __future__ import annotations

from typing import Any

from ifcgrid.domain.errors import PlanError

__all__ = ["find_keys"]


def find_keys(file: Any, query: str) -> frozenset[str]:
    """GlobalIds of the spaces that a query finds in an open model.

    Raises:
        PlanError: the query cannot be read.
    """
    from ifcopenshell.util.selector import filter_elements  # slow to import, rarely wanted

    try:
        found = filter_elements(file, query)
    except Exception as error:  # the selector raises whatever its grammar raises
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise PlanError(
            f"query {query!r} cannot be read ({reason}); write for example "
            'IfcSpace, Pset_SpaceCommon.Category="Office"'
        ) from error
    return frozenset(e.GlobalId for e in found if e.is_a("IfcSpace"))
