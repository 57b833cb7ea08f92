"""Set everything up and run the whole test suite: python scripts/test.py [pytest arguments].

Works on a fresh machine with Python 3.11 or newer on Windows, macOS and Linux. Makes a
private environment in .venv, nothing global. Where Node.js is there, the second reader
for IFC files is installed beside its test; elsewhere that test skips with the reason.
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
READER = ROOT / "tests" / "reader"


def _version(package: Path) -> str:
    try:
        return str(json.loads(package.read_text(encoding="utf-8")).get("version", ""))
    except (OSError, ValueError):
        return ""


def prepare_second_reader() -> None:
    """Install the second IFC reader for its test; say why when that cannot be done."""
    npm = shutil.which("npm")
    if npm is None or shutil.which("node") is None:
        say("No Node.js here: the test with a second IFC reader will be skipped.")
        return
    wanted = json.loads((READER / "package.json").read_text(encoding="utf-8"))["dependencies"]["web-ifc"]
    if _version(READER / "node_modules" / "web-ifc" / "package.json") == wanted:
        return
    say(f"Installing the second IFC reader, web-ifc {wanted}, in {READER}")
    try:
        run = subprocess.run(
            [npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"],
            cwd=READER,
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
        failure = "" if run.returncode == 0 else (run.stderr or run.stdout).strip()
    except (OSError, subprocess.TimeoutExpired) as error:
        failure = str(error)
    if failure:
        say("\n".join(failure.splitlines()[-5:]))
        say("npm could not install it (no registry in reach?): the test with it will be skipped.")


def main() -> int:
    """Set up, then hand the arguments to pytest; its exit code is ours."""
    try:
        python = prepare("test")
    except SetupError as error:
        say(str(error))
        return 2
    prepare_second_reader()
    asked = sys.argv[1:]
    # Files go to one worker whole, so that what a file's tests share is made once.
    workers = [] if any(word.startswith(("-n", "--numprocesses")) for word in asked) else WORKERS
    return subprocess.run([python, "-m", "pytest", *workers, *asked], cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
