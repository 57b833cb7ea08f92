"""What a wall has to keep back: fire, smoke, sound, as its common property set says.

Names of the properties are those of ISO 16739-1 (Pset_WallCommon); a wall gets what its
type states where it states nothing itself.
"""

from __future__ import annotations

from typing import Any

import ifcopenshell.util.element

__all__ = ["find_barrier"]

_SET = "Pset_WallCommon"
_NOTHING = frozenset({"", "0", "-", "none", "no", "n/a", "na", "not rated", "unrated", "nil", "false"})
_RATINGS = (("FireRating", "fire"), ("AcousticRating", "sound"))
_FLAGS = (("Compartmentation", "compartment"), ("SmokeStop", "smoke"))


def find_barrier(element: Any) -> str:
    """What an element keeps back, in a few words: `fire EI60, compartment`; "" where nothing is stated."""
    stated = ifcopenshell.util.element.get_pset(element, _SET) or {}
    words = []
    for name, word in _RATINGS:
        text = str(stated.get(name) or "").strip()
        letters = "".join(c for c in text.casefold() if c.isalpha())
        # Some exporters write the name of the property where nothing was stated.
        if text.casefold() not in _NOTHING and letters != name.casefold():
            words.append(f"{word} {text}")
    words += [word for name, word in _FLAGS if stated.get(name) is True]
    return ", ".join(words)
