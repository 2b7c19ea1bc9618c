"""Heaps of beads in a tray photo become colours."""
