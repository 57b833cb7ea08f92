"""What every drawing is made of: paper, pens, symbols, printed lengths. SVG without a library."""
