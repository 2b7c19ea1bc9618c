"""What one worker of a batch does with one photo: the verb itself, as if it had been typed."""

from __future__ import annotations

import base64
import json
import os
import tempfile
from pathlib import Path

from analyser.batch.running import Task
from analyser.batch.store import Outcome
from analyser.cli.output import one_line
from analyser.errors import AnalyserError

THUMBNAIL_PX = 160
_QUALITY = 70


def work(task: Task) -> Outcome:
    """The outcome of one photo; whatever is wrong with it is told, never raised."""
    import click
    import cv2

    cv2.setNumThreads(1)  # there are as many workers as cores
    os.chdir(task.folder)
    name = Path(task.path).name
    try:
        answer = answer_of(task)
    except (AnalyserError, click.ClickException) as error:
        kind = error.kind if isinstance(error, AnalyserError) else "usage"
        return Outcome(task.key, name, "failed", kind, one_line(str(error)), thumbnail=_thumbnail(task.path))
    except MemoryError:
        says = "it takes more memory than this machine has; make the photo smaller"
        return Outcome(task.key, name, "failed", "memory", says)
    except Exception as error:
        says = f"the tool itself failed: {one_line(f'{type(error).__name__}: {error}')}"
        return Outcome(task.key, name, "failed", "internal", says, thumbnail=_thumbnail(task.path))
    return Outcome(task.key, name, "done", answer=answer, thumbnail=_thumbnail(task.path))


def answer_of(task: Task) -> dict[str, object]:
    """The verb's answer.

    Raises
    ------
    AnalyserError, click.ClickException
        As the verb raises them.
    """
    from analyser.cli.main import command

    with tempfile.TemporaryDirectory(prefix="analyser-batch-") as folder:
        file = Path(folder) / "answer.json"
        typed = ["--quiet", task.verb, *task.arguments, "--json", str(file), "--", task.path]
        command.main(typed, prog_name="analyser", standalone_mode=False)
        told: dict[str, object] = json.loads(file.read_text(encoding="utf-8"))
    return told


def _thumbnail(path: str) -> str:
    """A small picture of the photo, in base64; empty where it cannot be read."""
    from analyser.imaging import encoding
    from analyser.photo import reading

    try:
        photo = reading.read(Path(path), about_pixels=THUMBNAIL_PX**2)
    except (AnalyserError, MemoryError):
        return ""
    small = encoding.picture_u8(photo.linear, THUMBNAIL_PX)
    return base64.b64encode(encoding.jpeg_bytes(small, _QUALITY)).decode("ascii")
