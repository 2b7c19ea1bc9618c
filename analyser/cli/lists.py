"""The maker's list as a verb reads it: what it leaves open is asked on the terminal, once, and kept."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.output import remark, talks
from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.stock.list.agreed import Question
    from analyser.stock.stock import Stock


def read_list(path: Path, *, skip_faulty: bool = True) -> Stock:
    """Read a stock list; on a terminal what it leaves open is asked first, and the answers are kept.

    Raises
    ------
    StockError
        As ``stock_list.read``.
    """
    from analyser.phrases import stock_lists as phrases
    from analyser.stock.list import agreed, stock_list

    held = stock_list.read(path, skip_faulty=skip_faulty)
    asked: set[str] = set()
    while _can_ask() and (open_ones := [one for one in held.questions if one.kind not in asked]):
        question = open_ones[0]  # one by one: another sheet has other cells
        asked.add(question.kind)
        try:
            agreed.keep(path, question.kind, _answer(question))
        except OptionError as error:
            remark(str(error))
            break
        held = stock_list.read(path, skip_faulty=skip_faulty)
    if asked:
        remark(phrases.kept_in(agreed.file_of(path), path))
    return held


def _can_ask() -> bool:
    return sys.stdin.isatty() and sys.stderr.isatty() and not talks("quiet")


def _answer(question: Question) -> str | bool:
    from analyser.phrases import stock_lists as phrases

    says = phrases.question(question)
    if question.kind in ("dates", "fills"):
        yes = click.confirm(says, default=question.kind == "dates", err=True)
        return question.choices[0] if yes else question.choices[1]
    words = [str(choice) for choice in question.choices]
    told: str = click.prompt(says, type=click.Choice(words), default=words[0], err=True)
    return told
