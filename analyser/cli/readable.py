"""The readable answers: what a maker sees in the terminal.

Colour is never the only sign: every block stands beside its name and code. All text from files is printed
as text, never as markup.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from analyser.phrases.figures import difference, percent
from analyser.phrases.sentences import sentence

if TYPE_CHECKING:
    from rich.console import Console

#: Pairs that the short answer tells.
FIRST_PAIRS = 3


def block(console: Console, hex_code: str, width: int = 6) -> Text:
    """A block in that colour where the terminal has colours, else nothing."""
    true = console.color_system in ("256", "truecolor")
    return Text(" " * width, style=f"on {hex_code}") if true else Text("")


def print_palette(console: Console, answer: Mapping[str, Any]) -> None:
    """The palette as blocks with name, share, code and spread."""
    rows = [(colour, "") for colour in answer["colours"]]
    if answer.get("background"):
        rows.append((answer["background"], " (background)"))
    sure = [difference(colour["uncertainty_de00"]) for colour, _ in rows]
    alike = len(set(sure)) == 1  # the line beneath says it once
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title, justify in (
        ("", "left"),
        ("colour", "left"),
        ("share", "right"),
        ("code", "left"),
        ("spread", "right"),
        *([] if alike else [("sure to", "right")]),
        ("seen at", "left"),
    ):
        table.add_column(title, justify=justify)  # type: ignore[arg-type]  # a literal
    for (colour, suffix), within in zip(rows, sure, strict=True):
        table.add_row(
            block(console, colour["hex"]),
            Text(colour["name"] + suffix),
            percent(colour["share"]),
            colour["hex"] + ("" if colour["in_srgb"] else " *"),
            difference(colour["spread_de00"]),
            *([] if alike else [f"±{within}"]),
            f"{colour['pixel'][0]}, {colour['pixel'][1]}",
        )
    console.print(table)
    if not all(colour["in_srgb"] for colour, _ in rows):
        console.print("* more vivid than a usual screen shows; the code is the nearest it can")
    console.print(Text(answer["calibration"]["says"]))
    print_notes(console, answer)


def print_notes(console: Console, answer: Mapping[str, Any]) -> None:
    """What the reading, the calibration and the job itself had to remark, each once."""
    print_remarks(
        console, [*answer["photo"]["notes"], *answer["calibration"]["notes"], *answer.get("notes", [])]
    )


def print_remarks(console: Console, remarks: Sequence[str]) -> None:
    """Remarks as a list, each once."""
    for remark in dict.fromkeys(remarks):
        console.print(Text(f"- {remark}"))


def print_matches(console: Console, matches: Sequence[Mapping[str, Any]]) -> None:
    """The likeliest beads of each colour."""
    for match in matches:
        colour = match["colour"]
        told = [f"{bead['name']}, {bead['says']}" for bead in match["beads"]]  # in the rows beneath
        title = Text.assemble(
            block(console, colour["hex"]),
            " " if console.color_system else "",
            (colour.get("name", colour["hex"]), "bold"),
            "" if match["says"] in told else f": {match['says']}",
        )
        console.print(title)
        table = Table(box=None, pad_edge=False, show_header=False)
        for bead in match["beads"]:
            table.add_row(
                "  ", block(console, bead["hex"], 3), Text(bead["name"]), Text(bead["id"]), Text(bead["says"])
            )
        console.print(table)


def print_faults(console: Console, answer: Mapping[str, Any]) -> None:
    """The faults of a stock list by kind, then a row each, or that there are none; how the list is read."""
    for note in answer["notes"]:
        console.print(Text(f"- {note}"))
    for note in answer["agreed"]:
        console.print(Text(f"- as you said: {note}"))
    if not answer["faults"]:
        console.print(Text(f"{answer['file']}: {answer['beads']} lots, no faults"))
        return
    console.print(Text("By kind", style="bold"))
    for group in answer["groups"]:
        console.print(Text(f"  {group['says']}"))
        if group["takes"]:
            takes = _takes(group)
            which = "for all" if len(takes) == 1 else "for each word"
            console.print(Text(f"    one mend {which}, such as {' '.join(takes)}"))
        elif group["mend"]:
            console.print(Text(f"    {group['mend']}"))
    console.print(Text("By row", style="bold"))
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("row", "column", "what stands there", "what is wrong", "the mend"):
        table.add_column(title, justify="right" if title == "row" else "left")
    for fault in answer["faults"]:
        table.add_row(
            str(fault["row"]),
            Text(fault["column"] or "whole row"),
            Text(fault["value"]),
            Text(fault["says"]),
            Text(fault["mend"]),
        )
    console.print(table)
    count = len(answer["faults"])
    console.print(Text(f"{count} fault{'s' if count > 1 else ''}; {answer['beads']} lots can be used"))


def _takes(group: Mapping[str, Any]) -> list[str]:
    """What to give ``--take`` for a kind of fault, ready to copy."""
    takes: list[str] = group["mends"]
    return [f"--take {take}" if " " not in take else f'--take "{take}"' for take in takes[:3]]


def print_pairs(console: Console, answer: Mapping[str, Any]) -> None:
    """The answer first: the best pairs in a line each, and a plan."""
    together = answer["options"].get("collection")
    for number, pair in enumerate(answer["pairs"][: together or FIRST_PAIRS], start=1):
        console.print(Text.assemble(*pair_title(console, number, pair), f": {pair['says']}"))
    if not answer["pairs"]:
        for note in answer["notes"]:
            console.print(Text(note))
    if together and answer["pairs"]:
        console.print(Text(sentence([answer["together"]])))
    if answer.get("planned"):
        print_plan(console, answer["planned"])
    elif "planned" in answer:
        console.print(Text(answer["notes"][-1]))  # why there is none


def print_page(console: Console, answer: Mapping[str, Any]) -> None:
    """What is doubtful, and where the page lies."""
    console.print(Text(answer["calibration"]["says"]))
    page = f"Page: {answer['report']}" if answer["report"] else "--out DIR draws the page"
    console.print(Text(f"{page}; --verbose tells the rest."))


def print_plan(console: Console, planned: Mapping[str, Any]) -> None:
    """A plan: what it is, its beads in a line, and what can be said of it."""
    console.print(Text(planned["title"], "bold"))
    for key, name in planned["names"].items():
        known = planned["colours"].get(key)
        line = Text("   ").append_text(block(console, known["hex"], 3)) if known else Text("   ")
        console.print(line.append(f" {key.partition(':')[0]}: {name}"))
    for says in planned["says"]:
        console.print(Text(f"   - {says}"))


def print_seen(console: Console, planned: Mapping[str, Any]) -> None:
    """How far each stretch of a plan reads, and how even its fade is."""
    console.print(Text("By the plan", "bold"))
    fade = [planned["fade"]["says"]] if planned["fade"] else []
    for says in (*fade, *(one["says"] for one in planned["stretches"])):
        console.print(Text(f"- {says}"))


def pair_title(console: Console, number: int, pair: Mapping[str, Any]) -> tuple[Any, ...]:
    """Number, blocks and names of a pair, for ``Text.assemble``."""
    from analyser.phrases.pairs import title

    beads = list(pair["beads"].values())
    widths = (3, 5, *(2 for _ in beads[2:]))
    return (
        f"{number}. ",
        *(block(console, bead["hex"], width) for bead, width in zip(beads, widths, strict=True)),
        " " if console.color_system else "",
        (title([bead["name"] for bead in beads]), "bold"),
    )


def print_whole_colourway(console: Console, answer: Mapping[str, Any]) -> None:
    """All there is: palette, beads, and the pairs with their reasons."""
    console.rule("pairs", align="left")
    for number, pair in enumerate(answer["pairs"], start=1):
        console.print(Text.assemble(*pair_title(console, number, pair)))
        for reason in pair["reasons"]:
            console.print(Text(f"   - {reason}"))
        worn = pair["worn_on"]["says"] if pair["worn_on"] else None
        for line in (worn, pair["thread"], *pair["company"]["says"]):
            if line:
                console.print(Text(f"   - {line}"))
    if answer.get("planned"):
        print_plan(console, answer["planned"])
    console.rule("beads for the photo's colours", align="left")
    print_matches(console, answer["matches"])
    for mix in answer["mixes"]:
        console.print(Text(f"- for the {answer['colours'][mix['colour']]['name']}: {mix['says']}"))
    console.rule("the photo", align="left")
    print_palette(console, answer)
    if answer["report"]:
        console.print(Text(f"Page: {answer['report']}"))


def print_contrast(console: Console, answer: Mapping[str, Any]) -> None:
    """One pair: its reasons, then the figures that they do not tell."""
    from analyser.phrases.bars import figures

    pair = answer["pair"]
    worn = pair["worn_on"]["says"] if pair["worn_on"] else None
    for reason in (*pair["reasons"], worn, pair["thread"]):
        if reason:
            console.print(Text(f"- {reason}"))
    table = Table(box=None, pad_edge=False, show_header=False)
    for name, value in figures(pair):
        table.add_row(name, value)
    console.print(table)
