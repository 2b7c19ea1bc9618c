"""Where the console script begins: nothing is imported yet, so that even an early Ctrl-C ends cleanly."""

from __future__ import annotations

import sys


def run() -> None:
    """Run the command and leave with its exit code (raises SystemExit)."""
    try:
        from analyser.cli.main import exit_code

        code = exit_code(sys.argv[1:])
    except KeyboardInterrupt:
        sys.stderr.write("stopped\n")
        code = 130
    sys.exit(code)
