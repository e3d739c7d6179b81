"""Frames without opening elements, drawn at random section by section; each section says itself if it is an opening.

An opening is a header that rests on jack studs beside longer king studs. No opening: blocking rows, fire stops and
ladders between ordinary studs, a ledger that runs along the wall, bays under a beam of several bays, the space under a
sill. What a crew could build either way has to be told by a warning that names the place and the area.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from geometry.solids import Prism, depth_range, silhouette
from takeoff import take_off
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_outline import outline_of_frame
from takeoff.framing.gaps import Gaps, gap_openings
from takeoff.framing.member_shapes import shapes_of
from takeoff.framing.modelled import read_frame
from takeoff.model import CavityKind, MemberRole
from tests.elevation_builder import ElevationModel, Setting
from tests.frame_builder import T, layer_of, parts_of, piece, roles_by_id

DOUBT = "gap-may-be-opening"
MANY, FEW = settings(max_examples=50, deadline=None), settings(max_examples=6, deadline=None)
QUIET = settings(FEW, suppress_health_check=[HealthCheck.too_slow])


def millimetres(low: int, high: int) -> st.SearchStrategy[float]:
    return st.integers(low, high).map(lambda value: value / 1000.0)


@dataclass
class Wall:
    """A frame as it grows from left to right; `x` is the right side of the last full stud.

    openings: clear outlines. doubted: gaps to be told by a warning. either: gaps about which a warning is allowed.
    """

    height: float
    depth: float
    spacing: float
    x: float = 0.0
    pieces: list[tuple[str, Prism]] = field(default_factory=list)
    openings: list[Polygon] = field(default_factory=list)
    doubted: list[Polygon] = field(default_factory=list)
    either: list[Polygon] = field(default_factory=list)
    broken: list[tuple[float, float]] = field(default_factory=list)

    @property
    def bay(self) -> float:
        """Clear width of a usual bay, m."""
        return self.spacing - T

    @property
    def top(self) -> float:
        """Underside of the top plate, m."""
        return self.height - T

    def add(self, name: str, box: tuple[float, float, float, float], depths: tuple[float, float] = (0.0, 1.0)) -> None:
        """A piece by x_min, z_min, x_max, z_max in m and the share of the depth that it takes."""
        x_min, z_min, x_max, z_max = (round(value, 6) for value in box)
        near, far = (round(share * self.depth, 6) for share in depths)
        self.pieces.append((name, piece(x_min, z_min, x_max, z_max, near, far)))

    def upright(self, name: str, x: float, top: float, bottom: float = T) -> None:
        self.add(name, (x, bottom, x + T, top))

    def close(self, width: float | None = None) -> tuple[float, float]:
        """A stud behind a bay that is `width` clear, the usual one if not given. Returns the sides of the bay."""
        start, end = self.x, self.x + (self.bay if width is None else width)
        self.upright("stud", end, self.top)
        self.x = end + T
        return start, end

    def finish(self) -> list[tuple[str, Prism]]:
        """Plates under and over everything."""
        start = 0.0
        for left, right in self.broken:
            self.add("bottom_plate", (start, 0.0, left, T))
            start = right
        self.add("bottom_plate", (start, 0.0, self.x, T))
        self.add("top_plate", (0.0, self.top, self.x, self.height))
        return self.pieces


def clear(x_min: float, z_min: float, x_max: float, z_max: float) -> Polygon:
    return shapely.box(round(x_min, 6), round(z_min, 6), round(x_max, 6), round(z_max, 6))


NARROW = 0.7
"""m, clear: no door is framed narrower than 0.6 m (common practice); and the widest usual bay here and a tenth."""
FLAT = [(0.0, 1.0), (0.0, 0.5), (0.5, 1.0), (0.0, 0.3)]


def blocked_bay(draw: st.DrawFn, wall: Wall) -> None:
    """One to four blockings between two ordinary studs, of any depth, flat or on edge, anywhere: row, ladder, stop."""
    left, right = wall.close()
    z = T + draw(millimetres(150, 900))
    for _ in range(draw(st.integers(1, 4))):
        deep = draw(st.sampled_from([T, T, 0.089, 0.14, 0.184]))
        if z + deep > wall.top - 0.1:
            break
        wall.add("blocking", (left, z, right, z + deep), draw(st.sampled_from(FLAT)))
        z += deep + draw(millimetres(150, 1800))


def opening(draw: st.DrawFn, wall: Wall, *, window: bool) -> None:
    """A door or a window as it is framed, of any width: kings, one or two jacks, a header of any build.

    A usual bay stands on both sides of one that is narrower than doors are: two of them side by side are a doubt.
    """
    wide, jacks = draw(millimetres(300, 1500)), draw(st.integers(1, 2))
    if wide < NARROW:
        wall.close()
    head = draw(millimetres(1750, int(min(2150, wall.top * 1000 - 60))))
    build = draw(st.sampled_from(["flat", "on edge", "half depth", "far half", "box"]))
    room = wall.top - head
    deep = T if build == "flat" else min(draw(st.sampled_from([0.089, 0.14, 0.235])), room)
    if room - deep < 0.06:
        deep = room  # no room for cripples: the header fills it
    kings = wall.x + T, wall.x + T + 2 * jacks * T + wide
    wall.upright("king_stud", wall.x, wall.top)
    wall.upright("king_stud", kings[1], wall.top)
    left, right = kings[0] + jacks * T, kings[1] - jacks * T
    for n in range(jacks):
        wall.upright("jack_stud", kings[0] + n * T, head)
        wall.upright("jack_stud", right + n * T, head)
    thin = T / wall.depth
    takes = {"half depth": [(0.0, 0.5)], "far half": [(0.5, 1.0)], "box": [(0.0, thin), (1.0 - thin, 1.0)]}
    for depths in takes.get(build, [(0.0, 1.0)]):
        wall.add("header", (*kings[:1], head, kings[1], head + deep), depths)
    for x in _within(draw, left, right) if deep < room else []:
        wall.upright("cripple", x, wall.top, head + deep)
    floor = T
    if window:
        floor = draw(millimetres(500, 1100))
        wall.add("sill", (left, floor - T, right, floor))
        ends = [left, right - T] if draw(st.booleans()) and wide > 0.3 else []
        for x in {*ends, *(_within(draw, left + T, right - T) if wide > 0.4 else [])}:
            wall.upright("cripple", x, floor - T)
    elif draw(st.booleans()):
        wall.broken.append((left, right))
        floor = 0.0
    wall.openings.append(clear(left, floor, right, head))
    wall.x = kings[1] + T
    if wide < NARROW:
        wall.close()


def _within(draw: st.DrawFn, left: float, right: float) -> list[float]:
    """Left sides of up to two cripples inside a space, m."""
    count = draw(st.integers(0, 2))
    return [left + (right - left) * (n + 1) / (count + 1) - T / 2 for n in range(count)]


def beam(draw: st.DrawFn, wall: Wall) -> None:
    """A beam over two to four usual bays with studs under it; its ends rest on jacks beside longer studs."""
    bays, head, start = draw(st.integers(2, 4)), draw(millimetres(1900, 2100)), wall.x
    wall.upright("jack_stud", start, head)
    x = start + T
    for n in range(bays):
        x += wall.bay
        wall.upright("jack_stud" if n == bays - 1 else "stud", x, head)
        x += T
    deep = min(draw(st.sampled_from([0.089, 0.14, 0.2])), wall.top - head)
    wall.add("header", (start, head, x, head + deep), draw(st.sampled_from(FLAT[:3])))
    wall.upright("king_stud", x, wall.top)
    wall.either.append(clear(start, head + deep, x, wall.top))  # the wide space over it
    wall.x = x + T


def high_window(draw: st.DrawFn, wall: Wall) -> None:
    """A window under the top plate: its sill, a door's height up, stands on trimmers at both ends. No stud under it."""
    sill = draw(millimetres(1790, 1850))
    left, right = wall.x + T, wall.x + T + wall.bay
    for x in (wall.x, right):
        wall.upright("jack_stud", x, 2.2)
    wall.upright("king_stud", right + T, wall.top)
    wall.add("header", (wall.x, 2.2, right + T, wall.top))
    for x in (left, right - T):
        wall.upright("cripple", x, sill - T)
    wall.add("sill", (left, sill - T, right, sill))
    wall.openings.append(clear(left, sill, right, 2.2))
    wall.either.append(clear(left + T, T, right - T, sill - T))
    wall.x = right + 2 * T


def block_on_one_short_stud(draw: st.DrawFn, wall: Wall) -> None:
    """A flat block from a short stud beside an ordinary one to the next ordinary stud: a repair, or a small header."""
    head, start = draw(millimetres(1750, 2100)), wall.x
    wall.upright("jack_stud", start, head)
    left, right = wall.close(wall.bay + T)
    wall.add("blocking", (left, head, right, head + T), draw(st.sampled_from(FLAT[:3])))
    wall.doubted.append(clear(start + T, T, right, head))


def shelf(draw: st.DrawFn, wall: Wall) -> None:
    """A block at the height of a basin on short studs on both sides: backing, or the head of a hatch."""
    head = draw(millimetres(700, 1200))
    left, right = wall.close(wall.bay)
    for x in (left, right - T):
        wall.upright("cripple", x, head)
    wall.add("blocking", (left, head, right, head + T))
    wall.doubted.append(clear(left + T, T, right - T, head))


def row_on_short_studs(draw: st.DrawFn, wall: Wall) -> None:
    """Blockings over two or three bays, each on short studs on both sides: a fire stop on packers."""
    head = draw(millimetres(1750, 2000))
    for _ in range(draw(st.integers(2, 3))):
        level = head + draw(st.sampled_from([0.0, 0.0, T, 0.1]))
        left, right = wall.close(min(wall.bay, 0.45 + 2 * T))
        for x in (left, right - T):
            wall.upright("packer", x, level)
        wall.add("blocking", (left, level, right, level + T))
        wall.doubted.append(clear(left + T, T, right - T, level))


def door_under_a_fanlight(draw: st.DrawFn, wall: Wall) -> None:
    """A door and a light over it between the same jacks, the plate not cut yet; or a high window without studs."""
    width, head = draw(millimetres(950, 1300)), draw(millimetres(1800, 1950))
    left, right = wall.x + T, wall.x + T + width
    for x in (wall.x, right):
        wall.upright("jack_stud", x, 2.25)
    wall.upright("king_stud", right + T, wall.top)
    wall.add("header", (wall.x, 2.25, right + T, wall.top))
    wall.add("mullion", (left, head, right, head + T))
    wall.openings.append(clear(left, head + T, right, 2.25))
    wall.doubted.append(clear(left, T, right, head))
    wall.x = right + 2 * T


def door_between_studs(draw: st.DrawFn, wall: Wall) -> None:
    """A piece hung between two ordinary studs in a bay wider than the others: a door's header, or a fire stop."""
    head, deep = draw(millimetres(1800, 2050)), draw(st.sampled_from([T, 0.14]))
    low = int(max(600, 1100 * wall.bay)) + 30
    wall.close()
    left, right = wall.close(draw(millimetres(low, max(low, int(1450 * wall.bay)))))
    wall.add("header", (left, head, right, head + deep))
    wide = right - left >= 1.5 * wall.bay and deep > T
    (wall.openings if wide else wall.doubted).append(clear(left, T, right, head))
    wall.close()


def blocking_row(draw: st.DrawFn, wall: Wall) -> None:
    """Flat blockings over two usual bays and a wider one at a height between door and ceiling, staggered."""
    wall.close()
    z = draw(millimetres(1790, 2100))
    for width in draw(st.permutations([wall.bay, wall.bay, max(wall.bay, min(0.64, 1.3 * wall.bay))])):
        left, right = wall.close(width)
        level = z + draw(st.sampled_from([0.0, T]))
        wall.add("blocking", (left, level, right, level + T), draw(st.sampled_from(FLAT)))
    wall.close()


SECTIONS = {
    "door": lambda draw, wall: opening(draw, wall, window=False),
    "window": lambda draw, wall: opening(draw, wall, window=True),
    "blocked bay": blocked_bay,
    "beam": beam,
    "blocking row": blocking_row,
    "high window": high_window,
    "one short stud": block_on_one_short_stud,
    "shelf": shelf,
    "row on short studs": row_on_short_studs,
    "fanlight": door_under_a_fanlight,
    "between studs": door_between_studs,
}


@st.composite
def walls(draw: st.DrawFn, kinds: tuple[str, ...] = tuple(SECTIONS)) -> Wall:
    """A frame with at least four plain bays and up to three other sections."""
    wall = Wall(
        draw(st.sampled_from([2.4, 2.5, 2.7, 3.1])),
        draw(st.sampled_from([0.089, 0.14, 0.2])),
        draw(st.sampled_from([0.4, 0.4064, 0.6, 0.6096, 0.625])),
    )
    wall.upright("stud", 0.0, wall.top)
    wall.x = T
    plan = draw(st.permutations(["plain"] * 4 + draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=3))))
    for kind in plan:
        if kind == "plain":
            wall.close()
        else:
            SECTIONS[kind](draw, wall)
    wall.close()
    wall.finish()
    return wall


def gaps_of(wall: Wall) -> Gaps:
    solids = [solid for _, solid in wall.pieces]
    return gap_openings(outline_of_frame([silhouette(one) for one in solids]), shapes_of(solids))


FIGURES = re.compile(r"from (\S+) to (\S+) m along the wall, (\S+) to (\S+) m up \((\S+) m2\)")


def names(finding: Finding, gap: Polygon, slack: float = 0.00051) -> bool:
    """Whether a finding names the place and the area of a gap, in m and m2, to the third decimal or to `slack`."""
    told = FIGURES.search(finding.message)
    if told is None:
        return False
    x_min, x_max, z_min, z_max, area = map(float, told.groups())
    return [x_min, z_min, x_max, z_max, area] == pytest.approx([*gap.bounds, gap.area], abs=slack)


@st.composite
def untidy(draw: st.DrawFn) -> Wall:
    """The same walls with every member moved by up to 2 mm along and up."""
    wall = draw(walls())
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    wall.pieces = [
        (name, Prism(affinity.translate(one.outline, *rng.uniform(-0.002, 0.002, 2)), one.y_min, one.y_max))
        for name, one in wall.pieces
    ]
    return wall


@MANY
@given(walls())
def test_every_opening_is_found_and_every_doubt_is_a_warning_with_place_and_area(wall: Wall) -> None:
    gaps = gaps_of(wall)
    found = [one.outline.bounds for one in gaps.openings]
    assert found == [pytest.approx(one.bounds, abs=1e-6) for one in wall.openings]
    for gap in wall.openings:
        assert [one.code for one in gaps.findings if names(one, gap)] == ["opening-is-a-gap"]
    doubts = [one for one in gaps.findings if one.code == DOUBT]
    assert all(one.severity is Severity.WARNING for one in doubts)
    for gap in wall.doubted:
        assert len([one for one in doubts if names(one, gap)]) == 1, gap.bounds
    told = [*wall.doubted, *wall.either]
    assert [one.message for one in doubts if not any(names(one, gap) for gap in told)] == []


@MANY
@given(untidy())
def test_crooked_drawing_hides_no_opening_and_no_doubt(wall: Wall) -> None:
    gaps = gaps_of(wall)
    assert len(gaps.openings) == len(wall.openings), [one.evidence for one in gaps.openings]
    for found, drawn in zip(gaps.openings, wall.openings, strict=True):
        assert shapely.intersection(found.outline, drawn).area > 0.97 * shapely.union(found.outline, drawn).area
    doubts = [one for one in gaps.findings if one.code == DOUBT]
    for gap in wall.doubted:
        assert len([one for one in doubts if names(one, gap, 0.02)]) == 1, gap.bounds


@MANY
@given(walls(("blocked bay", "blocking row", "beam")))
def test_blockings_ladders_fire_stops_and_beams_over_several_bays_make_no_opening(wall: Wall) -> None:
    assert gaps_of(wall).openings == ()


@MANY
@given(walls(("blocked bay",)), millimetres(1750, 2150), st.sampled_from(FLAT[1:]), st.booleans())
def test_a_ledger_along_the_wall_makes_no_opening(
    wall: Wall, height: float, depths: tuple[float, float], carried: bool
) -> None:
    """Let into the studs; where short studs on both sides of each carry it, the bays under it are told."""
    bays = [one for name, one in wall.pieces if name == "stud"]
    wall.pieces = [(name, one) for name, one in wall.pieces if name != "blocking"]
    for stud in bays if carried else []:
        x_min, _, x_max, _ = silhouette(stud).bounds
        for x in (x_min - T, x_max):
            if 0.0 <= x < wall.x - T:
                wall.upright("stud", x, height)
    wall.add("ledger", (0.0, height, wall.x, height + 0.14), depths)
    gaps = gaps_of(wall)
    assert gaps.openings == ()
    assert all(one.severity is Severity.WARNING for one in gaps.findings)
    # The bays at the ends of the wall have the ledger's end on one side.
    assert len(gaps.findings) == (len(bays) - 1 if carried else 0)


@MANY
@given(walls(("door", "window", "blocked bay")))
def test_what_rests_on_jacks_is_called_a_header(wall: Wall) -> None:
    frame = read_frame(layer_of(parts_of(wall.pieces)))
    assert frame is not None
    roles = roles_by_id(frame)
    for name, role in roles.items():
        drawn = name.rsplit("-", 1)[0]
        if drawn in {"header", "jack_stud", "king_stud", "sill"}:
            assert role == drawn, name
        assert drawn != "blocking" or role not in {str(MemberRole.HEADER), str(MemberRole.SILL)}, name


@QUIET
@given(walls(("door", "window", "blocked bay", "shelf")))
def test_what_is_blown_in_is_the_wall_without_its_members_and_openings(wall: Wall) -> None:
    body = shapely.box(0.0, 0.0, wall.x, wall.height)
    model = ElevationModel(body, wall.depth, Setting())
    for _, one in wall.pieces:
        model.add([one])
    with tempfile.TemporaryDirectory() as folder:
        result = take_off(model.made.save(Path(folder) / "wall.ifc"))
    (layer,) = result.results[0].layers
    kept = [one.volume for one in layer.cavities if one.kind not in (CavityKind.SLIVER, CavityKind.OPENING_GAP)]
    solid = sum(silhouette(one).area * (depth_range(one)[1] - depth_range(one)[0]) for _, one in wall.pieces)
    holes = sum(one.area for one in wall.openings) * wall.depth
    assert sum(kept) == pytest.approx(body.area * wall.depth - solid - holes, rel=1e-6)
