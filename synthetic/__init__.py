"""Drawn pictures whose truth is known exactly: ropes, trays, charts and cards, for tests and benchmarks.

Nothing here is measured from a photograph, and the installed package knows nothing of it.
"""
