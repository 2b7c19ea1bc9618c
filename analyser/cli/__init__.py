"""The command line: one file a verb; parses, calls, prints; computes nothing."""
