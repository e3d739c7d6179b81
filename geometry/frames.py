"""Right-handed local axes of an assembly, and the way between them and the world."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

_OUT_OF_SQUARE = 1e-9 + 1e-5 * np.eye(3)
"""How far products of the directions of axes may lie from 0, and from 1 for each with itself."""


class LocalAxes(Protocol):
    """Any way between the world and right-handed local axes (x along, y into the depth, z up), flat or rolled out."""

    @property
    def origin(self) -> NDArray[np.float64]:
        """(3,) float64, m, world. Position of the local zero."""
        ...

    @property
    def directions(self) -> NDArray[np.float64]:
        """(3, 3) float64. Row i is the world direction of local axis i at the local zero."""
        ...

    def to_local(self, points: ArrayLike) -> NDArray[np.float64]:
        """World points (n, 3) in m to local points (n, 3) in m."""
        ...

    def to_world(self, points: ArrayLike) -> NDArray[np.float64]:
        """Local points (n, 3) in m to world points (n, 3) in m."""
        ...

    def shifted(self, offset: ArrayLike) -> LocalAxes:
        """The same axes with the zero moved by a local offset (3,), m."""
        ...

    def turned_about(self) -> LocalAxes:
        """The same place seen from behind: x and y reversed, z kept."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Axes:
    """A right-handed orthonormal frame in the world.

    origin: (3,) float64, m, world. Position of the local zero.
    directions: (3, 3) float64. Row i is the world direction of local axis i (x along, y into the depth, z up).
    """

    origin: NDArray[np.float64]
    directions: NDArray[np.float64]

    def __post_init__(self) -> None:
        origin = np.array(self.origin, dtype=np.float64).reshape(3)
        directions = np.array(self.directions, dtype=np.float64).reshape(3, 3)
        square = (np.abs(directions @ directions.T - np.eye(3)) <= _OUT_OF_SQUARE).all()
        if not square or float(across(directions[0], directions[1]) @ directions[2]) < 0.0:
            raise ValueError("axes must be orthonormal and right-handed")
        origin.flags.writeable = False
        directions.flags.writeable = False
        object.__setattr__(self, "origin", origin)
        object.__setattr__(self, "directions", directions)

    def to_local(self, points: ArrayLike) -> NDArray[np.float64]:
        """World points (n, 3) in m to local points (n, 3) in m."""
        return (np.asarray(points, dtype=np.float64) - self.origin) @ self.directions.T

    def to_world(self, points: ArrayLike) -> NDArray[np.float64]:
        """Local points (n, 3) in m to world points (n, 3) in m."""
        return np.asarray(points, dtype=np.float64) @ self.directions + self.origin

    def shifted(self, offset: ArrayLike) -> Axes:
        """The same directions with the zero moved by a local offset (3,), m."""
        return Axes(self.to_world(np.asarray(offset, dtype=np.float64).reshape(1, 3))[0], self.directions)

    def turned_about(self) -> Axes:
        """The same place seen from behind: x and y reversed, z kept."""
        return Axes(self.origin, self.directions * np.array([[-1.0], [-1.0], [1.0]]))


def axes_from_directions(origin: ArrayLike, depth: ArrayLike, up: ArrayLike) -> Axes:
    """Axes at a world origin (3,) whose y is the depth direction (3,) and whose z is as near to up (3,) as can be.

    Raises ValueError when depth and up are parallel.
    """
    y = np.asarray(depth, dtype=np.float64)
    y = y / np.linalg.norm(y)
    x = across(y, np.asarray(up, dtype=np.float64))
    length = float(np.linalg.norm(x))
    if length < 1e-9:
        raise ValueError("the depth direction is parallel to up")
    x = x / length
    return Axes(np.asarray(origin, dtype=np.float64), np.stack([x, y, across(x, y)]))


def across(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    """Cross product of two vectors (3,); for single ones far quicker than the library's."""
    a, b, c = first.tolist()
    d, e, f = second.tolist()
    return np.array([b * f - c * e, c * d - a * f, a * e - b * d])


def across_each(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    """Cross products of vectors (n, 3), one by one; for few of them far quicker than the library's. (n, 3)."""
    (a, b, c), (d, e, f) = first.T, second.T
    found = np.empty(first.shape)
    found[:, 0], found[:, 1], found[:, 2] = b * f - c * e, c * d - a * f, a * e - b * d
    return found
