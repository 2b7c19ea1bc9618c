"""A bounded pool of processes for long work, each job with limits of time and memory, and cancellable.

A thread cannot be stopped and a memory limit holds for a whole process, so each worker is a process of its
own. A worker keeps what it has read (photos, laid ropes) for the next job; one that is stopped starts afresh.
"""

from __future__ import annotations

import contextlib
import itertools
import multiprocessing
import os
import queue
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import Any

from analyser.errors import AnalyserError

Tell = Callable[[str, Any], None]

_LOOK_EVERY_S = 0.05  # how soon a cancelled job is stopped
WAITING_AT_MOST = 64
_ABORTED, _KILLED, _TERMINATED = -6, -9, -15  # exit codes of processes that a signal ended (POSIX)


class RefusedError(AnalyserError):
    """Work that did not come to an answer; ``kind`` is that of the error it ended with."""

    def __init__(self, kind: str, says: str) -> None:
        super().__init__(says)
        self.kind = kind


@dataclass(eq=False)
class Job:
    """One piece of work on its way.

    Attributes
    ----------
    name, arguments : str, mapping
        A function of ``analyser.web.jobs`` and what it takes.
    on_stage : callable
        Told each stage and what there is so far; called from the worker's thread.
    future : Future
        The answer.
    """

    name: str
    arguments: Mapping[str, Any]
    on_stage: Tell
    future: Future[Any] = field(default_factory=Future)
    stopped: threading.Event = field(default_factory=threading.Event)

    def cancel(self) -> None:
        """Stop it, whether it waits or runs; its future ends with ``RefusedError``."""
        self.stopped.set()


class Pool:
    """Worker processes and what waits for each.

    Parameters
    ----------
    workers : int
    seconds : float
        A job that takes longer is stopped.
    memory_mb : int
        Address space of one worker; a job that asks for more fails.
    """

    def __init__(self, workers: int = 2, *, seconds: float = 120.0, memory_mb: int = 4096) -> None:
        self._workers = [_Worker(seconds, memory_mb) for _ in range(workers)]

    def submit(
        self,
        name: str,
        arguments: Mapping[str, Any],
        *,
        worker: int | None = None,
        urgent: bool = False,
        on_stage: Tell | None = None,
    ) -> Job:
        """Queue a job.

        Parameters
        ----------
        name, arguments : str, mapping
            A function of ``analyser.web.jobs`` and what it takes beside ``tell``.
        worker : int, optional
            Where what it needs is kept; the worker with the least to do if left out.
        urgent : bool
            Before all that only waits: somebody entries at the page.
        on_stage : callable, optional

        Raises
        ------
        RefusedError
            If too much is waiting already.
        """
        chosen = self._workers[worker] if worker is not None else min(self._workers, key=lambda one: one.load)
        job = Job(name, arguments, on_stage or (lambda _stage, _partial: None))
        chosen.put(job, urgent=urgent)
        return job

    def close(self) -> None:
        """Stop all workers; jobs under way end with ``RefusedError``."""
        for worker in self._workers:
            worker.close()


class _Worker:
    def __init__(self, seconds: float, memory_mb: int) -> None:
        self._seconds, self._memory_mb = seconds, memory_mb
        self._waiting: queue.PriorityQueue[tuple[int, int, Job | None]] = queue.PriorityQueue()
        self._number = itertools.count()
        self._busy = False
        self._process: Any = None
        self._wire: Connection | None = None
        self._thread = threading.Thread(target=self._work, name="analyser-worker", daemon=True)
        self._thread.start()

    @property
    def load(self) -> int:
        return self._waiting.qsize() + self._busy

    def put(self, job: Job, *, urgent: bool) -> None:
        if self._waiting.qsize() >= WAITING_AT_MOST:
            raise RefusedError("busy", f"{WAITING_AT_MOST} things are waiting already; let some finish first")
        self._waiting.put((0 if urgent else 1, next(self._number), job))

    def close(self) -> None:
        self._waiting.put((-1, next(self._number), None))
        self._thread.join(timeout=5)
        self._end()

    def _work(self) -> None:
        self._begin()
        while True:
            _, _, job = self._waiting.get()
            if job is None:
                self._end()
                return
            self._busy = True
            try:
                job.future.set_result(self._run(job))
            except RefusedError as error:
                job.future.set_exception(error)
            except Exception as error:
                self._end()
                job.future.set_exception(RefusedError("internal", f"{type(error).__name__}: {error}"))
            finally:
                self._busy = False

    def _run(self, job: Job) -> Any:
        if job.stopped.is_set():
            raise RefusedError("cancelled", "stopped")
        if self._process is None or not self._process.is_alive():
            self._begin()
        assert self._wire is not None
        deadline = time.monotonic() + self._seconds
        self._wire.send((job.name, dict(job.arguments)))
        while True:
            try:
                if self._wire.poll(_LOOK_EVERY_S):
                    kind, *rest = self._wire.recv()
                    if kind == "stage":
                        job.on_stage(*rest)
                        continue
                    if kind == "done":
                        return rest[0]
                    raise RefusedError(*rest)
            except (EOFError, ConnectionError) as error:
                process = self._process
                process.join(timeout=2)  # its end of the wire closes just before it is gone
                self._end()
                raise _gone(process.exitcode) from error
            if job.stopped.is_set():
                self._end()
                raise RefusedError("cancelled", "stopped")
            if time.monotonic() > deadline:
                self._end()
                raise RefusedError("time", f"stopped after {self._seconds:.0f} s: it takes too long")

    def _begin(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._wire, theirs = context.Pipe()
        self._process = context.Process(target=run_worker, args=(theirs, self._memory_mb), daemon=True)
        self._process.start()
        theirs.close()

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.join(timeout=5)
        if self._wire is not None:
            self._wire.close()
            self._wire = None


def _gone(code: int | None) -> RefusedError:
    """What to tell of a process that went away with this exit code."""
    if code == _ABORTED:  # how C++ libraries end where they get no memory
        return RefusedError("memory", "it took more memory than one photo may; send a smaller one")
    if code in (_KILLED, _TERMINATED):
        return RefusedError(
            "ended", "the work on it was ended from outside, perhaps for want of memory; begin it again"
        )
    return RefusedError("internal", f"the tool itself failed: the work on it ended with code {code}")


def run_worker(wire: Connection, memory_mb: int) -> None:
    """The inside of a worker's process: answer jobs until the other end is gone."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends its workers itself
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource  # not on Windows, where only the time limit holds

        resource.setrlimit(resource.RLIMIT_AS, (memory_mb * 2**20,) * 2)
    # Its matrices are small: threads for them cost more than they bring, and the other worker wants the core.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from analyser.web import jobs

    jobs.warm()
    while True:
        try:
            name, arguments = wire.recv()
        except (EOFError, ConnectionError):
            return

        def tell(stage: str, partial: Any = None) -> None:
            wire.send(("stage", stage, partial))

        try:
            wire.send(("done", jobs.JOBS[name](tell, **arguments)))
        except AnalyserError as error:
            wire.send(("failed", error.kind, str(error)))
        except MemoryError:
            wire.send(("failed", "memory", "it takes more memory than one photo may; send a smaller one"))
        except Exception as error:
            wire.send(("failed", "internal", f"the tool itself failed: {type(error).__name__}: {error}"))
