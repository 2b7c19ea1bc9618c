"""``analyser batch``: one verb on many photos, in several processes, going on where it was stopped."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyser.cli.options import Asked, asking, common, options
from analyser.cli.output import remark, show, talks
from analyser.errors import OptionError

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console

    from analyser.batch.running import Task
    from analyser.batch.store import BatchStore, Outcome

VERBS = ("palette", "colourway", "audit")
#: What is of one photo, or would be written for each under one and the same name.
_NOT_HERE = ("--corrected", "--keep", "--mask", "--strict")
#: Faults of what was asked, not of a photo: all photos would fail alike.
_OF_ASKING = frozenset(("stock", "motif", "plan", "usage"))
#: Faults that another run may not have; what they befell is done again.
_PASSING = frozenset(("ended", "memory", "internal"))


@dataclass(frozen=True, kw_only=True)
class BatchRequest(Asked):
    """What ``analyser batch`` was asked for."""

    words: tuple[str, ...]
    out_dir: Path | None
    workers: int | None
    cluster: str | None
    parquet: bool

    def parted(self) -> tuple[list[Path], str, tuple[str, ...]]:
        """The places, the verb, and what was typed behind it."""
        at = next((i for i, word in enumerate(self.words) if word in VERBS and not Path(word).exists()), None)
        if not at:
            raise OptionError(f"expected analyser batch FOLDER|PHOTO... {'|'.join(VERBS)} [its options]")
        places, typed = self.words[:at], self.words[at + 1 :]
        stray = next((word for word in places if word.startswith("-")), None)
        if stray:
            verb = self.words[at]
            raise OptionError(f"{stray}: the options of {verb} come after the word {verb}")
        for word in typed:
            option = word.partition("=")[0]
            if option in _NOT_HERE:
                raise OptionError(f"{option} is for one photo and has no place in a batch")
        return [Path(place) for place in places], self.words[at], typed


@click.command(
    context_settings={"ignore_unknown_options": True},
    options_metavar="[OPTIONS] FOLDER|PHOTO... palette|colourway|audit [ITS OPTIONS]",
)
@click.argument("words", nargs=-1, type=click.UNPROCESSED, metavar="")
@options("out", "workers", "cluster", "parquet", out={"help": "The folder of the answers; analyser-batch."})
@common
@asking(BatchRequest)
def batch(asked: BatchRequest) -> None:
    """Do one verb on many photos: folders with all in them, or files.

    Stopped or killed, the same command goes on where it was. A photo that cannot be used is told at the end
    and stops nothing. The folder gets each photo's answer, a table and a page with small pictures.
    """
    from analyser.batch.photos import photos_in
    from analyser.batch.store import BatchStore

    places, verb, typed = asked.parted()
    photos = list(photos_in(places))
    if not photos:
        raise OptionError(f"{', '.join(map(str, places))}: no photo there")
    _check_typed(verb, typed, photos[0])
    folder = asked.out_dir or Path("analyser-batch")
    store = BatchStore(folder)
    keys = _keys(photos, verb, typed)
    done = _work(asked, store, keys, verb, typed)
    answer = {**_written(asked, folder, store, keys, verb), "worked_on": done}

    def readable(console: Console) -> None:
        console.print(_told(answer))

    show(answer, asked.json_file, readable)


def _check_typed(verb: str, typed: tuple[str, ...], photo: Path) -> None:
    """See that the verb understands its options, before any photo is read."""
    from analyser.cli.main import command

    context = click.get_current_context().find_root()
    of_verb = command.get_command(context, verb)
    assert of_verb is not None
    with of_verb.make_context(verb, [*typed, "--", str(photo)], parent=context):
        pass


def _keys(photos: list[Path], verb: str, typed: tuple[str, ...]) -> list[tuple[str, str]]:
    """Path and key of each photo."""
    from analyser import __version__
    from analyser.batch.photos import digest_of
    from analyser.cli import settings

    files = [Path(part) for word in typed for part in (word, word.partition("=")[2]) if part]
    held = settings.find()
    asked = digest_of(
        __version__, verb, *typed, *(file for file in files if file.is_file()), *([held] if held else [])
    )
    found = []
    for photo in photos:
        try:
            key = digest_of(photo, photo.name, asked)
        except OSError:
            key = digest_of(str(photo), "cannot be read", asked)
        found.append((str(photo), key))
    return found


def _work(
    asked: BatchRequest, store: BatchStore, keys: list[tuple[str, str]], verb: str, typed: tuple[str, ...]
) -> int:
    """Do what is not done; how many that were.

    Raises
    ------
    AnalyserError
        If what was asked cannot be done with any photo.
    """
    from analyser.batch.running import Task, run
    from analyser.cli.batch_worker import work

    left = {key: path for path, key in keys if not _is_done(store.get(key))}
    if len(left) < len(keys):
        remark(f"{len(keys) - len(left)} of {len(keys)} photos are done already")
    tasks: list[Task] = [Task(key, str(Path.cwd()), path, verb, typed) for key, path in left.items()]
    workers = asked.workers or os.cpu_count() or 1
    good = 0
    with _progress(len(tasks)) as step:
        for outcome in run(tasks, work, min(workers, max(1, len(tasks))), asked.cluster) if tasks else ():
            if outcome.kind in _OF_ASKING and not good:
                raise click.UsageError(outcome.says)
            good += outcome.state == "done"
            store.put(outcome)
            step()
    return len(tasks)


def _is_done(outcome: Outcome | None) -> bool:
    return outcome is not None and outcome.kind not in _PASSING | _OF_ASKING


def _written(
    asked: BatchRequest, folder: Path, store: BatchStore, keys: list[tuple[str, str]], verb: str
) -> dict[str, Any]:
    """Write table and pages; the answer of the verb."""
    from analyser.cli.options import options_told
    from analyser.report import batch_tables
    from analyser.report.answers import head
    from analyser.report.batch_page import write_pages

    def outcomes() -> Iterator[tuple[str, Outcome]]:
        return ((path, outcome) for path, key in keys if (outcome := store.get(key)) is not None)

    table = folder / "table.csv"
    batch_tables.write_csv(table, verb, batch_tables.rows(verb, outcomes()))
    parquet = folder / "table.parquet" if asked.parquet else None
    if parquet is not None:
        batch_tables.write_parquet(parquet, verb, batch_tables.rows(verb, outcomes()))
    page, counted = write_pages(folder, verb, keys, store)
    return {
        **head(options_told()),
        "verb": verb,
        "photos": len(keys),
        "done": counted["done"],
        "failed": [
            {"file": path, "kind": outcome.kind, "says": outcome.says}
            for path, outcome in outcomes()
            if outcome.state == "failed"
        ],
        "answers": str(store.folder),
        "table": str(table),
        "parquet": None if parquet is None else str(parquet),
        "page": str(page),
    }


_NAMED = 5  # photos that are named on the terminal; the page has all


def _told(answer: dict[str, Any]) -> str:
    failed = answer["failed"]
    lines = [f"{answer['done']} of {answer['photos']} photos done; page: {answer['page']}"]
    lines += [
        f"  not: {one['file']}: {one['says'].removeprefix(one['file'] + ': ')}" for one in failed[:_NAMED]
    ]
    if len(failed) > _NAMED:
        lines.append(f"  and {len(failed) - _NAMED} more, on the page")
    return "\n".join(lines)


@contextmanager
def _progress(number: int) -> Iterator[Callable[[], None]]:
    """How far it is and how long it will take, on a terminal; else nothing."""
    if talks("quiet") or not sys.stderr.isatty() or not number:
        yield lambda: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    from analyser.cli.output import console

    shown = Progress(BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(), console=console(stderr=True))
    with shown:
        bar = shown.add_task("photos", total=number)
        yield lambda: shown.advance(bar)
