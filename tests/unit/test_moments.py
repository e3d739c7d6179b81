"""Written files bear the time of the model's header, never the clock's."""

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reports.moments import NO_MOMENT, moment_in, moment_of
from tests.ifc_builder import Builder


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("2011-09-07T12:28:29", datetime(2011, 9, 7, 12, 28, 29, tzinfo=UTC)),
        ("2023-02-03T04:05:06+01:00", datetime(2023, 2, 3, 3, 5, 6, tzinfo=UTC)),
        ("", NO_MOMENT),
        ("yesterday", NO_MOMENT),
        ("0001-01-01T00:00:00", NO_MOMENT),
    ],
)
def test_a_time_stamp_is_read_or_left_alone(text: str, found: datetime) -> None:
    assert moment_of(text) == found


def test_the_header_of_a_plain_or_packed_model_tells_the_time(tmp_path: Path) -> None:
    model = Builder()
    model.file.header.file_name.name = "it's a model"
    model.file.header.file_name.time_stamp = "2011-09-07T12:28:29"
    path = model.save(tmp_path / "model.ifc")
    assert moment_in(path) == datetime(2011, 9, 7, 12, 28, 29, tzinfo=UTC)
    with zipfile.ZipFile(tmp_path / "model.ifczip", "w") as packed:
        packed.write(path, "model.ifc")
    assert moment_in(tmp_path / "model.ifczip") == moment_in(path)
    assert moment_in(tmp_path / "nothing.ifc") == NO_MOMENT
