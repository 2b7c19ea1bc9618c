"""Colour for bead-woven rope jewellery, from measured photos."""
