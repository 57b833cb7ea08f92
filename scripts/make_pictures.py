"""Draws the README's pictures from the demo building: python scripts/make_pictures.py [FOLDER].

Run it in an environment that has ifcgrid. A test compares its result with what is
committed, so the README always shows what the program draws today.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from ifcgrid.pipeline import build_file

__all__ = ["main", "make_pictures"]

MODELS = Path(__file__).resolve().parents[1] / "models"
PICTURES = {
    "plan-Ground-floor.svg": "sandrell-ground-floor.svg",
    "setout-Ground-floor-003.svg": "sandrell-003-setout.svg",
}


def make_pictures(folder: Path) -> list[Path]:
    """Writes the pictures into a folder and returns their paths."""
    with tempfile.TemporaryDirectory() as scratch:
        build_file(
            MODELS / "sandrell-architecture.ifc",
            Path(scratch) / "out.ifc",
            others=[MODELS / "sandrell-services.ifc", MODELS / "sandrell-structure.ifc"],
            plan=MODELS / "sandrell-plan.toml",
            sheets=Path(scratch) / "sheets",
        )
        made = []
        for drawn, name in PICTURES.items():
            target = folder / name
            target.write_bytes((Path(scratch) / "sheets" / drawn).read_bytes())
            made.append(target)
    return made


def main(arguments: list[str]) -> int:
    """Writes into the folder named, or into models/."""
    for path in make_pictures(Path(arguments[0]) if arguments else MODELS):
        print(path.name)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
