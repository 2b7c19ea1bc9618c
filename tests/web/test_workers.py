"""Work in processes: limits of time and memory, cancelling, and going on afterwards."""

from __future__ import annotations

import os
import signal
import time

import pytest

from analyser.web.workers import WAITING_AT_MOST, Pool, RefusedError

PILE = {"colour": "#336699", "finish": None}
POSIX = pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="a system without these signals")


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


@POSIX
def test_no_more_waits_than_can_be_kept(pool):
    (worker,) = pool._workers
    os.kill(worker._process.pid, signal.SIGSTOP)  # nothing is finished meanwhile
    calls = [pool.submit("pile_picture", PILE) for _ in range(WAITING_AT_MOST)]
    with pytest.raises(RefusedError, match="waiting already") as told:
        [pool.submit("pile_picture", PILE) for _ in range(3)]
    assert told.value.kind == "busy"
    for call in calls:
        call.cancel()
    os.kill(worker._process.pid, signal.SIGCONT)


@POSIX
def test_work_that_is_ended_from_outside_is_not_called_too_large():
    pool = Pool(1, seconds=60)
    try:
        pool.submit("pile_picture", PILE).future.result(60)
        (worker,) = pool._workers
        process = worker._process
        os.kill(process.pid, signal.SIGSTOP)  # so that it is at it still
        going = pool.submit("pile_picture", PILE)
        while not worker._busy:
            time.sleep(0.001)
        process.kill()
        with pytest.raises(RefusedError, match="ended from outside") as told:
            going.future.result(30)
        assert told.value.kind == "ended"
        assert pool.submit("pile_picture", PILE).future.result(60)
    finally:
        pool.close()
