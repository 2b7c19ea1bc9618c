"""The jobs as functions, for a script or a notebook: a photo's path in, a frozen value out.

Each takes what its verb on the command line takes, written as one types it there: ``"18cm"``, ``"11/0"``,
``"#336699"``, ``"10%,10%,50%,50%"``. What a user can put right is raised as ``AnalyserError``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from analyser.audit.verdict import Piece
    from analyser.colourway.matching import Matches
    from analyser.colourway.pairing import Pair
    from analyser.colourway.palette import Palette
    from analyser.piece.counting import BeadCount
    from analyser.stock.stock import Stock
    from analyser.tray.measuring import Tray

Lab = tuple[float, float, float]
Method = Literal["auto", "chart", "card", "paper", "none"]


def palette(
    photo: str | Path,
    *,
    colours: int | None = None,
    focus: str | None = None,
    mask: str | Path | None = None,
    calibration: Method = "auto",
    card: str | None = None,
) -> Palette:
    """The few colours that a photo comes down to, each with its share, place and doubt.

    Parameters
    ----------
    photo : str or Path
    colours : int, optional
        How many, 2 to 24; by the data if left out.
    focus : str, optional
        A box round the subject: ``"x,y,width,height"`` in pixels or percent, or ``"middle"``.
    mask : str or Path, optional
        A picture of the photo's shape, white where the subject is.
    calibration, card : str, optional
        What the colours are corrected by, and where a card lies: ``"BOX:grey"``, ``"BOX:white"``.

    Returns
    -------
    Palette
        ``colours`` by share, the largest first.

    Raises
    ------
    AnalyserError
        If the photo cannot be read, or a box, mask or card does not fit it.
    """
    from analyser.colourway import photo_palette
    from analyser.photo.box import Box
    from analyser.photo.calibration import Card

    pixels, how = photo_palette.calibrated(
        Path(photo), method=calibration, card=Card.parse(card) if card else None, small_will_do=focus is None
    )
    return photo_palette.palette_of(
        pixels,
        how,
        colours=colours,
        focus=Box.parse(focus) if focus else None,
        mask_file=None if mask is None else Path(mask),
    )


def match(
    colours: Sequence[str | Lab],
    stock: str | Path | Stock,
    *,
    top: int = 3,
    size: str | None = None,
    shape: str | None = None,
    finish: str | None = None,
    at_least: int | None = None,
) -> tuple[Matches, ...]:
    """The beads of a stock nearest to given colours.

    Parameters
    ----------
    colours : sequence of str or tuple of 3 float
        ``"#rrggbb"``, ``"lab:L,a,b"``, a bead's id or name; or Lab (D65, 2 degree observer) as numbers.
    stock : str, Path or Stock
        A CSV or XLSX list, or one that was read by ``read_stock``.
    top : int
        Beads for each colour.
    size, shape, finish : str, optional
        Only such beads.
    at_least : int, optional
        Only lots sure to hold so many beads.

    Returns
    -------
    tuple of Matches
        One for each colour, in the order given; its ``beads`` nearest first, with ``de00`` and ``verdict``.

    Raises
    ------
    AnalyserError
        If the list or a colour cannot be read.
    """
    from analyser.colourway import matching
    from analyser.stock import units
    from analyser.stock.colour_text import read_colour

    held = _stock(stock)
    lab = [read_colour(colour, held).lab if isinstance(colour, str) else colour for colour in colours]
    return matching.nearest(
        lab,
        held,
        top=top,
        size=units.size(size) if size else None,
        shape=shape,
        finish=finish,
        at_least=at_least,
    ).colours


def pairs(
    photo: str | Path,
    stock: str | Path | Stock,
    *,
    motif: str = "chenille",
    size: str = "11/0",
    shape: str = "round",
    length: str | None = None,
    contrast: Literal["soft", "clear", "bold"] = "clear",
    top: int = 5,
    colours: int | None = None,
    focus: str | None = None,
    calibration: Method = "auto",
    card: str | None = None,
) -> tuple[Pair, ...]:
    """Accent and body beads of a stock for what a photo shows, the best first.

    Parameters
    ----------
    photo : str or Path
    stock : str, Path or Stock
    motif : str
        A shipped motif's name, or a ``.toml`` file.
    size, shape : str
        Of the beads, such as ``"11/0"`` and ``"round"``.
    length : str, optional
        Finished length, such as ``"18cm"``: the pairs then say what they need and whether it is there.
    contrast : str
        How far accent and body should stay apart.
    top : int
        Pairs wanted.
    colours, focus, calibration, card
        As of ``palette``.

    Returns
    -------
    tuple of Pair
        Each with its beads, ``measures`` (``reads_to_m`` among them), ``needs`` and ``enough``.

    Raises
    ------
    AnalyserError
        If photo, list or motif cannot be read, or no pair can be made.
    """
    from analyser.colourway import design
    from analyser.motif import parsing
    from analyser.stock import units

    held = _stock(stock)
    wishes = design.Wishes(
        motif=parsing.load(motif),
        size=units.size(size),
        shape=shape,
        length_mm=units.length_mm(length) if length else None,
        contrast=contrast,
        top=top,
    )
    found = palette(photo, colours=colours, focus=focus, calibration=calibration, card=card)
    return design.design(found, held, wishes).pairs


def tray(photo: str | Path, *, calibration: Method = "auto", card: str | None = None) -> Tray:
    """The piles of beads in a photo, each with its colour, finish and doubt.

    Parameters
    ----------
    photo : str or Path
        Small heaps on something plain, in even light.
    calibration, card : str, optional
        As of ``palette``.

    Returns
    -------
    Tray
        ``piles`` in reading order: rows from the top, each from the left.

    Raises
    ------
    AnalyserError
        If the photo cannot be read, or shows no piles.
    """
    from analyser.photo import reading
    from analyser.photo.calibration import Card, calibrate
    from analyser.tray import measuring

    pixels = reading.read(photo, about_pixels=measuring.READ_PIXELS)
    return measuring.measure(
        pixels, calibrate(pixels, calibration, Card.parse(card) if card else None, on_table=True)
    )


def audit(
    photo: str | Path,
    *,
    motif: str | None = None,
    length: str | None = None,
    worked_to: Literal["left", "right", "top", "bottom"] | None = None,
    calibration: Method = "auto",
    card: str | None = None,
) -> Piece:
    """Whether the rope in a photo, the largest of several, is even: lot changes, stray beads, plain rounds.

    Parameters
    ----------
    photo : str or Path
    motif : str, optional
        The one that was woven; with ``length`` places are told in rounds.
    length : str, optional
        From end to end, such as ``"18.5cm"``: places are then told in cm.
    worked_to : str, optional
        The side of the photo at which the rope was worked last.
    calibration, card : str, optional
        As of ``palette``.

    Returns
    -------
    Piece
        Its ``verdict``, ``"even"``, ``"check"`` or ``"uneven"``, its ``findings`` and its roles' colours.

    Raises
    ------
    AnalyserError
        If the photo cannot be read, or shows no rope that can be judged.
    """
    from analyser.audit import running
    from analyser.motif import parsing
    from analyser.photo.calibration import Card
    from analyser.stock import units

    found = running.audit_ropes(
        photo,
        motif=parsing.load(motif) if motif else None,
        length_mm=units.length_mm(length) if length else None,
        worked_to=worked_to,
        method=calibration,
        card=Card.parse(card) if card else None,
    )
    return max(found, key=lambda piece: piece.width_px * len(piece.centreline))


def counts(
    *,
    motif: str = "chenille",
    length: str | None = None,
    wrist: str | None = None,
    rounds: int | None = None,
    size: str | None = None,
    gauge: str | None = None,
    spare: float | None = None,
    kits: int = 1,
    beads: Mapping[str, str] | None = None,
    stock: str | Path | Stock | None = None,
    plan: str | Path | None = None,
) -> BeadCount:
    """Beads, grams and thread for a piece, or for each kit of a class.

    Parameters
    ----------
    motif : str
        A shipped motif's name, or a ``.toml`` file.
    length, wrist, rounds : str, str, int
        One of them: finished length, the wrist or neck it is for, or the rounds themselves; 18 cm if none.
    size : str, optional
        Of the beads; that of ``beads`` or ``"11/0"`` if left out.
    gauge : str, optional
        Your own, such as ``"37 rounds in 5cm"``; beats the size table.
    spare : float, optional
        Share on top; 0.10 for a piece, 0.15 for kits if left out.
    kits : int
        Pieces in all.
    beads : mapping of role to bead, optional
        Such as ``{"accent": "coral", "body": "teal-deep"}``, looked up in ``stock``.
    stock : str, Path or Stock, optional
    plan : str or Path, optional
        A plan's file, of which bead each role takes along the rope.

    Returns
    -------
    BeadCount
        ``beads``, ``low``, ``high``, ``with_spare`` and ``grams`` by role (of a plan by role and bead,
        ``"body:teal-deep"``, where it names one), ``thread``, ``lengths``; with beads named also what the
        stock holds of them.

    Raises
    ------
    AnalyserError
        If a length, gauge, motif or bead cannot be read, or beads are named without a stock.
    """
    from analyser.errors import OptionError
    from analyser.motif import parsing
    from analyser.piece import counting, plan_file, planned_piece
    from analyser.piece.gauge import Gauge
    from analyser.stock import units

    if beads and stock is None:
        raise OptionError("beads are looked up in a stock list; give it as stock")
    if length is None and wrist is None and rounds is None:
        length = "18cm"
    held = _stock(stock) if stock is not None and (beads or plan is not None) else None
    woven = parsing.load(motif)
    along = None if plan is None else plan_file.load(plan)
    named = {role: held.lots(bead) for role, bead in (beads or {}).items()} if held else {}
    made = counting.count(
        woven,
        length_mm=units.length_mm(length) if length else None,
        body_mm=units.length_mm(wrist) if wrist else None,
        rounds=rounds,
        size=units.size(size) if size else None,
        gauge=Gauge.parse(gauge) if gauge else None,
        spare=spare,
        kits=kits,
        stock=(named if along is None else planned_piece.usual_lots(along, named, held, woven)) or None,
    )
    return made if along is None else planned_piece.planned_piece(along, made, named, held).kits.count


def read_stock(path: str | Path, *, skip_faulty: bool = False) -> Stock:
    """A stock list, read once for several questions.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX.
    skip_faulty : bool
        Leave out rows that cannot be used, which ``left_out`` then names.

    Returns
    -------
    Stock

    Raises
    ------
    StockError
        If it cannot be read, or rows are faulty and not skipped.
    """
    from analyser.stock.list import stock_list

    return stock_list.read(path, skip_faulty=skip_faulty)


def _stock(stock: str | Path | Stock) -> Stock:
    return read_stock(stock) if isinstance(stock, (str, Path)) else stock
