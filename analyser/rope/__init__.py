"""A rope in a photo: locating, unrolling, placing."""
