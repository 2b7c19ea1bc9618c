"""The bead drawer: what is changed on the page is changed in the list, and every change has its way back."""

from __future__ import annotations

import contextlib
import shutil
from pathlib import Path

import openpyxl
import pytest

from analyser import files
from analyser.errors import StockError
from analyser.piece import gauge
from analyser.stock.list import stock_list, writing
from analyser.web.drawer import ChangedError, Drawer

DEMO = Path(__file__).resolve().parents[2] / "palettes" / "demo-stock.csv"


@pytest.fixture
def drawer(tmp_path: Path) -> Drawer:
    path = tmp_path / "stock.csv"
    shutil.copy(DEMO, path)
    return Drawer(path)


def test_search_filter_and_order(drawer):
    everything = drawer.page("", "", "", "list", 0)
    assert everything["in_all"] == everything["found"] == len(stock_list.read(DEMO).beads)
    coral = drawer.page("CORAL dusk", "", "", "list", 0)
    assert {row["id"] for row in coral["rows"]} == {"coral-dusk"}
    matte = drawer.page("", "11/0", "matte", "light", 0)
    assert matte["rows"]
    assert all(row["size"] == "11/0" for row in matte["rows"])
    lightness = [row["lab"][0] for row in matte["rows"] if row["lab"]]
    assert lightness == sorted(lightness, reverse=True)
    most = [row["beads"] for row in drawer.page("", "", "", "most", 0)["rows"] if row["beads"] is not None]
    assert most == sorted(most, reverse=True)


def test_a_cell_is_changed_alone_and_undone_to_the_byte(drawer):
    before = drawer.path.read_bytes()
    row = drawer.page("coral-dusk", "", "", "list", 0)["rows"][0]
    drawer.set_cell(row["row"], "quantity", "57", "12.5")
    lines = zip(before.splitlines(), drawer.path.read_bytes().splitlines(), strict=True)
    assert [i for i, (old, new) in enumerate(lines, start=1) if old != new] == [row["row"]]
    assert "12.5" in drawer.undo_says
    drawer.set_cell(row["row"], "name", "Coral dusk", "Coral evening")
    drawer.undo()
    drawer.undo()
    assert drawer.path.read_bytes() == before
    with pytest.raises(ChangedError, match="nothing to undo"):
        drawer.undo()


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [("hex", "reddish", "reddish"), ("size", "12-Nov", "date"), ("quantity", "-3", "-3")],
)
def test_a_value_that_cannot_be_read_is_refused(drawer, column, value, says):
    before = drawer.path.read_bytes()
    row = drawer.page("coral-dusk", "", "", "list", 0)["rows"][0]
    was = row["cells"][drawer.held()[0].headings.index(column)]
    with pytest.raises(StockError, match=says):
        drawer.set_cell(row["row"], column, was, value)
    assert drawer.path.read_bytes() == before
    assert drawer.undo_says is None


def test_a_cell_changed_elsewhere_is_not_overwritten(drawer):
    row = drawer.page("coral-dusk", "", "", "list", 0)["rows"][0]
    with pytest.raises(ChangedError, match="changed elsewhere"):
        drawer.set_cell(row["row"], "quantity", "58", "1")
    with pytest.raises(ChangedError, match="not in the list any more"):
        drawer.set_cell(99_999, "quantity", "58", "1")


def test_undo_does_not_take_changes_of_others_with_it(drawer):
    row = drawer.page("coral-dusk", "", "", "list", 0)["rows"][0]
    drawer.set_cell(row["row"], "quantity", "57", "12.5")
    drawer.path.write_bytes(drawer.path.read_bytes() + b"# by hand\n")
    with pytest.raises(ChangedError, match="changed elsewhere since"):
        drawer.undo()
    assert drawer.path.read_bytes().endswith(b"# by hand\n")


@pytest.mark.parametrize("when", ["before", "after"])
def test_undo_tells_a_change_of_others_that_came_in_between(drawer, monkeypatch, when):
    """Another program writes just before or just after this one, while the step is being kept."""

    @contextlib.contextmanager
    def crowded(path, **more):
        if when == "before":
            path.write_bytes(path.read_bytes() + b"# by hand\n")
        with files.lock(path, **more):
            yield
        if when == "after":
            path.write_bytes(path.read_bytes() + b"# by hand\n")

    row = drawer.page("coral-dusk", "", "", "list", 0)["rows"][0]
    with monkeypatch.context() as patched:
        patched.setattr(writing, "lock", crowded)
        drawer.set_cell(row["row"], "quantity", "57", "12.5")
    if when == "after":
        with pytest.raises(ChangedError, match="changed elsewhere since"):
            drawer.undo()
    else:
        drawer.undo()
    assert drawer.path.read_bytes().endswith(b"# by hand\n")


def test_every_step_is_undone_after_a_restart(tmp_path):
    path = tmp_path / "stock.csv"
    shutil.copy(DEMO, path)
    before = path.read_bytes()
    first = Drawer(path, tmp_path)
    row = first.page("coral-dusk", "", "", "list", 0)["rows"][0]
    first.set_cell(row["row"], "quantity", "57", "12.5")
    first.set_cell(row["row"], "name", "Coral dusk", "Coral evening")
    again = Drawer(path, tmp_path)
    assert "Coral evening" in again.undo_says
    assert "Coral evening" in again.undo()
    assert "12.5" in Drawer(path, tmp_path).undo()
    assert path.read_bytes() == before
    assert Drawer(path, tmp_path).undo_says is None
    assert Drawer(tmp_path / "other.csv", tmp_path).undo_says is None


def test_a_number_of_a_workbook_stays_a_number(tmp_path):
    path = tmp_path / "stock.xlsx"
    book = openpyxl.Workbook()
    for cells in (["id", "size", "hex", "grams", "cost"], ["a", "11/0", "#102030", 20, 4.5]):
        book.active.append(cells)
    book.save(path)
    drawer = Drawer(path)
    drawer.set_cell(2, "grams", "20", "12,5")
    drawer.set_cell(2, "cost", "4.5", "5")
    (bead,) = drawer.held()[1].beads
    drawer.book_out([(bead, 110)])
    written = [cell.value for cell in openpyxl.load_workbook(path).active[2]]
    assert written[3:5] == [11.5, 5]  # 110 beads to the gram, data/bead-sizes.csv
    assert written[5] == "12.5 grams"  # what the price was paid for, in a column of its own
    (left,) = drawer.held()[1].beads
    assert left.cost_of(110) == pytest.approx(5 / 12.5)


def test_another_list_is_brought_in_once(drawer, tmp_path):
    other = tmp_path / "other.csv"
    other.write_text("id,name,size,hex\ncoral-dusk,Coral,11/0,#ff0000\nnew-one,New,11/0,#00ff00\n")
    before = drawer.path.read_bytes()
    told = drawer.bring_in(stock_list.read(other).beads)
    assert "new-one" in told["added"]
    assert drawer.held()[1].find("new-one").name == "New"
    again = drawer.bring_in(stock_list.read(other).beads)
    assert again["added"] == []
    drawer.undo()
    assert drawer.path.read_bytes() == before


def test_a_list_is_begun(tmp_path):
    drawer = Drawer(tmp_path / "fresh.csv")
    drawer.bring_in(stock_list.read(DEMO).beads[:2])
    assert len(drawer.held()[1].beads) == 2
    drawer.undo()
    assert not drawer.path.exists()


def test_a_piece_is_booked_out_over_the_page(page, stock_file, whole_list):
    piece = {"accent": "coral-dusk", "body": "teal-deep", "motif": "chenille", "length": "18cm"}
    counted = page.get("/api/pair?accent=coral-dusk&body=teal-deep&length=18cm").json()["pair"]["counted"]
    told = page.post("/api/stock/pieces", json=piece)
    assert told.status_code == 200, told.text
    taken = {line["id"]: line["beads"] for line in told.json()["lines"]}
    assert taken == {"coral-dusk": counted["beads"]["accent"], "teal-deep": counted["beads"]["body"]}
    assert stock_file.read_bytes() != whole_list
    page.post("/api/stock/undo")
    assert stock_file.read_bytes() == whole_list


def test_notes_stand_on_the_card_of_a_piece_that_is_booked_out(page, whole_list):
    piece = {
        "accent": "coral-dusk",
        "body": "teal-deep",
        "length": "18cm",
        "notes": "for Ana, clasp from the tin",
    }
    card = page.post("/api/stock/pieces", json=piece).json()["card"]
    page.post("/api/stock/undo")
    assert card.splitlines()[0].startswith("Chenille")
    assert "coral-dusk" in card
    assert "for Ana, clasp from the tin" in card


def test_only_lots_that_surely_hold_so_many_are_shown(page):
    every, least = (page.get(f"/api/stock?at_least={n}").json() for n in (0, 4000))
    assert 0 < least["found"] < every["found"]
    assert all(row["beads"] >= 4000 for row in least["rows"])


def test_a_typed_gauge_is_kept_and_counted_by(page, stock_file):
    asked = "/api/pair?accent=coral-dusk&body=teal-deep&motif=chenille&length=18cm"
    usual = page.get(asked).json()["pair"]["counted"]["rounds"]
    told = {"gauge": "20 rounds in 5cm", "accent": "coral-dusk", "body": "teal-deep"}
    kept = page.post("/api/gauges", json=told)
    assert kept.status_code == 200, kept.text
    # As ``count --keep-gauge``: by the bead's id where one is named.
    assert kept.json()["key"] == "chenille teal-deep"
    settings = stock_file.with_name("analyser.toml")
    assert gauge.kept(settings) == {"chenille teal-deep": gauge.Gauge(20.0, 50.0)}
    assert page.get(asked).json()["pair"]["counted"]["rounds"] < usual
    settings.unlink()
    assert page.post("/api/gauges", json={"gauge": "tight"}).status_code == 422
    by_size = page.post("/api/gauges", json={"gauge": "20 rounds in 5cm", "body": "#123456", "size": "8/0"})
    assert by_size.json()["key"] == "chenille 8/0 round"
    settings.unlink()


def test_a_piece_the_stock_does_not_hold_is_not_booked(page, stock_file, whole_list):
    piece = {"accent": "coral-dusk", "body": "teal-deep", "motif": "chenille", "length": "3m"}
    told = page.post("/api/stock/pieces", json=piece)
    assert told.status_code == 422
    assert "are to be booked out" in told.json()["error"]["says"]
    assert stock_file.read_bytes() == whole_list


def test_the_list_is_taken_out_as_it_lies_and_brought_in_with_its_faults_told(page, stock_file, whole_list):
    out = page.get("/api/stock/file")
    assert out.content == whole_list
    assert out.headers["content-disposition"].endswith("stock.csv")
    bad = b"id,name,size,hex\n,,11/0,#102030\n"
    told = page.post("/api/stock/rows", content=bad, headers={"X-File-Name": "theirs.csv"})
    assert told.status_code == 422
    assert told.json()["error"]["says"].startswith("theirs.csv: row 2")
    assert stock_file.read_bytes() == whole_list
    partly = b"id,name,size,hex\nx,X,11/0,nothing\n,,11/0,#102030\n"
    told = page.post("/api/stock/rows", content=partly, headers={"X-File-Name": "theirs.csv"}).json()
    assert told["added"] == ["x"]
    assert "1 row used, 1 of them without what cannot be read" in told["says"]
    assert "1 left out" in told["says"]
