"""How a topic that stands in a file stands: open, closed, or waived by a person or by the plan.

BCF leaves the words of a status to the project, so the usual ones are known here in English
and others go by who wrote them. A person waives a topic by a status that says so, or by
closing it and writing why; closed without a word, a cause that is still there is open.
"""

from __future__ import annotations

from enum import Enum

from ifcgrid.domain.waiver import Waiver
from ifcgrid.outputs.bcf.markup import AUTHOR, CLOSED, GONE_WORDS, Markup

__all__ = ["PLAN_WORDS", "Standing", "standing_of", "waiver_of"]

_WAIVED = frozenset(
    {"waived", "accepted", "approved", "rejected", "ignored", "invalid", "won't fix", "wont fix", "no action"}
)
_CLOSED = frozenset({"closed", "resolved", "done", "fixed", "solved", "completed", "verified"})

PLAN_WORDS = "Waived in the plan"
"""Our comment on a topic that the plan waives begins so."""

_NO_REASON = "no reason is written in the topic"


class Standing(Enum):
    """How a topic stands."""

    OPEN = "open"
    CLOSED = "closed"
    WAIVED = "waived"
    WAIVED_BY_PLAN = "waived by the plan"


def standing_of(markup: Markup) -> Standing:
    """How a topic stands."""
    status = markup.status.casefold()
    ours = [text for author, text in markup.comments if author == AUTHOR]
    last = ours[-1] if ours and markup.modified_by in ("", AUTHOR) else ""
    if status in _WAIVED:
        return Standing.WAIVED_BY_PLAN if last.startswith(PLAN_WORDS) else Standing.WAIVED
    if status not in _CLOSED:
        return Standing.OPEN
    if last.startswith(GONE_WORDS):
        return Standing.CLOSED
    author, text = markup.comments[-1] if markup.comments else ("", "")
    has_reason = status == CLOSED.casefold() and author not in ("", AUTHOR) and bool(text.strip())
    return Standing.WAIVED if has_reason else Standing.CLOSED


def waiver_of(markup: Markup, where: str) -> Waiver | None:
    """The waiver that a person wrote into a topic; its reason is their last comment."""
    if standing_of(markup) is not Standing.WAIVED:
        return None
    theirs = [(author, text) for author, text in markup.comments if author != AUTHOR and text.strip()]
    author, text = theirs[-1] if theirs else (markup.modified_by, _NO_REASON)
    return Waiver(reason=text.strip(), by=author or "somebody", where=where)
