"""Recipes for programs that run them on a model they have open, found by their folder.

A host looks for recipes in the folder that the environment variable `IFCPATCH_RECIPE_DIR`
names; `python -m ifcgrid.recipes` prints ours.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["FOLDER"]

FOLDER = Path(__file__).resolve().parent
"""Where the recipes lie."""
