"""The only door to ifcopenshell: reads rooms and obstacles, writes ceilings."""
