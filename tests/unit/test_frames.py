"""Local axes: what is refused, and products of vectors held against numpy's own."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from geometry.frames import Axes, across, across_each, axes_from_directions


@pytest.mark.parametrize("count", [1, 2, 12, 500])
def test_cross_products_are_those_of_numpy_to_the_last_bit(count: int) -> None:
    numbers = np.random.default_rng(count)
    first, second = numbers.normal(size=(2, count, 3)) * 10.0 ** numbers.uniform(-6, 6, size=(2, count, 1))
    assert np.array_equal(across_each(first, second), np.cross(first, second))
    assert np.array_equal(across(first[0], second[0]), np.cross(first[0], second[0]))


def turned(degrees: float) -> NDArray[np.float64]:
    sine, cosine = np.sin(np.radians(degrees)), np.cos(np.radians(degrees))
    return np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])


@pytest.mark.parametrize("degrees", [0.0, 37.0, 180.0, -0.001])
def test_turned_axes_bring_points_there_and_back(degrees: float) -> None:
    axes = Axes(np.array([1.0, -2.0, 0.5]), turned(degrees))
    points = np.array([[0.0, 0.0, 0.0], [3.0, 0.1, 2.4]])
    assert axes.to_local(axes.to_world(points)) == pytest.approx(points, abs=1e-12)


@pytest.mark.parametrize(
    "directions",
    [
        turned(37.0) * [[1.0], [-1.0], [1.0]],  # left-handed
        np.array([[1.0, 1e-8, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),  # out of square
        turned(37.0) * 1.001,
        turned(37.0) * np.nan,
        np.zeros((3, 3)),
    ],
)
def test_axes_that_are_not_square_or_not_right_handed_are_refused(directions: NDArray[np.float64]) -> None:
    with pytest.raises(ValueError, match="orthonormal and right-handed"):
        Axes(np.zeros(3), directions)


def test_a_depth_that_runs_upwards_gives_no_axes() -> None:
    with pytest.raises(ValueError, match="parallel to up"):
        axes_from_directions((0.0, 0.0, 0.0), (0.0, 0.0, 2.0), (0.0, 0.0, 1.0))
