"""Work on many walls shared out among processes: the same results in the same order, sooner.

The processes are forks of this one, so that nothing has to be sent to them: they see what this one has read. That is
sound only where a fork is (Linux); elsewhere, and for few walls, the work is done here. What a process takes next it
takes from one queue, so that one large wall keeps nobody waiting.
"""

from __future__ import annotations

import contextlib
import copyreg
import gc
import os
import pickle
import signal
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from operator import attrgetter
from typing import Any, BinaryIO, TypeVar

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
    children: list[tuple[int, BinaryIO]] = []
    found: dict[int, Result] = {}
    try:
        gc.freeze()  # a collection in a child would touch, and so copy, all that it shares with this process
        with contextlib.suppress(OSError):  # no room for another process or its results: then fewer do the work
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
            answers.close()
            os.waitpid(process, 0)
    return found


def _taken(queue: int, step: int, count: int) -> Iterator[int]:
    """Numbers of the work that no other process has taken yet."""
    while token := os.read(queue, _TOKEN):
        first = int.from_bytes(token, "little")
        yield from range(first, min(first + step, count))


def _child(work: Callable[[int], object], queue: int, step: int, count: int) -> tuple[int, BinaryIO]:
    """Starts a process. Returns its number and the file into which it writes its results."""
    # A file and no pipe: results are written as they come, while nobody reads.
    answers = tempfile.TemporaryFile()  # noqa: SIM115  # whoever reads the results closes it
    with warnings.catch_warnings():
        # Later Pythons warn of forks beside threads; those here (a progress bar's, a numeric library's) are not used.
        warnings.simplefilter("ignore", DeprecationWarning)
        process = os.fork()
    if process:
        return process, answers
    # From here on nothing may return or raise, or the rest of the program would run twice.
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        gc.disable()
        # One pickler for all: what many results share, as names and rules, is written once.
        pickler = pickle.Pickler(answers, protocol=pickle.HIGHEST_PROTOCOL)
        pickler.dispatch_table = _Reducers(copyreg.dispatch_table)
        for number in _taken(queue, step, count):
            pickler.dump((number, work(number)))
        answers.flush()
    finally:
        os._exit(0)
    raise AssertionError("unreachable")


class _Reducers(dict[type, Callable[[Any], Any]]):
    """How values of a class are pickled: frozen records by the values of their fields, several times faster than the
    way that their own methods go."""

    def __missing__(self, kind: type) -> Callable[[Any], Any]:
        if not is_dataclass(kind) or not all(field.init and not field.kw_only for field in fields(kind)):
            raise KeyError(kind)
        names = [field.name for field in fields(kind)]
        values = attrgetter(*names) if len(names) > 1 else lambda record: tuple(getattr(record, name) for name in names)
        self[kind] = lambda record: (kind, values(record))
        return self[kind]


def _results(child: tuple[int, BinaryIO]) -> dict[int, Any]:
    """What a process has found, as far as it came."""
    process, answers = child
    os.waitpid(process, 0)
    found: dict[int, Any] = {}
    with answers:
        answers.seek(0)
        unpickler = pickle.Unpickler(answers)
        while True:
            try:
                number, result = unpickler.load()
            except (EOFError, pickle.UnpicklingError):
                return found
            found[number] = result
