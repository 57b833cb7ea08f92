"""What makes a cause the same from run to run."""

from __future__ import annotations

import uuid

from ifcgrid.domain.finding import Finding

__all__ = ["NAMESPACE", "cause_of", "others_of"]

NAMESPACE = uuid.UUID("5d0d2c1e-9a55-5b7e-8f0e-3b1a7c64e2d1")
"""Names of causes live here. Changing it would make every known cause a new one."""


def cause_of(finding: Finding) -> str:
    """The name of a finding's cause: a GUID made of rule, room and the elements that are not ours.

    Our own parts come and go with the grid: a duct that crosses eight hangers instead of
    nine is the same cause. Only a finding that names nothing else goes by them.
    """
    others = sorted(others_of(finding)) or sorted(finding.subjects)
    return str(uuid.uuid5(NAMESPACE, "|".join([finding.rule, finding.room, *others])))


def others_of(finding: Finding) -> frozenset[str]:
    """The elements that a finding names and that are no parts of our ceilings, by key."""
    return frozenset(s for s in finding.subjects if "/" not in s)
