"""What is kept of a batch, and the tables and pages made of it."""

from __future__ import annotations

import csv

from pyarrow import parquet

from analyser.batch.store import BatchStore, Outcome
from analyser.report import batch_page, batch_tables

COLOUR = {
    "name": "teal",
    "hex": "#008080",
    "lab": [48.25, -28.85, -8.48],
    "share": 0.5,
    "uncertainty_de00": 2.0,
}
DONE = Outcome("ab12", "=scarf.jpg", "done", answer={"colours": [COLOUR, COLOUR | {"share": 0.25}]})
FAILED = Outcome("cd34", "broken.jpg", "failed", "photo", "is not a photo")


def test_what_is_kept_comes_back(tmp_path):
    store = BatchStore(tmp_path)
    store.put(DONE)
    assert store.get("ab12") == DONE
    assert store.get("cd34") is None


def test_what_is_half_written_counts_as_not_done(tmp_path):
    store = BatchStore(tmp_path)
    store.put(DONE)
    path = store.path("ab12")
    path.write_bytes(path.read_bytes()[:40])
    assert store.get("ab12") is None


def test_the_tables_have_a_row_for_each_colour_and_each_fault(tmp_path):
    outcomes = [("=scarf.jpg", DONE), ("broken.jpg", FAILED)]
    rows = list(batch_tables.rows("palette", outcomes))
    batch_tables.write_csv(tmp_path / "t.csv", "palette", rows)
    batch_tables.write_parquet(tmp_path / "t.parquet", "palette", iter(rows))
    with (tmp_path / "t.csv").open(encoding="utf-8-sig", newline="") as stream:
        read = list(csv.DictReader(stream))
    # A spreadsheet program would run "=scarf.jpg".
    assert [row["photo"] for row in read] == ["'=scarf.jpg", "'=scarf.jpg", "broken.jpg"]
    assert [row["share"] for row in read] == ["0.5", "0.25", ""]
    table = parquet.read_table(tmp_path / "t.parquet").to_pylist()
    assert [row["photo"] for row in table] == ["=scarf.jpg", "=scarf.jpg", "broken.jpg"]
    assert [row["colour"] for row in table] == [1, 2, None]
    assert [row["fault"] for row in table] == [None, None, "is not a photo"]


def test_many_photos_are_parted_into_pages(tmp_path, monkeypatch):
    monkeypatch.setattr(batch_page, "ON_A_PAGE", 2)
    store = BatchStore(tmp_path)
    store.put(DONE)
    store.put(FAILED)
    photos = [("a<b.jpg", "ab12"), ("broken.jpg", "cd34"), ("later.jpg", "ef56")]
    page, counted = batch_page.write_pages(tmp_path, "palette", photos, store)
    first, second = page.read_text(), (tmp_path / "summary-2.html").read_text()
    assert counted == {"done": 1, "failed": 1, "missing": 1}
    assert "1 done, 1 not: 1 × photo, 1 still to do" in first
    assert "a&lt;b.jpg" in first
    assert "later.jpg" in second
    assert 'href="summary-2.html"' in first
