"""A batch as a table: a row for each colour, pair or rope, as CSV and as Parquet."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.errors import OptionError
from analyser.files import write_whole

if TYPE_CHECKING:
    from analyser.batch.store import Outcome

Row = dict[str, Any]
_BLOCK = 10_000  # rows of a Parquet file held at once


def _palette_rows(answer: Mapping[str, Any]) -> list[Row]:
    return [
        {
            "colour": number,
            "name": colour["name"],
            "hex": colour["hex"],
            "L": colour["lab"][0],
            "a": colour["lab"][1],
            "b": colour["lab"][2],
            "share": colour["share"],
            "uncertainty_de00": colour["uncertainty_de00"],
        }
        for number, colour in enumerate(answer["colours"], 1)
    ]


def _pair_rows(answer: Mapping[str, Any]) -> list[Row]:
    return [
        {
            "pair": number,
            "accent": pair["accent"],
            "body": pair["body"],
            "accent_fit_de00": (pair.get("fit_de00") or {}).get("accent"),
            "body_fit_de00": (pair.get("fit_de00") or {}).get("body"),
            "reads_to_m": pair["reads_to_m"],
            "enough": pair["enough"],
            "says": pair["says"],
        }
        for number, pair in enumerate(answer["pairs"], 1)
    ]


def _rope_rows(answer: Mapping[str, Any]) -> list[Row]:
    return [
        {
            "rope": piece["number"],
            "verdict": piece["verdict"],
            "findings": len(piece["findings"]),
            "what": "; ".join(finding["says"] for finding in piece["findings"]),
        }
        for piece in answer["pieces"]
    ]


_ROWS: dict[str, Callable[[Mapping[str, Any]], list[Row]]] = {
    "palette": _palette_rows,
    "colourway": _pair_rows,
    "audit": _rope_rows,
}
_TYPES: dict[str, dict[str, type]] = {
    "palette": {
        "colour": int, "name": str, "hex": str, "L": float, "a": float, "b": float, "share": float,
        "uncertainty_de00": float,
    },
    "colourway": {
        "pair": int, "accent": str, "body": str, "accent_fit_de00": float, "body_fit_de00": float,
        "reads_to_m": float, "enough": bool, "says": str,
    },
    "audit": {"rope": int, "verdict": str, "findings": int, "what": str},
}  # fmt: skip
_COMMON = {"photo": str, "state": str, "fault": str}


def columns(verb: str) -> dict[str, type]:
    """The columns of a verb's table and what they hold."""
    return _COMMON | _TYPES[verb]


def rows(verb: str, outcomes: Iterable[tuple[str, Outcome]]) -> Iterator[Row]:
    """The rows of a table, one at least for each photo.

    Parameters
    ----------
    outcomes : iterable of (str, Outcome)
        Each with the photo's path.
    """
    for path, outcome in outcomes:
        first = {"photo": path, "state": outcome.state, "fault": outcome.says or None}
        for row in (_ROWS[verb](outcome.answer) if outcome.answer else None) or [{}]:
            yield first | row


def write_csv(path: Path, verb: str, found: Iterable[Row]) -> None:
    """Write the table as CSV, UTF-8 with a byte order mark, which spreadsheet programs want.

    A text that a spreadsheet program would take for a formula gets an apostrophe before it.

    Raises
    ------
    OptionError
        If it cannot be written.
    """
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, list(columns(verb)))
    table.writeheader()
    for row in found:
        table.writerow({name: _cell(value) for name, value in row.items()})
    write_whole(path, "\ufeff" + text.getvalue())


def _cell(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def write_parquet(path: Path, verb: str, found: Iterable[Row]) -> None:
    """Write the table as Parquet.

    Raises
    ------
    OptionError
        If pyarrow is not installed, or it cannot be written.
    """
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError as error:
        raise OptionError("--parquet wants pyarrow: pip install 'analyser[parquet]'") from error
    kinds = {str: pa.string(), int: pa.int64(), float: pa.float64(), bool: pa.bool_()}
    schema = pa.schema([(name, kinds[kind]) for name, kind in columns(verb).items()])
    made = io.BytesIO()
    with parquet.ParquetWriter(made, schema) as writer:
        block: list[Row] = []
        for row in found:
            block.append(row)
            if len(block) == _BLOCK:
                writer.write_table(pa.Table.from_pylist(block, schema))
                block.clear()
        writer.write_table(pa.Table.from_pylist(block, schema))
    write_whole(path, made.getvalue())
