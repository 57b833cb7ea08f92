"""Set everything up and run the whole test suite: python scripts/test.py [pytest arguments].

Works on a fresh machine with Python 3.11 or newer on Windows, macOS and Linux. Makes a
private environment in .venv, nothing global. Where Node.js is there, what two tests need
from npm is installed beside them; elsewhere those tests skip with the reason, and so do the
tests in a browser where there is no Chromium.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 (an older Python must get a sentence, not a traceback)
    sys.exit(
        f"ifcgrid needs Python 3.11 or newer; this is {sys.version.split()[0]} at {sys.executable}. "
        "Install a newer one (python.org, or your system's packages) and run this script with it."
    )

import json
import shutil
import subprocess
from pathlib import Path

from environment import ROOT, SetupError, prepare, say

WORKERS = ["-n", "auto", "--dist", "loadfile"]
NPM = {
    ROOT / "tests" / "reader": ("web-ifc", "the test with a second IFC reader"),
    ROOT / "tests" / "browser": ("axe-core", "the accessibility audit of the floor report"),
}
"""Folders with a package.json: the package that they need, and the test that needs it."""


def _read(package: Path) -> dict[str, object]:
    try:
        found = json.loads(package.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _wanted(folder: Path, name: str) -> object:
    package = _read(folder / "package.json")
    kinds = (package.get(kind) for kind in ("dependencies", "devDependencies"))
    return next((kind[name] for kind in kinds if isinstance(kind, dict) and name in kind), None)


def _install(npm: str, folder: Path) -> str:
    """What went wrong, "" when nothing did."""
    command = [npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
    try:
        run = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=300)
    except (OSError, subprocess.TimeoutExpired) as error:
        return str(error)
    return "" if run.returncode == 0 else (run.stderr or run.stdout).strip() or "npm failed"


def prepare_npm_packages() -> None:
    """Install what some tests need from npm; say which will be skipped when that cannot be done."""
    npm = shutil.which("npm") if shutil.which("node") else None
    for folder, (name, test) in NPM.items():
        if npm is None:
            say(f"No Node.js here: {test} will be skipped.")
            continue
        wanted = _wanted(folder, name)
        if _read(folder / "node_modules" / name / "package.json").get("version") == wanted:
            continue
        say(f"Installing {name} {wanted} in {folder}")
        if failure := _install(npm, folder):
            say("\n".join(failure.splitlines()[-5:]))
            say(f"npm could not install it (no registry in reach?): {test} will be skipped.")


def main() -> int:
    """Set up, then hand the arguments to pytest; its exit code is ours."""
    try:
        python = prepare("test")
    except SetupError as error:
        say(str(error))
        return 2
    prepare_npm_packages()
    asked = sys.argv[1:]
    # Files go to one worker whole, so that what a file's tests share is made once.
    workers = [] if any(word.startswith(("-n", "--numprocesses")) for word in asked) else WORKERS
    return subprocess.run([python, "-m", "pytest", *workers, *asked], cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
