"""Many photos: which there are, what of them is done, and the work shared among processes."""
