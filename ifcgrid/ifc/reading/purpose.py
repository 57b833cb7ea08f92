"""Which spaces get no ceiling, by what the model says they are: shafts, stairs, lifts, outdoors.

The words are common practice, no source; they decide only what is proposed, every decision
names its evidence, and callers can keep a space all the same.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

import ifcopenshell
import ifcopenshell.util.element

__all__ = ["ENDINGS", "KEPT_WORDS", "THROUGH_FLOORS", "WORDS", "Purpose", "find_purpose", "kind_in_text"]

WORDS: dict[str, tuple[str, ...]] = {
    "shaft": (
        *("shaft", "riser", "duct riser", "lightwell", "light well"),  # English
        *("schacht", "installationsschacht", "lichtschacht"),  # German, Dutch
        *("gaine", "gaine technique", "tremie"),  # French
        *("cavedio", "patinillo", "shunt", "courette"),  # Italian, Spanish, Portuguese
        *("schakt", "sjakt", "skakt", "kuilu", "szacht", "szyb"),  # Swedish ... Polish
    ),
    "stair": (
        *("stair", "stairs", "stairway", "stairways", "stairwell", "staircase", "staircases"),
        *("escalator", "escalators"),
        *("treppe", "treppen", "treppenhaus", "treppenraum", "trap", "trappenhuis"),
        *("escalier", "escaliers", "cage d escalier", "escalera", "escaleras", "escada", "escadas"),
        *("scala", "scale", "vano scala", "vano scale"),
        *("trappa", "trapphus", "trapp", "trapperom", "trappe", "trapperum"),
        *("porras", "portaat", "porrashuone", "klatka schodowa", "schody", "schodiste"),
    ),
    "lift": (
        *("lift", "lifts", "elevator", "elevators", "lift shaft", "elevator shaft"),
        *("aufzug", "fahrstuhl", "aufzugsschacht", "liftschacht"),
        *("ascenseur", "ascensor", "ascensore", "elevador", "hiss", "heis", "hissi", "winda", "vytah"),
    ),
    "outdoor space": (
        *("roof", "terrace", "balcony", "patio", "courtyard", "loggia", "outdoor", "outside", "exterior"),
        *("dach", "terrasse", "balkon", "innenhof", "aussenbereich", "aussenraum"),
        *("dak", "terras", "dakterras", "buitenruimte", "binnenplaats"),
        *("toit", "toiture", "balcon", "exterieur", "cour", "azotea", "terraza", "tejado", "cubierta"),
        *("tetto", "terrazza", "balcone", "cortile", "telhado", "terraco", "varanda"),
        *("tak", "terrass", "balkong", "altan", "katto", "terassi", "parveke", "taras", "balkonie"),
    ),
    "plant room": ("plant room", "plantroom", "lift machine room", "elevator machine room"),
    "plenum": ("plenum", "ceiling void", "floor void", "crawl space", "crawlspace"),
}
"""Whole words and phrases, lower case and without accents, that name a kind of space."""

ENDINGS: dict[str, tuple[str, ...]] = {
    "shaft": ("schacht", "schakt", "sjakt"),
    "stair": ("treppe", "treppenhaus", "treppenraum", "trappenhuis", "trapphus"),
    "outdoor space": ("terrasse", "balkon"),
}
"""Ends of the long compound words of German, Dutch and the Nordic languages."""

THROUGH_FLOORS = frozenset({"shaft", "stair", "lift"})
"""Kinds that pass through a ceiling: a room that overlaps one is told so."""

KEPT_WORDS = frozenset(
    {
        *("lobby", "vestibule", "vestibulo", "foyer", "corridor", "waiting", "office", "lounge", "bar"),
        *("restaurant", "cafe", "store", "storage", "cupboard", "closet", "suite", "meeting", "wc"),
        *("vorraum", "flur", "buero", "lager", "gang", "hal", "halle", "berging", "kast", "portaal"),
        *("palier", "couloir", "sas", "bureau", "pasillo", "corridoio", "atrio"),
    }
)
"""Words that make a room of it after all: a lift lobby, a store under the stairs, a roof bar."""

_CATEGORY = re.compile(r"category|occupancy ?type|space ?type|room ?type|space ?function", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Purpose:
    """A kind of space that gets no ceiling, and the reason that names the evidence for it."""

    kind: str
    reason: str


def find_purpose(space: ifcopenshell.entity_instance) -> Purpose | None:
    """What a space is when that speaks against a ceiling; None when nothing does."""
    outside = _outside(space)
    if outside is not None:
        return outside
    for where, text in _texts(space):
        kind = kind_in_text(text)
        if kind:
            return Purpose(kind=kind, reason=f'{where} says {kind}: "{text}"')
    return None


def kind_in_text(text: str) -> str:
    """The kind of space without ceiling that a text names as a whole word, or "".

    >>> kind_in_text("Stair 2"), kind_in_text("TREPPENHAUS_NORD"), kind_in_text("Lift lobby")
    ('stair', 'stair', '')
    """
    words = _words(text)
    if KEPT_WORDS.intersection(words):
        return ""
    line = f" {' '.join(words)} "
    for kind, phrases in WORDS.items():
        if any(f" {phrase} " in line for phrase in phrases):
            return kind
    for kind, endings in ENDINGS.items():
        if any(word.endswith(endings) for word in words):
            return kind
    return ""


def _words(text: str) -> list[str]:
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    return re.findall(r"[^\W\d_]+", plain)


def _outside(space: ifcopenshell.entity_instance) -> Purpose | None:
    for attribute in ("PredefinedType", "InteriorOrExteriorSpace"):
        value = getattr(space, attribute, None)
        if value in ("EXTERNAL", "GFA"):
            kind = "outdoor space" if value == "EXTERNAL" else "gross floor area, not a room"
            return Purpose(kind=kind, reason=f"{attribute} {value} says {kind}")
    if _sets(space).get("Pset_SpaceCommon", {}).get("IsExternal") is True:
        return Purpose(kind="outdoor space", reason="Pset_SpaceCommon.IsExternal says outdoor space")
    return None


def _sets(space: ifcopenshell.entity_instance) -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = ifcopenshell.util.element.get_psets(space, psets_only=True)
    return found


def _texts(space: ifcopenshell.entity_instance) -> Iterator[tuple[str, str]]:
    """What is written about the space's use: where, and the text."""
    for where, value in (("name", space.LongName), ("name", space.Name), ("ObjectType", space.ObjectType)):
        if value:
            yield where, value
    kind = ifcopenshell.util.element.get_type(space)
    if kind is not None and kind.is_a("IfcTypeObject") and kind.Name:
        yield "type name", kind.Name
    for set_name, properties in sorted(_sets(space).items()):
        for name, value in sorted(properties.items()):
            if isinstance(value, str) and _CATEGORY.search(name):
                yield f"property {set_name}.{name}", value
