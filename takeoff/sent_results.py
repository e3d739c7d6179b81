"""Results as one process writes them into a file and another reads them while it is still written.

Plain pickling spends most of its time on the outlines: there are a hundred to a wall, and each would be turned into
bytes and back by calls of its own. Here those of one result go together.
"""

from __future__ import annotations

import copyreg
import io
import os
import pickle
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from operator import attrgetter
from typing import Any, BinaryIO

import shapely
from shapely import MultiPolygon, Polygon

_LENGTH = 8
"""Bytes in which the length of a text is written before it."""


class Sender:
    """Writes results into a file, one after another."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._text = io.BytesIO()
        self._outlines: list[Polygon | MultiPolygon] = []
        # One pickler for all: what many results share, as names and rules, is written once.
        self._pickler = pickle.Pickler(self._text, protocol=pickle.HIGHEST_PROTOCOL)
        self._pickler.dispatch_table = _Reducers(copyreg.dispatch_table)
        self._pickler.dispatch_table |= {Polygon: self._put_aside, MultiPolygon: self._put_aside}

    def send(self, number: int, result: object) -> None:
        """Writes one result and its number, whole before this returns.

        Raises what pickling raises where the result cannot be pickled, and OSError where there is no room for it.
        Nothing more can be sent after that.
        """
        self._pickler.dump((number, result))
        outlines = pickle.dumps(shapely.to_wkb(self._outlines, include_srid=True).tolist(), pickle.HIGHEST_PROTOCOL)
        for text in (outlines, self._text.getvalue()):
            self._file.write(len(text).to_bytes(_LENGTH, "little"))
            self._file.write(text)
        self._file.flush()
        self._outlines.clear()
        self._text.seek(0)
        self._text.truncate()

    def _put_aside(self, outline: Polygon | MultiPolygon) -> tuple[Callable[[int], Any], tuple[int]]:
        self._outlines.append(outline)
        return _outline_number, (len(self._outlines) - 1,)


class Receiver:
    """Reads what a `Sender` has written into a file so far; the file may still grow, and may end in half a result."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._read = 0
        self._text = io.BytesIO()
        self._unpickler = _Unpickler(self._text)

    def arrived(self) -> Iterator[tuple[int, Any]]:
        """Numbers and results that are whole in the file and were not read before, in the order of their writing."""
        while (outlines := self._next(self._read)) is not None:
            start = self._read + _LENGTH + len(outlines)
            text = self._next(start)
            if text is None:
                return
            self._read = start + _LENGTH + len(text)
            self._unpickler.outlines = shapely.from_wkb(pickle.loads(outlines)).tolist()
            self._text.seek(0)
            self._text.truncate()
            self._text.write(text)
            self._text.seek(0)
            yield self._unpickler.load()

    def _next(self, start: int) -> bytes | None:
        """The text whose length stands at `start` of the file; None where it is not whole yet."""
        # The position in an open file is shared with the process that writes it, so it is left alone.
        length = int.from_bytes(os.pread(self._file.fileno(), _LENGTH, start), "little")
        text = os.pread(self._file.fileno(), length, start + _LENGTH)
        return text if length and len(text) == length else None


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


class _Unpickler(pickle.Unpickler):
    """Puts outlines back where they were put aside."""

    outlines: list[Any]

    def find_class(self, module_name: str, global_name: str, /) -> Any:
        if (module_name, global_name) == (__name__, _outline_number.__name__):
            return lambda number: self.outlines[number]
        return super().find_class(module_name, global_name)


def _outline_number(number: int) -> Any:
    """Stands in a result for an outline that was put aside. Only its name is written, and an `_Unpickler` knows it."""
    raise AssertionError(number)
