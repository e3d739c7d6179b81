"""Errors of the takeoff: one root, one sentence each."""

from __future__ import annotations


class TakeoffError(Exception):
    """Root of every error that the takeoff raises on purpose."""


class ReadingError(TakeoffError, ValueError):
    """A model file cannot be read at all.

    path: the file. fault: what is wrong, one clause. mend: what would mend it, one clause.
    element: class, GlobalId and name of the element at fault, empty where the whole file is.
    """

    def __init__(self, path: str, fault: str, mend: str, element: str = "") -> None:
        # All four go to `args`, so that the error survives pickling between processes.
        super().__init__(path, fault, mend, element)
        self.path = path
        self.fault = fault
        self.mend = mend
        self.element = element

    def __str__(self) -> str:
        where = f"{self.path}: {self.element}" if self.element else self.path
        return f"{where}: {self.fault}; {self.mend}."
