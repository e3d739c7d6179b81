"""Work shared out among processes comes back whole, in order, and fails as it would have failed here."""

from __future__ import annotations

import os
import sys
import time

import psutil
import pytest

from takeoff.shares import LEAST_SHARED, in_shares, processes_here

forks = pytest.mark.skipif(sys.platform != "linux", reason="work is shared out only where a fork is sound (Linux)")


@pytest.mark.parametrize("processes", [1, 2, 3, 9])
@pytest.mark.parametrize("count", [0, 1, LEAST_SHARED, 101, 20_000])
def test_results_are_those_of_one_process_in_order(count: int, processes: int) -> None:
    assert in_shares(lambda number: number * number, count, processes) == [number**2 for number in range(count)]


@forks
def test_other_processes_take_part() -> None:
    def busy(number: int) -> int:
        sum(range(20_000))
        return os.getpid()

    found = in_shares(busy, 400, 3)
    assert len(set(found)) == 3
    assert os.getpid() in found


def test_few_pieces_are_done_here() -> None:
    assert set(in_shares(lambda _: os.getpid(), LEAST_SHARED - 1, 4)) == {os.getpid()}


@forks
@pytest.mark.parametrize("bad", [0, 50, 99])
def test_what_the_work_raises_is_raised_here(bad: int) -> None:
    def work(number: int) -> int:
        if number == bad:
            raise ValueError(f"number {number}")
        return number

    before = psutil.Process().children()
    with pytest.raises(ValueError, match=f"number {bad}"):
        in_shares(work, 100, 3)
    assert psutil.Process().children() == before  # none is left behind


@forks
def test_what_a_process_that_dies_had_taken_is_done_here() -> None:
    here = os.getpid()

    def work(number: int) -> int:
        if os.getpid() != here and number % 7 == 0:
            os._exit(1)
        return number

    assert in_shares(work, 200, 4) == list(range(200))


@forks
def test_results_that_cannot_be_sent_are_made_here() -> None:
    made = in_shares(lambda number: lambda: number, 60, 2)
    assert [each() for each in made] == list(range(60))


def test_progress_is_told_here_in_order() -> None:
    told: list[int] = []

    def work(number: int) -> int:
        time.sleep(0.001)  # or the other process may have taken all of it before this one takes any
        return number

    in_shares(work, 300, 2, told.append)
    assert told == sorted(told)
    assert told


def test_there_is_at_least_this_process() -> None:
    assert processes_here() >= 1
