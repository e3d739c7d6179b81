"""What one process writes another reads the same, as far as it is whole."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from typing import Any, BinaryIO

import numpy as np
import pytest
from shapely import MultiPolygon, Point, Polygon, box

from geometry.solids import Mesh, Prism
from takeoff.finding import Finding, Severity
from takeoff.sent_results import Receiver, Sender

WITH_HOLE = box(0.0, 0.0, 4.0, 2.7).difference(box(1.0 / 3.0, 0.9, 1.7, 2.1))
OUTLINES = [WITH_HOLE, MultiPolygon([box(0, 0, 1, 1), box(2, 0, 3, 0.1)]), Polygon(), Point(1.0, 2.0).buffer(0.3)]


@pytest.fixture
def file() -> Iterator[BinaryIO]:
    with tempfile.TemporaryFile() as opened:
        yield opened


def _sent(file: BinaryIO, *results: object) -> list[Any]:
    sender = Sender(file)
    for number, result in enumerate(results):
        sender.send(number, result)
    arrived = list(Receiver(file).arrived())
    assert [number for number, _ in arrived] == list(range(len(results)))
    return [result for _, result in arrived]


def test_outlines_come_back_to_the_last_bit(file: BinaryIO) -> None:
    back = _sent(file, *(Prism(outline, 0.0, 0.14) for outline in OUTLINES), OUTLINES, Point(0.1, 0.2))
    for outline, prism, listed in zip(OUTLINES, back, back[len(OUTLINES)], strict=False):
        for other in (prism.outline, listed):
            assert type(other) is type(outline)
            assert other.equals_exact(outline, 0.0)
    assert back[-1] == Point(0.1, 0.2)


def test_an_outline_used_twice_is_one_object_again(file: BinaryIO) -> None:
    pair, again = _sent(file, (WITH_HOLE, WITH_HOLE), WITH_HOLE)
    assert pair[0] is pair[1]
    assert again is pair[0]


def test_records_with_and_without_defaults_and_checks_of_their_own_come_back(file: BinaryIO) -> None:
    finding = Finding("some-code", Severity.WARNING, "A sentence.", "wall")
    mesh = Mesh(np.array([[0.1, 0.2, 0.3]] * 3), np.array([[0, 1, 2]]))
    back_finding, back_mesh = _sent(file, finding, mesh)
    assert back_finding == finding
    assert np.array_equal(back_mesh.vertices, mesh.vertices)
    assert np.array_equal(back_mesh.faces, mesh.faces)
    assert not back_mesh.vertices.flags.writeable


def test_results_are_read_while_others_are_still_written(file: BinaryIO) -> None:
    sender, receiver = Sender(file), Receiver(file)
    assert list(receiver.arrived()) == []
    sender.send(7, "first")
    sender.send(3, "second")
    assert list(receiver.arrived()) == [(7, "first"), (3, "second")]
    assert list(receiver.arrived()) == []
    sender.send(5, WITH_HOLE)
    assert list(receiver.arrived()) == [(5, WITH_HOLE)]


def test_half_a_result_is_not_read(file: BinaryIO) -> None:
    sender = Sender(file)
    sender.send(0, "whole")
    whole = file.tell()
    sender.send(1, OUTLINES)
    file.seek(0)
    written = file.read()
    for kept in range(whole, len(written)):
        with tempfile.TemporaryFile() as half:
            half.write(written[:kept])
            half.flush()
            assert list(Receiver(half).arrived()) == [(0, "whole")]


def test_what_cannot_be_sent_raises_and_leaves_what_was_sent_before(file: BinaryIO) -> None:
    sender = Sender(file)
    sender.send(0, "whole")
    with pytest.raises((AttributeError, TypeError)):
        sender.send(1, lambda: None)
    assert list(Receiver(file).arrived()) == [(0, "whole")]
