"""The README shows what the program draws today."""

from __future__ import annotations

import importlib.util
from pathlib import Path

ROOT = Path(__file__).parents[3]


def test_the_committed_pictures_are_what_the_program_draws(tmp_path):
    spec = importlib.util.spec_from_file_location("make_pictures", ROOT / "scripts" / "make_pictures.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    made = module.make_pictures(tmp_path)
    assert len(made) == 2
    for picture in made:
        kept = ROOT / "models" / picture.name
        assert kept.read_text("utf-8") == picture.read_text("utf-8"), "run python scripts/make_pictures.py"
        assert f"(models/{picture.name})" in (ROOT / "README.md").read_text("utf-8")
