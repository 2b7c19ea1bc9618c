"""What a batch has done, one small file for each photo, so that a run that was ended goes on where it was.

A photo is known by what it holds, its name and what was asked; whoever moves a folder or runs again finds all
that is done. Only the first process writes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

from analyser.errors import OptionError
from analyser.files import write_whole

State = Literal["done", "failed"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one photo.

    Attributes
    ----------
    key : str
        What it is kept by.
    file : str
        Its name.
    state : str
        ``done`` or ``failed``.
    kind, says : str
        Why it failed.
    answer : dict or None
        Of the verb.
    thumbnail : str
        A small JPEG, in base64; empty where the photo could not be read.
    """

    key: str
    file: str
    state: State
    kind: str = ""
    says: str = ""
    answer: dict[str, Any] | None = None
    thumbnail: str = ""


class BatchStore:
    """The folder ``answers`` of a batch.

    Raises
    ------
    OptionError
        If it cannot be made.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "answers"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OptionError(f"{self.folder}: cannot be made ({error.strerror})") from error

    def path(self, key: str) -> Path:
        """Where an outcome lies; by its first digits, because a folder of 100,000 files is slow."""
        return self.folder / key[:2] / f"{key}.json"

    def get(self, key: str) -> Outcome | None:
        """What is kept by a key; None if nothing is, or it cannot be read and is to be done again."""
        try:
            return Outcome(**json.loads(self.path(key).read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            return None

    def put(self, outcome: Outcome) -> None:
        """Keep an outcome, whole or not at all.

        Raises
        ------
        OptionError
            If it cannot be written.
        """
        text = json.dumps(asdict(outcome), ensure_ascii=False, allow_nan=False)
        write_whole(self.path(outcome.key), text, make_folders=True)

    def outcomes(self, keys: list[str]) -> Iterator[tuple[str, Outcome]]:
        """What is kept by these keys, in their order, read one by one."""
        for key in keys:
            outcome = self.get(key)
            if outcome is not None:
                yield key, outcome
