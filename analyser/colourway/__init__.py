"""The design job: palette, matching, pairing."""
