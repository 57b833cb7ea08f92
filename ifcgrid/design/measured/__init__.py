"""Outlines adjusted to what was measured on site, by least squares."""

from ifcgrid.design.measured.network import Adjustment, Lengths, adjust
from ifcgrid.design.measured.room import adjust_zone, restore_zone

__all__ = ["Adjustment", "Lengths", "adjust", "adjust_zone", "restore_zone"]
