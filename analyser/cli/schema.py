"""``analyser schema VERB``: the JSON schema of a verb's answer, as shipped in the package."""

from __future__ import annotations

import click

from analyser.cli.output import print_json


@click.command()
@click.argument("verb", nargs=-1, required=True)
def schema(verb: tuple[str, ...]) -> None:
    """Print the JSON schema of the answer of VERB, such as ``palette`` or ``stock add``."""
    from analyser.report import schemas

    print_json(schemas.load(" ".join(verb)))
