"""The work on many photos, shared among processes of this machine or the workers of a Dask cluster.

joblib hands the photos out and Dask, where there is a cluster, moves and retries; nothing here does. What
this adds is that each outcome is given back as it comes, and that a photo whose work ends its process (for
want of memory, say) is found out and told while all the others go on.
"""

from __future__ import annotations

import multiprocessing
import threading
import warnings
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass

import joblib

from analyser.batch.store import Outcome
from analyser.errors import OptionError

_REACH_S = 15.0  # how long a cluster may take to answer


@dataclass(frozen=True, slots=True)
class Task:
    """One photo and what is to be done with it.

    Attributes
    ----------
    key : str
        What its outcome is kept by.
    folder : str
        Where the command was typed: paths and settings are taken from there.
    path : str
    verb : str
    arguments : tuple of str
        What was typed behind the verb.
    """

    key: str
    folder: str
    path: str
    verb: str
    arguments: tuple[str, ...]


Work = Callable[[Task], Outcome]


def run(tasks: Iterable[Task], work: Work, workers: int, cluster: str | None = None) -> Iterator[Outcome]:
    """Work on all, giving each outcome as it comes, in no order.

    Parameters
    ----------
    tasks : iterable of Task
        Taken as they are wanted: a few for each worker wait, however many there are.
    work : callable
        A function of a module; it raises nothing.
    workers : int
        Processes of this machine.
    cluster : str, optional
        Address of the scheduler of a Dask cluster, which has workers of its own.

    Raises
    ------
    OptionError
        If the cluster cannot be reached or Dask is not installed.
    """
    with _cluster(cluster) if cluster else _machine() as place:
        waiting, taking = iter(tasks), threading.Lock()
        while True:
            under_way: dict[str, Task] = {}
            shared = joblib.Parallel(
                n_jobs=-1 if cluster else workers, return_as="generator_unordered", batch_size=1
            )
            outcomes = shared(joblib.delayed(work)(task) for task in _noted(waiting, taking, under_way))
            try:
                for outcome in outcomes:
                    under_way.pop(outcome.key, None)
                    yield outcome
                return
            except place.broken:
                # One of these ended its process: each gets a process to itself, then the others go on.
                for task in list(under_way.values()):
                    yield place.alone(work, task)
            finally:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore", UserWarning)  # that what was under way is stopped
                    outcomes.close()


def _noted(waiting: Iterator[Task], taking: threading.Lock, under_way: dict[str, Task]) -> Iterator[Task]:
    while True:
        with taking:  # joblib takes them from several threads, an earlier round's perhaps among them
            task = next(waiting, None)
        if task is None:
            return
        under_way[task.key] = task
        yield task


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the work is done: what is raised where a process was ended, and how to do one task by itself."""

    broken: tuple[type[BaseException], ...]
    alone: Callable[[Work, Task], Outcome]


def _ended(task: Task) -> Outcome:
    says = "the work on it was ended from outside, perhaps for want of memory; make the photo smaller"
    return Outcome(task.key, task.path, "failed", "ended", says)


@contextmanager
def _machine() -> Iterator[_Place]:
    def alone(work: Work, task: Task) -> Outcome:
        with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as process:
            try:
                return process.submit(work, task).result()
            except BrokenExecutor:
                return _ended(task)

    with joblib.parallel_config(backend="loky"):
        yield _Place((BrokenExecutor,), alone)


@contextmanager
def _cluster(address: str) -> Iterator[_Place]:
    try:
        from distributed import Client, KilledWorker
    except ImportError as error:
        raise OptionError("a cluster wants Dask: pip install 'analyser[cluster]'") from error
    try:
        client = Client(address, timeout=_REACH_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise OptionError(f"--cluster {address}: cannot be reached ({error}); start its scheduler") from error

    def alone(work: Work, task: Task) -> Outcome:
        try:
            outcome: Outcome = client.submit(work, task, pure=False).result()
        except KilledWorker:
            return _ended(task)
        return outcome

    with client, joblib.parallel_config(backend="dask", client=client):
        yield _Place((KilledWorker,), alone)
