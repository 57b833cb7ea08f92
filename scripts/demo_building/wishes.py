"""The demo's plan file: what the coordinator of the invented building asks for."""

from __future__ import annotations

__all__ = ["PLAN"]

PLAN = """\
# Which rooms of the Sandrell Library and Town Rooms get what. Made by scripts/make_models.py.
system = "lay-in-600x600"
policy = "half-module"

[[rooms]]
# The interview room has plank lights; its number occurs twice, its name once.
name = "Interview room"
system = "lay-in-300x1200"

[[rooms]]
storey = "First floor"
name = "Archive"
system = "lay-in-600x1200"

[[rooms]]
name = "Telephone room"
height = "2400 mm"

[[rooms]]
number = "026"
skip = "a cupboard gets plasterboard"
"""
