"""The register of options: each one once, with its names, its kind of value and its help."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

import click

from analyser.cli.register_piece import OF_A_PIECE
from analyser.cli.values import BOX, CARD, FILE, METHODS, SPOT

Add = Callable[..., Callable[[Any], Any]]

#: name -> ``click.option`` with all but what a verb says otherwise.
REGISTER: Mapping[str, Add] = {
    # the photo
    "calibration": partial(
        click.option,
        "--calibration",
        type=click.Choice(METHODS),
        default="auto",
        show_default=True,
        help="What the photo's colours are corrected by.",
    ),
    "card": partial(
        click.option,
        "--card",
        type=CARD,
        help="Where a grey or white card lies: BOX, BOX:white, BOX:grey or BOX:0.75.",
    ),
    "no_card": partial(
        click.option,
        "--no-card",
        is_flag=True,
        help="What looks like a grey or white card, or white paper, is none.",
    ),
    "even_light": partial(
        click.option,
        "--even-light",
        is_flag=True,
        help="The ground is one plain stuff: what differs slowly over it is light, to be evened out.",
    ),
    "corrected": partial(
        click.option,
        "--corrected",
        type=FILE,
        metavar="FILE",
        help="Also save the calibrated photo, tagged sRGB, for the shop's page.",
    ),
    "limit_mp": partial(
        click.option,
        "--limit-mp",
        type=click.FloatRange(min=0.01),
        default=200.0,
        show_default=True,
        help="Refuse photos of more megapixels than this.",
    ),
    "focus": partial(
        click.option, "--focus", type=BOX, help="A box round the subject; the wall behind it goes."
    ),
    "mask": partial(
        click.option,
        "--mask",
        "mask_file",
        type=FILE,
        metavar="FILE",
        help="A picture of the photo's shape, white where the subject is.",
    ),
    "spot": partial(
        click.option,
        "--spot",
        "spots",
        type=SPOT,
        multiple=True,
        help="Also the colour at this place, in pixels of the upright photo; with --stock its nearest beads.",
    ),
    "from_rope": partial(
        click.option,
        "--from-rope",
        type=FILE,
        metavar="PHOTO",
        help="Instead of PHOTO: a finished rope to make another of.",
    ),
    # the stock and its beads
    "stock": partial(
        click.option,
        "--stock",
        "stock_file",
        type=FILE,
        metavar="FILE",
        help="Your stock list (CSV or XLSX).",
    ),
    "skip_faulty": partial(
        click.option,
        "--skip-faulty/--refuse-faulty",
        default=True,
        show_default=True,
        help="Leave rows that cannot be used out, and say so, or refuse the list.",
    ),
    "take": partial(
        click.option,
        "--take",
        "takes",
        multiple=True,
        metavar="KIND=VALUE",
        help="How your list is read from now on, such as unit=grams, dates=sizes, sheet=Beads, fills=true, "
        "'finish:sparkly=lustre'; KIND= alone forgets it. Kept in analyser.toml beside the list.",
    ),
    "into": partial(
        click.option,
        "--into",
        type=FILE,
        metavar="FILE",
        help="Add the piles as rows to this list (begun if new).",
    ),
    "names": partial(
        click.option,
        "--names",
        "names_file",
        type=FILE,
        metavar="FILE",
        help="Ids and names, a line for each pile, or each place of a photo sheet: id, id;name or "
        "id;name;lot; - leaves a pile out. "
        "Without it they are asked for.",
    ),
    "replace_colour": partial(
        click.option,
        "--replace-colour",
        is_flag=True,
        help="For a bead that is in the list already, replace its colour; the old one goes in its notes.",
    ),
    "fill": partial(
        click.option,
        "--fill",
        is_flag=True,
        help="The piles are beads of the list already: their colours go into the rows that --names tells, or "
        "that are picked on the terminal; size, lot and amount stay.",
    ),
    "another_lot": partial(
        click.option,
        "--another-lot",
        is_flag=True,
        help="A pile whose id is in the list with another size or lot gets a row of its own.",
    ),
    "size": partial(click.option, "--size", help="Size of the beads: 11/0, 11 or 4mm."),
    "shape": partial(click.option, "--shape", help="Shape of the beads: round, cylinder, large …"),
    "finish": partial(click.option, "--finish", help="Only beads of this finish, such as matte."),
    "at_least": partial(
        click.option, "--at-least", type=click.IntRange(min=1), help="Only lots sure to hold so many beads."
    ),
    "accent": partial(click.option, "--accent", help="Bead of the stock for the accent, by id or name."),
    "body": partial(click.option, "--body", help="Bead of the stock for the body."),
    "third": partial(click.option, "--third", help="Bead of the stock for the third colour."),
    "end": partial(click.option, "--end", help="Bead of the stock for the two end beads."),
    "role": partial(
        click.option,
        "--role",
        "other_roles",
        multiple=True,
        metavar="LETTER=BEAD",
        help="Bead for a further letter.",
    ),
    **OF_A_PIECE,
    # what is wished of a colourway
    "colours": partial(
        click.option,
        "--colours",
        type=click.IntRange(2, 24),
        help="Colours of the palette; by the data if left out.",
    ),
    "contrast": partial(
        click.option,
        "--contrast",
        type=click.Choice(["soft", "clear", "bold"]),
        default="clear",
        show_default=True,
        help="How far accent and body should stay apart.",
    ),
    "mind_colour_vision": partial(
        click.option,
        "--mind-colour-vision",
        is_flag=True,
        help="Rank by what colour-deficient sight tells apart, too.",
    ),
    "top": partial(
        click.option, "--top", type=click.IntRange(1, 100), show_default=True, help="How many to propose."
    ),
    "stays": partial(
        click.option,
        "--stays",
        metavar="BEAD|COLOUR",
        help="Only pairs that hold this bead of the stock, or one for this colour.",
    ),
    "collection": partial(
        click.option,
        "--collection",
        type=click.IntRange(1, 24),
        metavar="N",
        help="N colourways that differ and can be made from the stock together.",
    ),
    "worn_on": partial(
        click.option, "--worn-on", metavar="COLOUR|BOX", help="The cloth or skin it is worn on."
    ),
    "thread": partial(click.option, "--thread", metavar="COLOUR", help="The thread's colour."),
    "keep": partial(
        click.option,
        "--keep",
        "keep_as",
        metavar="NAME",
        help="Keep a pair under this name, in a folder beside the list.",
    ),
    "keep_pair": partial(
        click.option,
        "--keep-pair",
        type=click.IntRange(min=1),
        default=1,
        show_default=True,
        help="Which of the pairs is kept.",
    ),
    "keep_with": partial(
        click.option,
        "--keep-with",
        type=click.Choice(["third", "end"]),
        multiple=True,
        help="Keep the third bead or the end beads that were proposed, too.",
    ),
    "note": partial(click.option, "--note", default="", help="A note to keep with it."),
    "with_bead": partial(
        click.option, "--with", "with_bead", metavar="BEAD", help="Only what holds this bead, by id or name."
    ),
    # the audit
    "worked_to": partial(
        click.option,
        "--worked-to",
        type=click.Choice(["left", "right", "top", "bottom"]),
        help="The end you worked last, as it lies in the photo: the rope is unpicked from there.",
    ),
    "planned": partial(
        click.option,
        "--planned",
        is_flag=True,
        help="Its colours change along the rope as they should: what looks planned is planned.",
    ),
    "new_lot": partial(
        click.option, "--new-lot", type=BOX, help="A box round beads of a new lot beside the rope."
    ),
    "old_lot": partial(
        click.option,
        "--old-lot",
        type=BOX,
        help="A box round beads of the lot you wove with: the new lot is then compared with these.",
    ),
    "lot_tolerance": partial(
        click.option,
        "--lot-tolerance",
        type=click.FloatRange(min=0),
        default=0.8,
        show_default=True,
        help="Least CIEDE2000 of a lot change to report.",
    ),
    "uneven_from": partial(
        click.option,
        "--uneven-from",
        type=click.FloatRange(min=0),
        default=2.0,
        show_default=True,
        help="CIEDE2000 from which a lot change makes a piece uneven.",
    ),
    "same_piece": partial(
        click.option,
        "--same-piece",
        is_flag=True,
        help="Two PHOTOs of one rope, the second turned by 90 degrees: what only one shows in metal or a "
        "film is the angle's.",
    ),
    "strict": partial(
        click.option, "--strict", is_flag=True, help="Leave with 3 unless every piece is even."
    ),
    # the photo sheet
    "layout": partial(
        click.option,
        "--layout",
        type=click.Choice(["rope", "heaps", "flat"]),
        default="rope",
        show_default=True,
        help="A channel for a rope, twelve places for heaps of beads, or room for a flat-lay.",
    ),
    "paper": partial(
        click.option,
        "--paper",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="What you print on.",
    ),
    "paper_name": partial(
        click.option,
        "--name",
        show_default="aster",
        help="What this paper is called, to tell several apart: aster, birch, clover, dahlia, elder, fern, "
        "gorse, heather or iris.",
    ),
    "sheet_file": partial(
        click.option,
        "--out",
        "out_file",
        type=FILE,
        metavar="FILE",
        show_default="photo-sheet-LAYOUT.pdf",
        help="A .pdf or a .png.",
    ),
    "learn": partial(
        click.option,
        "--learn",
        type=FILE,
        metavar="PHOTO",
        help="Remember the paper's white, from a photo of the sheet with a white card on its frame.",
    ),
    "undo_steps": partial(
        click.option,
        "--steps",
        type=click.IntRange(1, 5),
        default=1,
        show_default=True,
        help="How many changes to take back, as far as backups are kept.",
    ),
    "scale_is": partial(
        click.option,
        "--scale-is",
        metavar="LENGTH",
        help="What the sheet's scale of 15 cm measures with a ruler, such as 14.6cm, where the printer "
        "scaled the page.",
    ),
    # the page
    "port": partial(
        click.option,
        "--port",
        type=click.IntRange(0, 65535),
        default=8600,
        show_default=True,
        help="0 takes a free one.",
    ),
    "lan": partial(
        click.option, "--lan", is_flag=True, help="Also for your phone: prints an address and a QR code."
    ),
    "no_browser": partial(click.option, "--no-browser", is_flag=True, help="Do not open the page."),
    # the answer
    "workers": partial(
        click.option, "--workers", type=click.IntRange(1, 512), help="Processes; one a core if left out."
    ),
    "cluster": partial(
        click.option, "--cluster", metavar="ADDRESS", help="Scheduler of a Dask cluster: tcp://host:8786."
    ),
    "parquet": partial(click.option, "--parquet", is_flag=True, help="The table as Parquet too."),
    "out": partial(
        click.option,
        "--out",
        "out_dir",
        type=FILE,
        metavar="DIR",
        help="Write a page with pictures into this folder.",
    ),
}

PHOTO = ("calibration", "card", "no_card", "even_light", "corrected", "limit_mp")
FRAMING = ("focus", "mask")
STOCK = ("stock", "skip_faulty")
#: What piece is made, in which beads, and to which gauge.
PIECE = (
    "motif", "length", "wrist", "neck", "rounds", "size", "shape", "bead", "gauge", "keep_gauge", "spare",
    "clasp", "end_bead", "reinforced", "accent", "body", "third", "end", "role",
)  # fmt: skip
#: Which bead each role takes along the rope.
PLAN = ("plan", "fade", "bands")
PIECE_DEFAULTS: Mapping[str, Mapping[str, Any]] = {
    "motif": {"default": "chenille", "show_default": True},
    "length": {"show_default": "18cm"},
    "size": {"show_default": "the stock's, else 11/0"},
    "shape": {"show_default": "the stock's, else round"},
}
