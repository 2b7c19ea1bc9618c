"""Work in processes: limits of time and memory, cancelling, and going on afterwards."""

from __future__ import annotations

import time

import pytest

from analyser.web.workers import WAITING_AT_MOST, Pool, RefusedError

PILE = {"colour": "#336699", "finish": None}
LOOKS = {
    f"{role}_{part}": word
    for role in ("accent", "body", "third", "end")
    for part, word in (("finish", None), ("shape", "round"))
}
SLOW = {
    "stock_file": "stock.csv", "accent": "#336699", "body": "#ffffff", "third": None, "end": None,
    "motif": "spiral", "size": "11/0", "part": "rope", "cloth": None, "end_size": None, "letters": [],
    **LOOKS,
}  # fmt: skip


@pytest.fixture(scope="module")
def pool():
    made = Pool(1, seconds=60)
    made.submit("pile_picture", PILE).future.result(60)
    yield made
    made.close()


def test_a_call_is_answered(pool):
    assert pool.submit("pile_picture", PILE).future.result(30).startswith(b"\x89PNG")


def test_what_a_user_can_mend_keeps_its_kind_and_line(pool):
    with pytest.raises(RefusedError, match="a colour is") as told:
        pool.submit("pile_picture", {"colour": "greenish", "finish": None}).future.result(30)
    assert told.value.kind == "option"


def test_a_cancelled_call_ends_soon_and_the_worker_goes_on(pool):
    first = pool.submit("pile_picture", PILE)
    waiting = pool.submit("pile_picture", PILE)
    waiting.cancel()
    first.future.result(30)
    with pytest.raises(RefusedError, match="stopped"):
        waiting.future.result(30)
    assert pool.submit("pile_picture", PILE).future.result(60)


def test_the_urgent_goes_first(pool):
    ended = []
    calls = [pool.submit("pile_picture", PILE, urgent=k == 5) for k in range(6)]
    for k, call in enumerate(calls):
        call.future.add_done_callback(lambda _f, k=k: ended.append(k))
    for call in calls:
        call.future.result(60)
    assert ended.index(5) <= 1  # only the one under way was before it


def test_time_has_a_limit():
    pool = Pool(1, seconds=0.3)
    try:
        began = time.monotonic()
        with pytest.raises(RefusedError, match="takes too long") as told:
            pool.submit("pile_picture", PILE).future.result(30)  # loading alone takes longer
        assert told.value.kind == "time"
        assert time.monotonic() - began < 15
    finally:
        pool.close()


def test_memory_has_a_limit():
    pool = Pool(1, seconds=60, memory_mb=64)  # less than the libraries themselves take
    try:
        with pytest.raises(RefusedError) as told:
            pool.submit("pile_picture", PILE).future.result(60)
        assert told.value.kind in ("memory", "internal")
    finally:
        pool.close()


def test_no_more_waits_than_can_be_kept(pool):
    calls = [pool.submit("rope_picture", SLOW)]
    calls += [pool.submit("pile_picture", PILE) for _ in range(WAITING_AT_MOST - 1)]
    with pytest.raises(RefusedError, match="waiting already") as told:
        [pool.submit("pile_picture", PILE) for _ in range(3)]
    assert told.value.kind == "busy"
    for call in calls:
        call.cancel()


def test_work_that_is_ended_from_outside_is_not_called_too_large():
    pool = Pool(1, seconds=60)
    try:
        pool.submit("pile_picture", PILE).future.result(60)
        (worker,) = pool._workers
        going = pool.submit("rope_picture", SLOW | {"size": "8/0", "metres": 7.9})
        while not worker._busy:
            assert not going.future.done()
            time.sleep(0.001)
        worker._process.kill()
        with pytest.raises(RefusedError, match="ended from outside") as told:
            going.future.result(30)
        assert told.value.kind == "ended"
        assert pool.submit("pile_picture", PILE).future.result(60)
    finally:
        pool.close()
