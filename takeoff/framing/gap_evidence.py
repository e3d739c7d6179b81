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
NARROW_DOOR = 0.6
"""m. Narrowest gap that is framed for a door, with its lining (common practice, no published source)."""
DROP = 0.03
"""m. A ceiling lower than its neighbours' by this is lowered by a member, not by crooked drawing."""
BEARING = 0.004
"""m. What lies on a trimmer by no more than this does not rest on it: crooked drawing."""
END_SLACK = 0.02
"""m. How far the top of a trimmer may be from the underside of the header that it carries."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One gap's evidence.

    broken_plate: the bottom plate that runs elsewhere is missing under it.
    header: what closes it above spans it alone and is deeper than a plate, or carries cripples, or rests on trimmers
    on both sides.
    trimmers: sides (0 to 2) on which a shorter stud ends under what closes it above and a longer one stands behind it.
    spanned: a single lying piece, no plate, closes it above from side to side: a header or a blocking.
    resting: what closes it above spans it alone and rests on those trimmers.
    sill: what closes it below spans it alone and stands on cripples.
    wide: wider than the limit against the usual bay of the frame.
    """

    broken_plate: bool
    header: bool
    trimmers: int
    spanned: bool
    resting: bool
    sill: bool
    wide: bool
    width: float
    usual: float

    @property
    def doorlike(self) -> bool:
        """Whether it is wider than the bays of its frame and as wide as the narrowest doors."""
        return self.width >= max(NARROW_DOOR, 1.1 * self.usual)

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
        if self.spanned and not (self.header or self.trimmers):
            words.append("a single piece closes it above at the height of a door")
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
    plain = Evidence(False, False, 0, False, False, False, False, 0.0, voids.usual)
    # No more than a double plate covers a usual bay, also where every bay of the frame is an opening.
    cover = voids.above[voids.highest].min(initial=2.0 * plate)
    lowered = ~voids.highest | (voids.above - cover >= DROP)
    asked = broken | wide | lowered | ~voids.lowest
    trimmers, resting = np.zeros((2, len(voids)), dtype=np.int64)
    trimmers[asked], resting[asked] = _trimmer_sides(np.flatnonzero(asked), voids, shapes, settings)
    found: list[Evidence] = []
    for row in range(len(voids)):
        if not asked[row]:  # a usual bay from plate to plate: most of a frame
            found.append(replace(plain, width=float(voids.width[row])))
            continue
        closing = _closing(voids.box[row], float(voids.ceiling[row]), level, -1)
        alone = bool(lowered[row]) and not _run_on(closing, voids.box[row], level, settings)
        standing = _closing(voids.box[row], float(voids.floor[row]), level, 1)
        header = bool(resting[row] == 2) or _has_header(row, voids, level, (plate, depth))
        found.append(
            Evidence(
                bool(broken[row]),
                alone and header,
                int(trimmers[row]),
                alone and not voids.highest[row] and bool(closing.any()),
                alone and bool(resting[row] > 0),
                len(voids.under[row]) >= 2 and not _run_on(standing, voids.box[row], level, settings),
                bool(wide[row]),
                float(voids.width[row]),
                voids.usual,
            )
        )
    return tuple(found)


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


def _has_header(row: int, voids: FrameVoids, level: Shapes, sizes: tuple[float, float]) -> bool:
    """Whether what closes a gap above, lower than a plate would, is a header by its depth or by what stands on it.

    sizes: plate thickness and depth of the frame, m.
    """
    plate, depth = sizes
    deep = bool(voids.highest[row]) or float(voids.above[row]) >= 1.5 * plate
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


def _closing(box: NDArray[np.float64], z: float, level: Shapes, side: int) -> NDArray[np.bool_]:
    """Which level members close a gap at height z over more than half its width, (n,) bool.

    side: -1 for what lies above z (its underside counts), 1 for what lies below z (its upper side counts).
    """
    face = level.low[:, 2] if side < 0 else level.high[:, 2]
    shared = np.minimum(level.high[:, 0], box[2]) - np.maximum(level.low[:, 0], box[0])
    return (np.abs(face - z) <= END_SLACK) & (shared > 0.5 * (box[2] - box[0]))


def _run_on(closing: NDArray[np.bool_], box: NDArray[np.float64], level: Shapes, settings: FrameSettings) -> bool:
    """Whether all members that close a gap run far past it: plates, a ring beam, or a header over several."""
    past = (level.low[:, 0] < box[0] - settings.header_overhang) | (
        level.high[:, 0] > box[2] + settings.header_overhang
    )
    return bool(closing.any() and past[closing].all())


def _trimmer_sides(
    rows: NDArray[np.int64], voids: FrameVoids, shapes: Shapes, settings: FrameSettings
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For each gap the sides (0 to 2) on which a stud ends under what closes it above while the one behind goes on.

    Then the sides on which a piece that closes it lies on such a stud, too.
    """
    x_min, z_min, x_max, z_max = voids.box[rows].T[:, None, :]  # (1, k) each
    shared = np.minimum(shapes.high[:, 2, None], z_max) - np.maximum(shapes.low[:, 2, None], z_min)
    beside = (shapes.stance == Stance.UPRIGHT)[:, None] & (shared >= 0.5 * (z_max - z_min))
    ending = beside & (np.abs(shapes.high[:, 2, None] - z_max) <= END_SLACK)
    closing = (shapes.stance != Stance.UPRIGHT)[:, None] & (np.abs(shapes.low[:, 2, None] - z_max) <= END_SLACK)
    closing &= np.minimum(shapes.high[:, 0, None], x_max) - np.maximum(shapes.low[:, 0, None], x_min) > END_SLACK
    left, right = shapes.sides_at(np.broadcast_to((z_min + z_max) / 2.0, shared.shape))
    sides, resting = np.zeros((2, len(rows)), dtype=np.int64)
    # On the right of a gap everything is seen in a mirror, so that "behind" is always towards smaller positions.
    for gap, near, far, start in (
        (x_min, right, left, shapes.low[:, 0]),
        (-x_max, -left, -right, -shapes.high[:, 0]),
    ):
        found, borne = np.zeros((2, len(rows)), dtype=bool)
        for one, k in np.argwhere(ending & (np.abs(near - gap) <= END_SLACK)).tolist():
            if _backed(one, (near[:, k], far[:, k]), beside[:, k], shapes, settings):
                found[k] = True
                borne[k] |= (start[closing[:, k]] < near[one, k] - BEARING).any()
        sides += found
        resting += borne
    return sides, resting


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
