"""Devices and their seats in the grid: which hold it, which stand on it, where the others would go."""

from ifcgrid.design.seating.cost import find_cost
from ifcgrid.design.seating.next_seat import next_seats, seat_these
from ifcgrid.design.seating.seater import seat_devices
from ifcgrid.design.seating.wishes import Asked, Held, ask_devices, find_held

__all__ = [
    "Asked",
    "Held",
    "ask_devices",
    "find_cost",
    "find_held",
    "next_seats",
    "seat_devices",
    "seat_these",
]
