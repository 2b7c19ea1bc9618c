"""Sentences made of what the other rooms of this house say in lower case."""

from __future__ import annotations

from collections.abc import Sequence


def capital(text: str) -> str:
    """With a capital, without a stop."""
    return text[:1].upper() + text[1:]


def sentence(parts: Sequence[str]) -> str:
    """Reasons joined to one sentence.

    >>> sentence(["reads across a table", "one lot holds enough"])
    'Reads across a table; one lot holds enough.'
    """
    text = "; ".join(part.rstrip(".") for part in parts if part)
    return capital(text) + "." if text else ""
