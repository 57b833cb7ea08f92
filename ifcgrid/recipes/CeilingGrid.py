"""Ceilings in every room of the model that a host has open. The file's name is the recipe's.

Hosts find `Patcher` by this file, show the words of its `__init__` and pass all arguments
as text, "" for what nobody filled in.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from typing import Any

from ifcgrid import __version__, build, open_model, read_plan_file, write_ceilings
from ifcgrid.pipeline import with_defaults

__all__ = ["Patcher"]


class Patcher:
    """Lays out ceilings in an open model and writes them into it."""

    def __init__(
        self,
        file: Any,
        logger: logging.Logger | None = None,
        plan: str = "",
        system: str = "",
        detail: str = "grid",
        others: str = "",
        policy: str = "",
    ) -> None:
        """Lays out suspended lay-in ceilings in every room and writes them into the model.

        What an earlier run wrote is replaced. The log names rooms that got no ceiling and
        what a check found. A basis for work, not an approval: local codes, the authority
        having jurisdiction and licensed practice decide.

        :param plan: plan file (TOML) that says which rooms get what; empty for none
        :param system: grid system of rooms the plan does not name; empty for the default
        :param detail: ceiling, grid or panels
        :param others: further models of the building (services, structure), parted by ;
        :param policy: what counts as the better layout; empty for the default
        """
        self.file = file
        self._log = logger or logging.getLogger("ifcgrid")
        self._plan = plan or None
        self._chosen = (system or None, policy or None)
        self._detail = detail or "grid"
        self._others = [path.strip() for path in others.split(";") if path.strip()]

    def patch(self) -> None:
        """Does the work; an error leaves the model as it was.

        Raises:
            IfcGridError: an argument or a model is wrong; the message names it.
        """
        plan = with_defaults(read_plan_file(self._plan), *self._chosen)
        others = [open_model(path) for path in self._others]
        done = build(self.file, plan, others, on_room=self._tell)
        write_ceilings(
            self.file,
            done.ceilings,
            done.findings,
            detail=self._detail,
            provenance={"Library": f"ifcgrid {__version__}"},
        )
        self._report(done.skipped, done.findings)

    def _tell(self, room: str, done: int, total: int) -> None:
        self._log.info("%d of %d: room %s", done, total, room)

    def _report(self, skipped: Sequence[Any], findings: Sequence[Any]) -> None:
        for room in skipped:
            self._log.warning("room %s %s got no ceiling: %s", room.number, room.name, room.reason)
        for finding in findings:
            if finding.verdict == "fail" and finding.waiver is None:
                self._log.warning("%s", finding.message)
