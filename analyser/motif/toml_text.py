"""Where things stand in a TOML file that a maker wrote: faults are told with their line.

Pure functions on text; nothing here opens a file.
"""

from __future__ import annotations

import re

Where = tuple[str | int, ...]
"""A table, key or entry: ``("round", 0, "beads")``."""


def syntax_fault(says: str, text: str, file: str) -> str:
    """What ``tomllib`` said of a file, with its place and the mend.

    Parameters
    ----------
    says : str
        The text of the ``TOMLDecodeError``.
    text, file : str
        The file's text, and the name it is told by.
    """
    found = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)", says)
    reason = says[: found.start()] if found else says
    if found and found[1]:
        line = text.splitlines()[int(found[1]) - 1].strip() if text.splitlines() else ""
        place = f"{file}, line {found[1]}, column {found[2]}"
        return f"{place}: {reason}, in {line!r}; see that quotes and brackets are closed"
    return f"{file}, line {text.count(chr(10)) + 1}: {reason}; the file ends too early"


def syntax_line(says: str, text: str) -> int:
    """The line that ``tomllib`` stopped at, by the text of its ``TOMLDecodeError``."""
    found = re.search(r"\(at line (\d+), column \d+\)", says)
    return int(found[1]) if found else text.count("\n") + 1


def lines_of(text: str) -> dict[Where, int]:
    """The line of each table and key; of lists of inline tables, that of each entry."""
    found: dict[Where, int] = {}
    table: Where = ()
    seen: dict[str, int] = {}
    entries: Where | None = None
    index = 0
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.strip()
        if head := re.match(r"\[\[\s*([\w.-]+)\s*\]\]", line):
            seen[head[1]] = seen.get(head[1], -1) + 1
            table, entries = (head[1], seen[head[1]]), None
            found[table] = number
        elif head := re.match(r"\[\s*([\w.-]+)\s*\]", line):
            table, entries = tuple(head[1].split(".")), None
            found[table] = number
        elif key := re.match(r"([\w-]+)\s*=\s*(\[)?", line):
            found[(*table, key[1])] = number
            entries, index = ((*table, key[1]), 0) if key[2] else (None, 0)
            for _ in range(line.count("{") if key[2] else 0):
                found[(*table, key[1], index)] = number
                index += 1
        elif entries and line.startswith("{"):
            found[(*entries, index)] = number
            index += 1
    return found
