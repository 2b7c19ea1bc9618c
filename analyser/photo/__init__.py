"""A file becomes calibrated pixels: reading, calibration, lighting, subject."""
