"""Set everything up and build the demo building's ceilings: python scripts/demo.py.

Works on a fresh machine with Python 3.11 or newer on Windows, macOS and Linux. Makes a
private environment in .venv, nothing global; results go to the folder out.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 (an older Python must get a sentence, not a traceback)
    sys.exit(
        f"ifcgrid needs Python 3.11 or newer; this is {sys.version.split()[0]} at {sys.executable}. "
        "Install a newer one (python.org, or your system's packages) and run this script with it."
    )

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

from environment import ROOT, SetupError, prepare, say

MODELS = ROOT / "models"
OUT = ROOT / "out"
BUILDINGS = {
    "sandrell": ("sandrell-architecture.ifc", ("sandrell-services.ifc", "sandrell-structure.ifc")),
    "gatehouse": ("gatehouse.ifc", ("gatehouse-services.ifc",)),
}
"""Name: the model with the rooms, and the models of the other trades."""

WISHES: dict[str, list[str | Path]] = {
    "sandrell": ["--plan", MODELS / "sandrell-plan.toml"],
    "gatehouse": ["--system", "lay-in-2x2-ft"],
}


def build(python: Path, name: str) -> int:
    """Build one building's ceilings by the command line; its exit code."""
    model, others = BUILDINGS[name]
    command: list[str | Path] = [
        python,
        "-m",
        "ifcgrid",
        "build",
        MODELS / model,
        "--output",
        OUT / f"{name}-ceilings.ifc",
    ]
    command += ["--with", *(MODELS / other for other in others)]
    command += ["--sheets", OUT / f"{name}-sheets", "--dxf", "--json", OUT / f"{name}.json"]
    command += ["--takeoff", OUT / f"{name}-takeoff.xlsx", "--bcf", OUT / f"{name}-issues.bcf"]
    command += ["--report", OUT / f"{name}-floor.html"]
    command += WISHES[name]
    say(f"\nBuilding the ceilings of {name}")
    return subprocess.run([str(part) for part in command], cwd=ROOT, check=False).returncode


def coordinate(python: Path, name: str) -> int:
    """List clashes with their ways out, and how high ceilings could hang; the worse exit code."""
    built, codes = OUT / f"{name}-ceilings.ifc", []
    others = ["--with", *(MODELS / other for other in BUILDINGS[name][1])]
    for word, target in (("clash", f"{name}-clashes.csv"), ("plenum", f"{name}-plenum.csv")):
        say(f"\n{word} of {name}")
        command = [python, "-m", "ifcgrid", word, built, *others, "--csv", OUT / target]
        codes.append(subprocess.run([str(part) for part in command], cwd=ROOT, check=False).returncode)
    return max(codes)


def tell(names: Sequence[str]) -> None:
    """Where the results lie, in plain words."""
    print("\nDone. The results, all in the folder out:")
    for name in names:
        sheets = sorted((OUT / f"{name}-sheets").glob("setout-*.pdf"))
        plans = sorted((OUT / f"{name}-sheets").glob("*.dxf"))
        print(f"  out/{name}-ceilings.ifc   the model with its ceilings; open it in any IFC viewer")
        print(f"  out/{name}-floor.html     the whole floor at a glance; open it in any browser")
        print(f"  out/{name}-sheets         {len(sheets)} set-out sheets, as PDF to print and SVG to look at")
        drawn = "1 ceiling plan" if len(plans) == 1 else f"{len(plans)} ceiling plans"
        print(f"                            and {drawn} as DXF, for CAD programs")
        print(f"  out/{name}-takeoff.xlsx   what to order and how to cut it, with room quantities")
        print(f"  out/{name}-issues.bcf     one topic a clash, with view, picture and way out")
        print(
            f"  out/{name}-clashes.csv    the same as a list; {name}-plenum.csv: how high ceilings could hang"
        )
        print(f"  out/{name}.json           every room's layout, counts and findings, for programs")
    print(
        "\nThe buildings are invented, with clashes planted on purpose, so findings are expected.\n"
        "Nothing here replaces the local code, the authority having jurisdiction or licensed design."
    )


def main() -> int:
    """Set up, build both demo buildings, say where the results lie."""
    try:
        python = prepare("cutting", "drawings", "tables")
    except SetupError as error:
        say(str(error))
        return 2
    OUT.mkdir(exist_ok=True)
    for name in BUILDINGS:
        shutil.rmtree(OUT / f"{name}-sheets", ignore_errors=True)
        # 1 means: done, and findings fail. The demo has planted ones, so that is a success here.
        (OUT / f"{name}-issues.bcf").unlink(missing_ok=True)
        code = build(python, name)
        code = code if code not in (0, 1) else coordinate(python, name)
        if code not in (0, 1):
            say(f"The ceilings of {name} could not be built; the reason stands above.")
            return code
    tell(list(BUILDINGS))
    return 0


if __name__ == "__main__":
    sys.exit(main())
