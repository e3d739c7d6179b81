"""Which members of a frame meet: what each end of a piece touches, what a piece lies on, what it runs across."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.member_shapes import Shapes, Stance


@dataclass(frozen=True, slots=True, eq=False)
class Contacts:
    """Who touches whom, (n, n) bool each; row: the piece, column: what it touches.

    first: with its lower end (its left end if it lies). last: with the other end.
    left, right: what stands beside it, along at least half of the shorter one's height.
    on: what it lies on, along at least half of its own length.
    """

    first: NDArray[np.bool_]
    last: NDArray[np.bool_]
    left: NDArray[np.bool_]
    right: NDArray[np.bool_]
    on: NDArray[np.bool_]


def contacts_of(shapes: Shapes, settings: FrameSettings) -> Contacts:
    """Contacts between the members of a frame. Members that nowhere share a depth do not touch."""
    deep = shared_depth(shapes) > -settings.touch
    np.fill_diagonal(deep, False)
    ends = shapes.ends()
    reach = settings.touch + np.where(shapes.stance == Stance.SLOPED, 0.5, 0.0) * shapes.across
    low, high = shapes.low, shapes.high
    shared = _shared(low[:, 2], high[:, 2])
    height = high[:, 2] - low[:, 2]
    side = deep & (shared >= 0.5 * np.minimum(height[:, None], height[None, :]))
    meeting = (np.maximum(low[:, None, 2], low[None, :, 2]) + np.minimum(high[:, None, 2], high[None, :, 2])) / 2.0
    own_left, own_right = shapes.sides_at(meeting)
    left = side & (np.abs(own_left - own_right.T) <= settings.touch)
    return Contacts(
        _reached(ends[:, 0], shapes, deep, reach),
        _reached(ends[:, 1], shapes, deep, reach),
        left,
        left.T.copy(),
        deep & _lying_on(shapes, settings),
    )


def shared_depth(shapes: Shapes) -> NDArray[np.float64]:
    """Depth in m that two members share, (n, n); negative where there is a gap between them."""
    return _shared(shapes.low[:, 1], shapes.high[:, 1])


def runs_across(shapes: Shapes) -> NDArray[np.bool_]:
    """Which piece (row) runs across which upright (column) in elevation and on past it on both sides, (n, n) bool.

    The upright is at least as deep as the piece: a strip runs across studs, a plate not across a strip.
    """
    result = np.zeros((len(shapes), len(shapes)), dtype=bool)
    low, high = shapes.low, shapes.high
    past = (low[:, None, 0] < low[None, :, 0] - 0.02) & (high[:, None, 0] > high[None, :, 0] + 0.02)
    meet = past & (low[:, None, 2] < high[None, :, 2]) & (high[:, None, 2] > low[None, :, 2])
    meet &= (shapes.stance != Stance.UPRIGHT)[:, None] & (shapes.stance == Stance.UPRIGHT)[None, :]
    meet &= (shared_depth(shapes) > -0.005) & (shapes.depth[:, None] <= shapes.depth[None, :])
    rows, columns = np.nonzero(meet)
    if len(rows):
        area = shapely.area(shapely.intersection(shapes.silhouettes[rows], shapes.silhouettes[columns]))
        result[rows, columns] = area >= 0.5 * shapes.across[rows] * shapes.across[columns]
    return result


def between_passing_studs(shapes: Shapes, touching: Contacts) -> NDArray[np.bool_]:
    """Lying pieces with at both ends an upright that goes on above and below: headers, sills, blocking. (n,) bool.

    A plate has no such upright at either end: what stands there ends under it or stands on it.
    """
    upright = shapes.stance == Stance.UPRIGHT
    passing = (shapes.low[None, :, 2] < shapes.low[:, None, 2] - 0.02) & (
        shapes.high[None, :, 2] > shapes.high[:, None, 2] + 0.02
    )
    passing &= upright[None, :]
    at_left = ((touching.first | touching.left) & passing).any(axis=1)
    at_right = ((touching.last | touching.right) & passing).any(axis=1)
    return np.asarray(~upright & at_left & at_right)


def _shared(low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.minimum(high[:, None], high[None, :]) - np.maximum(low[:, None], low[None, :])


def _reached(
    points: NDArray[np.float64], shapes: Shapes, allowed: NDArray[np.bool_], reach: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which shapes lie within reach of each point, (n, n) bool. reach: (n,) m, by shape touched."""
    x, z = points[:, 0, None], points[:, 1, None]
    near = (
        allowed
        & (x >= shapes.low[None, :, 0] - reach)
        & (x <= shapes.high[None, :, 0] + reach)
        & (z >= shapes.low[None, :, 2] - reach)
        & (z <= shapes.high[None, :, 2] + reach)
    )
    rows, columns = np.nonzero(near)
    result = np.zeros_like(near)
    if len(rows):
        distance = shapely.distance(np.asarray(shapely.points(points))[rows], shapes.silhouettes[columns])
        result[rows, columns] = distance <= reach[columns]
    return result


def _lying_on(shapes: Shapes, settings: FrameSettings) -> NDArray[np.bool_]:
    """Which piece (row) that does not stand lies on which other such piece (column), (n, n) bool.

    The underside of the one is the upper side of the other: seen across their common slope, at half the length.
    """
    flat = shapes.stance != Stance.UPRIGHT
    alike = np.abs(shapes.slope[:, None] - shapes.slope[None, :]) <= np.radians(5.0)
    normal = np.stack([-np.sin(shapes.slope), np.cos(shapes.slope)], axis=1)
    offset = shapes.middle[:, None, :] - shapes.middle[None, :, :]
    apart = np.einsum("ijk,ik->ij", offset, normal) - (shapes.across[:, None] + shapes.across[None, :]) / 2.0
    shared = _shared(shapes.low[:, 0], shapes.high[:, 0])
    length = shapes.high[:, 0] - shapes.low[:, 0]
    return (
        flat[:, None]
        & flat[None, :]
        & alike
        & (np.abs(apart) <= settings.touch)
        & (shared >= 0.5 * np.minimum(length[:, None], length[None, :]))
    )
