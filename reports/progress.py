"""The progress bar: on a terminal only, and only when a run takes more than a moment."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

from rich.console import Console

from takeoff.result import Progress

PATIENCE = 1.0
"""s; shorter runs show nothing."""


class _Bar:
    """A bar that is made when the first call after a second of work comes."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._start = time.monotonic()
        self._bar = None
        self._task = None

    def __call__(self, step: str, done: int, total: int) -> None:
        if self._bar is None:
            if time.monotonic() - self._start < PATIENCE:
                return
            from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

            console = Console(file=self._stream, markup=False)
            columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
            self._bar = Progress(*columns, console=console, transient=True)
            self._task = self._bar.add_task(step, total=total or None)
            self._bar.start()
        if self._task is not None:
            self._bar.update(self._task, description=step, completed=done, total=total or None)

    def close(self) -> None:
        """Takes the bar off the screen."""
        if self._bar is not None:
            self._bar.stop()


@contextmanager
def progress_bar(stream: TextIO) -> Iterator[Progress | None]:
    """A function to call as the work goes on, or None where the stream is no terminal."""
    if not stream.isatty():
        yield None
        return
    bar = _Bar(stream)
    try:
        yield bar
    finally:
        bar.close()
