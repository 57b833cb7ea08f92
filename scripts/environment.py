"""A private environment in the checkout: made once, reused, rebuilt when broken.

Standard library only. `python scripts/environment.py [EXTRA ...]` makes or refreshes it
and prints the path of its interpreter; demo.py and test.py call `prepare` for the same.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

__all__ = ["ROOT", "SetupError", "is_registry_missing", "prepare", "say"]

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".venv"
STAMP = FOLDER / "ifcgrid-setup.json"
PYTHON = FOLDER / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
SMOKE = "import ifcgrid, ifcopenshell, numpy, pip, shapely"
NO_REGISTRY = (
    "No matching distribution",
    "Could not find a version",
    "ConnectionError",
    "Connection refused",
    "name resolution",
    "getaddrinfo failed",
    "Max retries exceeded",
    "SSLError",
    "ProxyError",
    "timed out",
)


class SetupError(Exception):
    """The environment cannot be made; the message says what to do."""


def say(text: str) -> None:
    """One line of progress on stderr, so that stdout stays free for results."""
    print(text, file=sys.stderr, flush=True)


def is_registry_missing(log: str) -> bool:
    """Whether a package client's log reads as if no registry could be reached."""
    return any(word in log for word in NO_REGISTRY)


def _fingerprint() -> str:
    """What the installation depends on: the project file, the version and the interpreter."""
    project = (ROOT / "pyproject.toml").read_bytes()
    version = re.search(rb"__version__ = .*", (ROOT / "ifcgrid" / "domain" / "version.py").read_bytes())
    parts = (project, version[0] if version else b"", sys.version.encode(), str(ROOT).encode())
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def _read_stamp() -> dict[str, object] | None:
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return stamp if isinstance(stamp, dict) else None


def _write_stamp(extras: Iterable[str], fingerprint: str) -> None:
    STAMP.write_text(json.dumps({"extras": sorted(extras), "fingerprint": fingerprint}), encoding="utf-8")


def _is_working(code: str) -> bool:
    if not PYTHON.exists():
        return False
    try:
        return subprocess.run([PYTHON, "-c", code], capture_output=True, check=False).returncode == 0
    except OSError:
        return False


def _make() -> None:
    """A new empty environment. The stamp goes in first, so a broken-off one is known as ours."""
    if FOLDER.exists():
        if not STAMP.exists() and any(FOLDER.iterdir()):
            raise SetupError(
                f"{FOLDER} exists and was not made by these scripts; move it away and run this again"
            )
        shutil.rmtree(FOLDER)
    FOLDER.mkdir()
    _write_stamp((), "")
    say(f"Making a private Python environment in {FOLDER}")
    run = subprocess.run(
        [sys.executable, "-m", "venv", str(FOLDER)], capture_output=True, text=True, check=False
    )
    if run.returncode:
        raise SetupError(
            f"{sys.executable} could not make an environment:\n{(run.stdout + run.stderr).strip()}\n"
            "On Debian and Ubuntu install the package python3-venv, then run this again."
        )


def _install(extras: Iterable[str]) -> None:
    wanted = f"[{','.join(sorted(extras))}]" if extras else ""
    say(f"Installing ifcgrid{wanted} and what it needs into it (a minute or two the first time)")
    command = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "--quiet"]
    run = subprocess.run(
        [*command, "--editable", f".{wanted}"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if run.returncode == 0:
        return
    log = (run.stdout + run.stderr).strip()
    tail = "\n".join(log.splitlines()[-12:])
    if is_registry_missing(log):
        raise SetupError(
            f"{tail}\n\npip could not get the packages it needs. Is a Python package registry in reach? "
            "Behind a proxy set HTTPS_PROXY, with a registry of your own PIP_INDEX_URL; then run this again."
        )
    raise SetupError(f"{tail}\n\npip could not install ifcgrid; its last lines stand above.")


def prepare(*extras: str) -> Path:
    """The interpreter of a working environment that has ifcgrid with these extras.

    Raises:
        SetupError: it cannot be made; the message says why and what to do.
    """
    stamp = _read_stamp()
    recorded = stamp.get("extras") if stamp else None
    have = {str(extra) for extra in recorded} if isinstance(recorded, list) else set()
    is_current = stamp is not None and stamp.get("fingerprint") == _fingerprint() and have >= set(extras)
    if is_current and _is_working(SMOKE):
        return PYTHON
    # A current environment that does not work is broken past mending by pip; build it anew.
    if stamp is None or is_current or not _is_working("import pip"):
        _make()
        have = set()
    _install(have | set(extras))
    if not _is_working(SMOKE):
        raise SetupError(
            f"ifcgrid was installed into {FOLDER} but does not start; delete that folder and run again"
        )
    _write_stamp(have | set(extras), _fingerprint())
    return PYTHON


def main() -> int:
    """Make or refresh the environment and print its interpreter."""
    try:
        print(prepare(*sys.argv[1:]))
    except SetupError as error:
        say(str(error))
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
