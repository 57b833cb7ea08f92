"""The demo's plan files: what the coordinator of the invented building asks for."""

from __future__ import annotations

__all__ = ["PLAN", "SEISMIC_PLAN"]

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

SEISMIC_PLAN = (
    PLAN.replace("get what.", "get what,\n# and what holds the reading hall in earthquakes.")
    + """
[[rooms]]
# More than 1,000 ft\u00b2: brace sets, two attached walls, bars at the free ones, wires for devices.
number = "020"
restraint = {category = "D", first_brace = "6 ft", wires = "dsa"}
"""
)
