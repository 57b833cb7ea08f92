r"""Text that a model gave, made fit for a DXF file: shown as it is, never read as a code.

Codes as in the DXF reference: `%%d` and the like in texts, `^` before control characters,
`\U+0000` and `\M+00000` for characters of other code pages.
"""

from __future__ import annotations

import re

__all__ = ["LONGEST", "LONGEST_OF_OURS", "plain"]

LONGEST = 250
"""Characters of a text; some readers take no more than 255."""

LONGEST_OF_OURS = 2000
"""Characters of a line of the sheet, within what a text can hold since the year 2000 (DXF reference)."""

_CODE = re.compile(r"\\(?=[UuMm]\+)")


def plain(text: str, most: int = LONGEST) -> str:
    r"""The text without control characters and codes, cut with an ellipsis when it is longer than `most`.

    A code is parted by one visible character, so that it is shown and not carried out.

    >>> plain("50%%d"), plain("a^Jb"), plain("x\ny"), plain(r"\U+0041")
    ('50% %d', 'a^ Jb', 'x y', '\\ U+0041')
    """
    shown = "".join(
        letter if letter.isprintable() and not "\ud800" <= letter <= "\udfff" else " " for letter in text
    )
    shown = _CODE.sub(r"\\ ", shown)
    while "%%" in shown:
        shown = shown.replace("%%", "% %")
    cut = shown if len(shown) <= most else shown[: most - 1].rstrip() + "…"
    # Some readers take a caret at the end for half a code.
    return cut.replace("^", "^ ") + (" " if cut.endswith("^") else "")
