"""The options that say what piece is made: its motif, length, beads, plan, kits and cards."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import click

from analyser.cli.values import FILE, SHARE

OF_A_PIECE: dict[str, Callable[..., Any]] = {
    "motif": partial(click.option, "--motif", help="A shipped motif, or your own .toml file."),
    "length": partial(click.option, "--length", help="Finished length with clasp: 18cm, 180mm or 7in."),
    "wrist": partial(
        click.option,
        "--wrist",
        help="Instead of --length: the wrist it is for; pi times the rope's diameter is added.",
    ),
    "neck": partial(
        click.option, "--neck", help="Instead of --length: the neck or place it is to lie on; likewise."
    ),
    "rounds": partial(
        click.option,
        "--rounds",
        type=click.IntRange(min=0),
        help="Instead of --length: the rounds themselves.",
    ),
    "bead": partial(
        click.option,
        "--bead",
        "own_kinds",
        multiple=True,
        metavar="ROLE=SIZE[ SHAPE]",
        help="A role with a size of its own.",
    ),
    "gauge": partial(click.option, "--gauge", help="Your own gauge: '37 rounds in 5cm'."),
    "keep_gauge": partial(
        click.option, "--keep-gauge", is_flag=True, help="Keep it in analyser.toml for this motif and bead."
    ),
    "spare": partial(
        click.option,
        "--spare",
        type=SHARE,
        show_default="10% for a piece, 15% for kits",
        help="Beads on top, such as 10%.",
    ),
    "clasp": partial(
        click.option, "--clasp", default="20mm", show_default=True, help="Length of the clasp with its rings."
    ),
    "end_bead": partial(
        click.option,
        "--end-bead",
        show_default="6mm on 11/0, in proportion",
        help="Each of the two end beads, 0 for none.",
    ),
    "reinforced": partial(
        click.option, "--reinforced", is_flag=True, help="The thread goes through each round a second time."
    ),
    "plan": partial(
        click.option,
        "--plan",
        "plan_file",
        type=FILE,
        metavar="FILE",
        help="A plan (.toml): which bead each role takes from stretch to stretch along the rope.",
    ),
    "fade": partial(
        click.option,
        "--fade",
        metavar="ROLE=BEAD..BEAD",
        help="A plan in short: from one bead to the next along the rope, and on to further ones.",
    ),
    "bands": partial(
        click.option,
        "--bands",
        nargs=2,
        type=(click.IntRange(1, 100_000), str),
        metavar="ROUNDS ROLE=BEAD,BEAD",
        help="A plan in short: bands of so many rounds, again and again.",
    ),
    "plan_wish": partial(
        click.option,
        "--plan",
        "plan_file",
        type=FILE,
        metavar="FILE|fade|bands|middle",
        help="A plan along the rope: your own (.toml), or one to propose; fade:2-5 goes between two colours "
        "of the photo by their numbers.",
    ),
    "steps": partial(
        click.option,
        "--steps",
        type=click.IntRange(2, 7),
        help="Beads of a proposed fade, or of proposed bands; chosen if left out.",
    ),
    "kits": partial(click.option, "--kits", type=click.IntRange(1, 1000), help="Kits of a class."),
    "colourway": partial(
        click.option,
        "--colourway",
        "colourways",
        multiple=True,
        metavar="[NAME:]ROLE=BEAD,...[ xKITS]",
        help="One colourway of a class; give it again for each.",
    ),
    "kept": partial(
        click.option,
        "--kept",
        "kept_names",
        multiple=True,
        metavar="NAME[ xKITS]",
        help="A kept colourway as one of the class, in its own motif and length; again for each.",
    ),
    "cards": partial(
        click.option,
        "--cards",
        "cards_file",
        type=FILE,
        metavar="FILE.html",
        help="Also write the cards as a page to print, eight to an A4.",
    ),
    "pack": partial(
        click.option,
        "--pack",
        type=click.FloatRange(min=0.1),
        default=10.0,
        show_default=True,
        help="Grams of a pack to buy.",
    ),
    "order": partial(
        click.option,
        "--order",
        "order_file",
        type=FILE,
        metavar="FILE",
        help="Also write the shopping list there, .csv or .xlsx.",
    ),
    "notes": partial(click.option, "--notes", default="", help="Free text for the card."),
    "card_file": partial(
        click.option,
        "--card",
        "card_file",
        type=FILE,
        metavar="FILE",
        show_default="beside the list, named by date and beads",
        help="Where the piece card goes.",
    ),
}
