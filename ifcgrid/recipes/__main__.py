"""Prints the folder of the recipes: python -m ifcgrid.recipes."""

from ifcgrid.recipes import FOLDER

print(FOLDER)
