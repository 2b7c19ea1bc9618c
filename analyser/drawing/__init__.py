"""Pictures: motif charts, rope previews, strips, annotated photos, plots."""
