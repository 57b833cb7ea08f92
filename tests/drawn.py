"""Reads drawings back from their SVG: every text with its box, every dimension with its ends."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.text import Label

__all__ = [
    "SVG",
    "Dimension",
    "crossing_texts",
    "dimensions_of",
    "outside_texts",
    "page_of",
    "texts_of",
    "words_of",
]

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Dimension:
    """A printed length and the line on paper that it is the length of, (n, 2) in mm."""

    says: str
    points: NDArray[np.float64]

    @property
    def length(self) -> float:
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


def texts_of(svg: str) -> list[Label]:
    """Every text on a drawing, read back from the file."""
    labels = []
    for element in ElementTree.fromstring(svg.encode()).iter(f"{SVG}text"):
        labels.append(
            Label(
                x=float(element.get("x", "nan")),
                y=float(element.get("y", "nan")),
                text=element.text or "",
                size=float(element.get("font-size", "nan")),
                anchor=element.get("text-anchor", "start"),
                is_vertical="rotate(-90" in element.get("transform", ""),
                is_bold=element.get("font-weight") == "bold",
            )
        )
    return labels


def words_of(*svgs: str) -> str:
    return " ".join(" ".join(label.text for svg in svgs for label in texts_of(svg)).split())


def page_of(svg: str) -> Box:
    width, height = map(float, ElementTree.fromstring(svg.encode()).get("viewBox", "").split()[2:])
    return Box(0, 0, width, height)


def crossing_texts(svg: str) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes share more than an edge."""
    labels = [(label.text, label.box) for label in texts_of(svg)]
    return [(a, b) for (a, box), (b, other) in combinations(labels, 2) if box.meets(other)]


def outside_texts(svg: str) -> list[str]:
    """Texts that are not wholly on the page."""
    page = page_of(svg)
    return [label.text for label in texts_of(svg) if not page.holds(label.box)]


def dimensions_of(svg: str) -> list[Dimension]:
    """Every line that bears a printed length, from its first to its last point."""
    found = []
    for path in ElementTree.fromstring(svg.encode()).iter(f"{SVG}path"):
        if says := path.get("data-says"):
            points = [list(map(float, p.split())) for p in re.findall(r"[\d.-]+ [\d.-]+", path.get("d", ""))]
            found.append(Dimension(says, np.array(points)))
    return found
