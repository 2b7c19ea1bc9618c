"""Where the console script begins: nothing is imported yet, so that even an early Ctrl-C ends cleanly."""

from __future__ import annotations

import gc
import os
import sys


def run() -> None:
    """Run the command and leave with its exit code (raises SystemExit)."""
    # The matrices are small: a second thread of the linear algebra waits more than it works, for a fifth of
    # an audit's time. Where the user says otherwise, that holds.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What is imported stays: looking through it for rubbish takes a twentieth of a short command.
    gc.set_threshold(50_000)
    try:
        from analyser.cli.main import exit_code

        code = exit_code(sys.argv[1:])
    except KeyboardInterrupt:
        sys.stderr.write("stopped\n")
        code = 130
    sys.exit(code)
