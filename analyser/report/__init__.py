"""Results become one self-contained page, JSON or CSV."""
