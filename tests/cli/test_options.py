"""Options: each one once, with one help; and the answer tells all that held."""

from __future__ import annotations

import json

import click
import pytest
from click.testing import CliRunner

from analyser.cli.kept import kept
from analyser.cli.main import VERBS, command
from analyser.cli.register import REGISTER
from analyser.cli.stock import PARTS
from analyser.cli.values import BOX, CARD

SPEECH = {"json", "quiet", "verbose", "version"}
VERBS_WITH_OPTIONS = [(verb,) for verb in VERBS if verb not in ("stock", "kept", "schema")] + [
    *(("stock", part) for part in PARTS),
    *(("kept", part) for part in kept.commands),
]


def found(verb):
    here = command
    context = click.Context(here)
    for word in verb:
        here = here.get_command(context, word)
    return here


def typed(param):
    return param.opts[-1].lstrip("-").replace("-", "_")


@pytest.mark.parametrize("verb", VERBS_WITH_OPTIONS, ids=" ".join)
def test_every_option_of_a_verb_is_one_of_the_register(verb):
    known = {
        (tuple(p.opts), type(p.type))
        for p in (entry()(lambda: None).__click_params__[0] for entry in REGISTER.values())
    }
    for param in found(verb).params:
        if isinstance(param, click.Option) and typed(param) not in SPEECH:
            assert (tuple(param.opts), type(param.type)) in known


@pytest.mark.parametrize(
    ("verb", "arguments"),
    [
        (("match",), ["#336699", "--stock", "stock.csv", "--refuse-faulty"]),
        (("contrast",), ["#336699", "#ffffff"]),
        (("count",), []),
    ],
)
def test_the_answer_tells_every_option_as_it_is_typed(verb, arguments, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stock.csv").write_text("id,name,size,L,a,b\nsea,Sea,8/0,40,-10,-20\n")
    ended = CliRunner().invoke(command, [*verb, *arguments, "--size", "8/0", "--json", "-"])
    assert ended.exit_code == 0, ended.output
    told = json.loads(ended.stdout)["options"]
    assert set(told) == {typed(p) for p in found(verb).params if isinstance(p, click.Option)} - SPEECH
    assert told["size"] == "8/0"
    assert told.get("skip_faulty", True) is ("--refuse-faulty" not in arguments)


@pytest.mark.parametrize("text", ["1,2,30,40", "10%,10%,50.5%,50%", "5,10%,20,20%"])
def test_a_box_is_told_as_it_is_typed(text):
    assert str(BOX.convert(text, None, None)) == text


@pytest.mark.parametrize("text", ["1,2,30,40", "10%,10%,5%,5%:grey", "1,2,30,40:0.75"])
def test_a_card_is_told_as_it_is_typed(text):
    assert str(CARD.convert(text, None, None)) == text
