"""What speaks for a gap between members being a door or a window: read off the frame alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from takeoff.framing.envelopes import lower_envelope
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.frame_voids import FrameVoids
from takeoff.framing.member_shapes import Shapes, Stance

USUAL_PLATE = 0.045
"""m. Thickness of a plate where the frame shows none: between 38 and 45 mm sections (common practice)."""
DROP = 0.03
"""m. A ceiling lower than its neighbours' by this is lowered by a member, not by crooked drawing."""
END_SLACK = 0.02
"""m. How far the top of a trimmer may be from the underside of the header that it carries."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One gap's evidence.

    broken_plate: the bottom plate that runs elsewhere is missing under it.
    header: what closes it above spans it alone and is deeper than a plate, or carries cripples, or both.
    trimmers: sides (0 to 2) on which a shorter stud carries what closes it above and a longer one stands behind it.
    sill: what closes it below spans it alone and stands on cripples.
    wide: wider than the limit against the usual bay of the frame.
    """

    broken_plate: bool
    header: bool
    trimmers: int
    sill: bool
    wide: bool
    width: float
    usual: float

    @property
    def signs(self) -> int:
        """How many kinds of evidence there are."""
        return sum((self.broken_plate, self.header, self.trimmers > 0, self.sill, self.wide))

    def sentence(self) -> str:
        """The evidence in words."""
        words = []
        if self.header:
            words.append("a header spans it")
        if self.trimmers:
            words.append(f"trimmers on {'both sides' if self.trimmers == 2 else 'one side'} carry what closes it above")
        if self.broken_plate:
            words.append("the bottom plate is interrupted under it")
        if self.sill:
            words.append("a sill on cripples closes it below")
        if self.wide:
            words.append(f"{self.width:.3f} m clear where the usual bay has {self.usual:.3f} m")
        return "; ".join(words) if words else "no sign of an opening"


def evidence_of(
    outline: Polygon | MultiPolygon, voids: FrameVoids, shapes: Shapes, settings: FrameSettings
) -> tuple[Evidence, ...]:
    """Evidence for every gap of a frame, in the order of the gaps.

    outline: of the frame, in (x, z). shapes: its members without obstructions, furring and braces.
    """
    if len(voids) == 0:
        return ()
    level = shapes.taken(shapes.stance == Stance.LEVEL)
    plate = _plate_thickness(outline, level, settings)
    depth = float(np.ptp([shapes.low[:, 1].min(), shapes.high[:, 1].max()])) if len(shapes) else 0.0
    broken = _broken_plates(voids, settings)
    wide = voids.width >= settings.wide * voids.usual
    plain = Evidence(False, False, 0, False, False, 0.0, voids.usual)
    lowered = ~voids.highest | (voids.above - voids.above[voids.highest].min(initial=np.inf) >= DROP)
    asked = broken | wide | lowered | ~voids.lowest
    trimmers = np.zeros(len(voids), dtype=np.int64)
    trimmers[asked] = _trimmer_sides(np.flatnonzero(asked), voids, shapes, settings)
    return tuple(
        Evidence(
            bool(broken[row]),
            bool(lowered[row]) and _has_header(row, voids, level, (plate, depth), settings),
            int(trimmers[row]),
            len(voids.under[row]) >= 2 and not _runs_on(voids.box[row], float(voids.floor[row]), level, 1, settings),
            bool(wide[row]),
            float(voids.width[row]),
            voids.usual,
        )
        if asked[row]
        else replace(plain, width=float(voids.width[row]))  # a usual bay from plate to plate: most of a frame
        for row in range(len(voids))
    )


def _plate_thickness(outline: Polygon | MultiPolygon, level: Shapes, settings: FrameSettings) -> float:
    if len(level) == 0:
        return USUAL_PLATE
    bottom = lower_envelope(outline).at((level.low[:, 0] + level.high[:, 0]) / 2.0)
    lying = (np.abs(level.low[:, 2] - bottom) <= settings.line) & (level.across < 0.1)
    return float(np.median(level.across[lying])) if lying.any() else USUAL_PLATE


def _broken_plates(voids: FrameVoids, settings: FrameSettings) -> NDArray[np.bool_]:
    """Gaps that reach down to the bottom line of a frame that has a bottom plate elsewhere, (n,) bool."""
    bare = voids.lowest & (voids.below <= settings.line)
    plated = voids.lowest & (voids.below > settings.line) & (voids.below <= 0.2)
    return bare & bool(plated.any())


def _has_header(
    row: int, voids: FrameVoids, level: Shapes, sizes: tuple[float, float], settings: FrameSettings
) -> bool:
    """Whether what closes a gap above, lower than a plate would, is a header.

    sizes: plate thickness and depth of the frame, m.
    """
    plate, depth = sizes
    deep = bool(voids.highest[row]) or float(voids.above[row]) >= 1.5 * plate
    if _runs_on(voids.box[row], float(voids.ceiling[row]), level, -1, settings):
        return False
    return (deep and _covers_depth(row, voids, level, depth)) or len(voids.over[row]) >= 2


def _covers_depth(row: int, voids: FrameVoids, level: Shapes, depth: float) -> bool:
    """Whether the level members over a gap reach over most of the depth: a flat block is no header."""
    x_min, _, x_max, _ = voids.box[row]
    ceiling = voids.ceiling[row]
    shared = np.minimum(level.high[:, 0], x_max) - np.maximum(level.low[:, 0], x_min)
    near = (shared > 0.5 * (x_max - x_min)) & (level.high[:, 2] > ceiling - 0.01)
    near &= level.low[:, 2] < ceiling + max(0.01, voids.above[row] - 0.01)
    if not near.any() or depth <= 0.0:
        return True
    return bool(level.high[near, 1].max() - level.low[near, 1].min() >= 0.6 * depth)


def _runs_on(box: NDArray[np.float64], z: float, level: Shapes, side: int, settings: FrameSettings) -> bool:
    """Whether all members that close a gap at height z run far past it: plates, a ring beam, or a header over several.

    side: -1 for what lies above z (its underside counts), 1 for what lies below z (its upper side counts).
    """
    face = level.low[:, 2] if side < 0 else level.high[:, 2]
    shared = np.minimum(level.high[:, 0], box[2]) - np.maximum(level.low[:, 0], box[0])
    closing = (np.abs(face - z) <= END_SLACK) & (shared > 0.5 * (box[2] - box[0]))
    past = (level.low[:, 0] < box[0] - settings.header_overhang) | (
        level.high[:, 0] > box[2] + settings.header_overhang
    )
    return bool(closing.any() and past[closing].all())


def _trimmer_sides(
    rows: NDArray[np.int64], voids: FrameVoids, shapes: Shapes, settings: FrameSettings
) -> NDArray[np.int64]:
    """For each gap the sides (0 to 2) on which a stud ends under what closes it above while the one behind goes on."""
    x_min, z_min, x_max, z_max = voids.box[rows].T[:, None, :]  # (1, k) each
    shared = np.minimum(shapes.high[:, 2, None], z_max) - np.maximum(shapes.low[:, 2, None], z_min)
    beside = (shapes.stance == Stance.UPRIGHT)[:, None] & (shared >= 0.5 * (z_max - z_min))
    ending = beside & (np.abs(shapes.high[:, 2, None] - z_max) <= END_SLACK)
    left, right = shapes.sides_at(np.broadcast_to((z_min + z_max) / 2.0, shared.shape))
    sides = np.zeros(len(rows), dtype=np.int64)
    # On the right of a gap everything is seen in a mirror, so that "behind" is always towards smaller positions.
    for gap, near, far in ((x_min, right, left), (-x_max, -left, -right)):
        found = np.zeros(len(rows), dtype=bool)
        for one, k in np.argwhere(ending & (np.abs(near - gap) <= END_SLACK)).tolist():
            found[k] = found[k] or _backed(one, (near[:, k], far[:, k]), beside[:, k], shapes, settings)
        sides += found
    return sides


def _backed(
    one: int,
    sides: tuple[NDArray[np.float64], NDArray[np.float64]],
    beside: NDArray[np.bool_],
    shapes: Shapes,
    settings: FrameSettings,
) -> bool:
    """Whether behind a trimmer (up to two more between) stands an upright that goes on past its top.

    sides: (n,) m each, the side of each member that faces the gap and the other one, growing towards the gap.
    """
    near, far = sides
    depth = float(near[one] - far[one])
    behind = beside & (near <= far[one] + settings.touch) & (near >= far[one] - 2.0 * depth - 3.0 * settings.touch)
    return bool((behind & (shapes.high[:, 2] >= shapes.high[one, 2] + DROP)).any())
