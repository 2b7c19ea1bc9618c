"""Colour as numbers: arrays (..., 3) in, arrays out; knows no files and no beads."""
