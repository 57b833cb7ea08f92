"""What every drawing is made of: paper, pens, symbols, printed lengths; written as SVG or PDF."""
