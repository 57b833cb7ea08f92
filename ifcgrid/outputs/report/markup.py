"""HTML and SVG from plain values: every text is escaped here and nowhere else.

`element` and `join` give `Markup`, text that is known to be markup. Any other text that is
put into an element is content and is escaped, so that a room called `<script>` stays a name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape

__all__ = ["Content", "Markup", "element", "join"]

VOID = frozenset({"br", "col", "input", "link", "meta"})
"""Elements of HTML that have no end tag."""


class Markup(str):
    """Text that is markup already; made by this module and of constants alone."""

    __slots__ = ()


Content = str | float | int | None | Iterable["Content"]
"""What may stand in an element: markup as it is, other text and numbers as text, None as nothing."""


_FORBIDDEN = re.compile("[\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f\\ud800-\\udfff\\ufffe\\uffff]")
"""Characters that HTML and XML forbid or that no page can show."""


def _clean(text: str) -> str:
    return _FORBIDDEN.sub("\ufffd", text)


def _parts(content: Content) -> Iterable[str]:
    if content is None:
        return
    if isinstance(content, Markup):
        yield content
    elif isinstance(content, str):
        yield escape(_clean(content), quote=False)
    elif isinstance(content, int | float):
        yield str(content)
    else:
        for item in content:
            yield from _parts(item)


def join(*content: Content) -> Markup:
    """Contents one after the other."""
    return Markup("".join(part for item in content for part in _parts(item)))


def element(tag: str, *content: Content, **attributes: str | float | bool | None) -> Markup:
    """One element. `class_` and `for_` are class and for; `data_room` is data-room.

    An attribute of True stands without a value; None and False leave it out.

    >>> element("td", "<b>", class_="number", title='"')
    '<td class="number" title="&quot;">&lt;b&gt;</td>'
    """
    words = [tag]
    for name, value in attributes.items():
        name = name.rstrip("_").replace("_", "-")
        if value is True:
            words.append(name)
        elif value is not None and value is not False:
            words.append(f'{name}="{escape(_clean(str(value)))}"')
    head = f"<{' '.join(words)}>"
    return Markup(head) if tag in VOID else Markup(f"{head}{join(*content)}</{tag}>")
