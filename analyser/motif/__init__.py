"""Motifs: which bead goes where in a beaded rope."""
