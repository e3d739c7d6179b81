"""What end-to-end tests of models built in code share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from takeoff import take_off
from takeoff.result import Takeoff
from tests.ifc_builder import Builder


@pytest.fixture(name="run")
def _run(tmp_path: Path) -> Callable[..., Takeoff]:
    """Takes off a model that a test has built."""

    def run(model: Builder, **options: object) -> Takeoff:
        return take_off(model.save(tmp_path / "model.ifc"), **options)  # type: ignore[arg-type]

    return run
