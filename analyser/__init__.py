"""Colour for bead-woven rope jewellery, from measured photos."""

__version__ = "0.1.0"
