"""Work on many walls shared out among processes: the same results in the same order, sooner.

The processes are forks of this one, so that nothing has to be sent to them: they see what this one has read. That is
sound only where a fork is (Linux); elsewhere, and for few walls, the work is done here. What a process takes next it
takes from one queue, so that one large wall keeps nobody waiting.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
import warnings
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

Result = TypeVar("Result")

LEAST_SHARED = 24
"""Fewer pieces of work than this are done here: a process costs some hundredths of a second."""

_TOKEN = 4
"""Bytes of a number in the queue; a pipe hands out such short pieces whole."""
_QUEUE = 8192
"""Numbers that a pipe holds without a reader, with room to spare; more pieces than that are taken several at a time."""


def processes_here() -> int:
    """How many processes are worth having on this machine: 1 where work cannot be shared out."""
    return len(os.sched_getaffinity(0)) if sys.platform == "linux" else 1


def in_shares(
    work: Callable[[int], Result],
    count: int,
    processes: int = 1,
    progress: Callable[[int], None] | None = None,
    least: int = LEAST_SHARED,
) -> list[Result]:
    """`[work(0), ..., work(count - 1)]`, shared out among processes.

    work: pure, and its results can be pickled. processes: with this one; 1 for no others. progress: called here with
    the number of pieces begun. least: fewer pieces than that are done here. Whatever `work` raises is raised here, as
    if it had been done here alone.
    """
    told = progress or _say_nothing
    if processes <= 1 or count < least or sys.platform != "linux":
        return [_told(work, number, told) for number in range(count)]
    found = _shared(work, count, min(processes, count), told)
    # What a process could not finish, for want of memory or because the work raises, is done here.
    return [found[number] if number in found else work(number) for number in range(count)]


def _say_nothing(_: int) -> None:
    return


def _told(work: Callable[[int], Result], number: int, told: Callable[[int], None]) -> Result:
    told(number)
    return work(number)


def _shared(
    work: Callable[[int], Result], count: int, processes: int, told: Callable[[int], None]
) -> dict[int, Result]:
    step = -(-count // _QUEUE)
    queue, feed = os.pipe()
    os.write(feed, b"".join(first.to_bytes(_TOKEN, "little") for first in range(0, count, step)))
    os.close(feed)
    children: list[tuple[int, int]] = []
    found: dict[int, Result] = {}
    try:
        gc.freeze()  # a collection in a child would touch, and so copy, all that it shares with this process
        for _ in range(processes - 1):
            children.append(_child(work, queue, step, count))
        for number in _taken(queue, step, count):
            told(number)
            found[number] = work(number)
        while children:
            found |= _results(children.pop())
    finally:
        gc.unfreeze()
        os.close(queue)
        for process, answers in children:
            os.kill(process, signal.SIGKILL)
            os.close(answers)
            os.waitpid(process, 0)
    return found


def _taken(queue: int, step: int, count: int) -> Iterator[int]:
    """Numbers of the work that no other process has taken yet."""
    while token := os.read(queue, _TOKEN):
        first = int.from_bytes(token, "little")
        yield from range(first, min(first + step, count))


def _child(work: Callable[[int], object], queue: int, step: int, count: int) -> tuple[int, int]:
    """Starts a process. Returns its number and the end of the pipe from which its results are read."""
    answers, out = os.pipe()
    with warnings.catch_warnings():
        # Later Pythons warn of forks beside threads; those here (a progress bar's, a numeric library's) are not used.
        warnings.simplefilter("ignore", DeprecationWarning)
        process = os.fork()
    if process:
        os.close(out)
        return process, answers
    # From here on nothing may return or raise, or the rest of the program would run twice.
    try:
        os.close(answers)
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        gc.disable()
        found = {number: work(number) for number in _taken(queue, step, count)}
        with os.fdopen(out, "wb") as pipe:
            pickle.dump(found, pipe, protocol=pickle.HIGHEST_PROTOCOL)
    finally:
        os._exit(0)
    raise AssertionError("unreachable")


def _results(child: tuple[int, int]) -> dict[int, Any]:
    """What a process has found; nothing where it did not come to its end."""
    process, answers = child
    with os.fdopen(answers, "rb") as pipe:
        content = pipe.read()
    os.waitpid(process, 0)
    try:
        return pickle.loads(content)
    except (EOFError, pickle.UnpicklingError):
        return {}
