"""Work that ends its own process, as one does that takes too much memory; workers import it from here."""

from __future__ import annotations

import os
import signal

from analyser.batch.store import Outcome


def work(task):
    if task.path.startswith("deadly"):
        os.kill(os.getpid(), signal.SIGKILL)
    return Outcome(task.key, task.path, "done", answer={"pid": os.getpid()})
