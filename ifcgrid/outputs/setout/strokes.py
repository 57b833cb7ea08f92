"""Weights in mm and dashes of the lines on a set-out sheet, told apart without colour."""

__all__ = [
    "BAND",
    "DIAGONAL",
    "DIAGONAL_DASH",
    "FIELD_RING",
    "FIRST_MAIN",
    "FIRST_TEE",
    "FIRST_TEE_DASH",
    "MAIN",
    "SPLICE",
    "STRING",
    "STRING_DASH",
    "TEE",
    "WALL",
]

TEE, MAIN, FIRST_MAIN, WALL = 0.16, 0.5, 1.9, 0.8

BAND = "#c8c8c8"
"""The first main is a grey band, so that the string beside it shows where it truly lies."""

FIRST_TEE, FIRST_TEE_DASH = 0.6, "3.2 1"
STRING, STRING_DASH = 0.4, "7 1.2 1 1.2"
DIAGONAL, DIAGONAL_DASH = 0.18, "5 2.5"

FIELD_RING = 0.9
"""Radius of the rings at the corners of the full panels between which the grid is squared."""

SPLICE = 1.0
"""Half the length of the stroke across a main at its splice."""
