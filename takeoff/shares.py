"""Work on many walls shared out among processes: the same results in the same order, sooner.

The processes are forks of this one, so that nothing has to be sent to them: they see what this one has read. That is
sound only where a fork is (Linux); elsewhere, and for few walls, the work is done here. What a process takes next it
takes from one queue, so that one large wall keeps nobody waiting.
"""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import BinaryIO, TypeVar

from takeoff.sent_results import Receiver, Sender

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
    children: list[_Child] = []
    found: dict[int, Result] = {}
    try:
        gc.freeze()  # a collection in a child would touch, and so copy, all that it shares with this process
        with contextlib.suppress(OSError):  # no room for another process or its results: then fewer do the work
            for _ in range(processes - 1):
                children.append(_begun(work, queue, step, count))
        for number in _taken(queue, step, count):
            told(number)
            found[number] = work(number)
            # Read while others still work, so that the reading is shared out like the work: they then do more of it.
            for child in children:
                found.update(child.answers.arrived())
        while children:
            child = children.pop()
            os.waitpid(child.process, 0)
            with child.file:
                found.update(child.answers.arrived())
    finally:
        gc.unfreeze()
        os.close(queue)
        for child in children:
            os.kill(child.process, signal.SIGKILL)
            child.file.close()
            os.waitpid(child.process, 0)
    return found


def _taken(queue: int, step: int, count: int) -> Iterator[int]:
    """Numbers of the work that no other process has taken yet."""
    while token := os.read(queue, _TOKEN):
        first = int.from_bytes(token, "little")
        yield from range(first, min(first + step, count))


@dataclass(frozen=True, slots=True, eq=False)
class _Child:
    """Another process that takes part."""

    process: int
    file: BinaryIO
    """Into which it writes its results."""
    answers: Receiver


def _begun(work: Callable[[int], object], queue: int, step: int, count: int) -> _Child:
    """A process that takes work from the queue from now on."""
    # A file and no pipe: results are written as they come, whether somebody reads or not.
    file = tempfile.TemporaryFile()  # noqa: SIM115  # whoever reads the results closes it
    with warnings.catch_warnings():
        # Later Pythons warn of forks beside threads; those here (a progress bar's, a numeric library's) are not used.
        warnings.simplefilter("ignore", DeprecationWarning)
        process = os.fork()
    if process:
        return _Child(process, file, Receiver(file))
    # From here on nothing may return or raise, or the rest of the program would run twice.
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        gc.disable()
        sender = Sender(file)
        for number in _taken(queue, step, count):
            sender.send(number, work(number))
    finally:
        os._exit(0)
    raise AssertionError("unreachable")
