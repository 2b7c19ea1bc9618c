"""The JSON schemas of the answers, one file a verb; shared parts lie in ``defs.json``."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

from analyser.errors import OptionError

_SHARED = "defs.json"


def names() -> tuple[str, ...]:
    """The verbs that have a schema, as one types them: ``palette``, ``stock add``."""
    files = (entry.name for entry in resources.files(__name__).iterdir() if entry.name.endswith(".json"))
    return tuple(sorted(name.removesuffix(".json").replace("-", " ") for name in files if name != _SHARED))


def load(verb: str) -> dict[str, Any]:
    """The schema of a verb's answer, complete in itself (JSON Schema 2020-12).

    Raises
    ------
    OptionError
        If there is no such schema.
    """
    if verb not in names():
        raise OptionError(f"there is no schema for {verb!r}; there are: {', '.join(names())}")
    folder = resources.files(__name__)
    schema: dict[str, Any] = json.loads(
        folder.joinpath(f"{verb.replace(' ', '-')}.json").read_text(encoding="utf-8")
    )
    schema["$defs"] = json.loads(folder.joinpath(_SHARED).read_text(encoding="utf-8"))
    return schema
