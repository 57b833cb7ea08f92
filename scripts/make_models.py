"""Writes the demo models and what is to be expected of them.

    python scripts/make_models.py [FOLDER]

An invented scenario: the Sandrell Library and Town Rooms, a public building of two
storeys with a wing turned 17 degrees, as three federated IFC4 files in millimetres
(architecture, services, structure), and its gatehouse in IFC2X3 in feet, with a services
file in metres. `expected.json` states, for tests, every room with its status and ceiling
height and every clash planted on purpose; `sandrell-plan.toml` is a plan file for the
library, `sandrell-seismic-plan.toml` one that also holds its hall against earthquakes. The
same bytes come out each time.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from demo_building.architecture import write_architecture
from demo_building.gatehouse import write_gatehouse
from demo_building.ledger import Ledger
from demo_building.services import write_services
from demo_building.structure import write_structure
from demo_building.wishes import PLAN, SEISMIC_PLAN

__all__ = ["main", "make_models"]

STEM = "sandrell"
BUILDING = "Sandrell Library and Town Rooms"
GATEHOUSE = "Sandrell Gatehouse"


def make_models(folder: Path) -> list[Path]:
    """Writes all files into a folder and returns their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    library, gatehouse = Ledger(), Ledger()
    models = [
        write_architecture(STEM, BUILDING, library),
        write_structure(STEM, BUILDING, library),
        write_services(STEM, BUILDING, library),
        *write_gatehouse(GATEHOUSE, gatehouse),
    ]
    paths = [model.save(folder) for model in models]
    expected = {
        "about": "Invented demo buildings; lengths in mm, levels as model z; see scripts/make_models.py.",
        "buildings": [
            {
                "name": BUILDING,
                "files": [p.name for p in paths[:3]],
                "system": "lay-in-600x600",
                **library.table(),
            },
            {
                "name": GATEHOUSE,
                "files": [p.name for p in paths[3:]],
                "system": "lay-in-2x2-ft",
                **gatehouse.table(),
            },
        ],
    }
    target = folder / "expected.json"
    target.write_bytes((json.dumps(expected, indent=1, ensure_ascii=False) + "\n").encode("utf-8"))
    plans = {f"{STEM}-plan.toml": PLAN, f"{STEM}-seismic-plan.toml": SEISMIC_PLAN}
    for name, text in plans.items():
        (folder / name).write_bytes(text.encode("utf-8"))
    return [*paths, target, *(folder / name for name in plans)]


def main(arguments: list[str]) -> int:
    """Writes into the folder named, or into models/ beside scripts/."""
    folder = Path(arguments[0]) if arguments else Path(__file__).resolve().parents[1] / "models"
    for path in make_models(folder):
        print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
