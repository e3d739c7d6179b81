"""Modelled frames drawn at random: openings are found, roles hold, volumes balance, and place changes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.booleans import boolean_voids
from geometry.frames import Axes
from geometry.solids import Prism, as_mesh, depth_range, moved, silhouette
from geometry.tolerances import DEFAULT_TOLERANCES
from geometry.voids import find_voids
from takeoff.framing.frame_outline import outline_of_frame
from takeoff.framing.modelled import read_frame
from takeoff.model import Frame
from tests.frame_builder import HEIGHT, Piece, T, layer_of, parts_of, piece, plates, studs, wrong_roles

SPACING = st.sampled_from([0.4, 0.4064, 0.6, 0.6096])
KINDS = st.sampled_from(["door", "window", "window without cripples", "narrow plain header"])


def opening_pieces(kind: str, left: float, right: float) -> tuple[list[Piece], shapely.Polygon]:
    """Members around one opening between kings, and its clear outline."""
    head, sill = 2.0, 0.0 if kind == "door" else 0.9
    deep = 0.1 if kind == "narrow plain header" else 0.2
    made: list[Piece] = [
        ("king_stud", piece(left - 2 * T, T, left - T, HEIGHT - T)),
        ("king_stud", piece(right + T, T, right + 2 * T, HEIGHT - T)),
        ("jack_stud", piece(left - T, T, left, head)),
        ("jack_stud", piece(right, T, right + T, head)),
        ("header", piece(left - T, head, right + T, head + deep)),
    ]
    if kind != "door":
        made.append(("sill", piece(left, sill - T, right, sill)))
    middle = (left + right) / 2.0
    if kind != "window without cripples":
        made.append(("cripple", piece(middle, head + deep, middle + T, HEIGHT - T)))
        if kind != "door":
            made.append(("cripple", piece(middle, T, middle + T, sill - T)))
    return made, shapely.box(left, sill, right, head)


@st.composite
def frames(draw: st.DrawFn) -> tuple[list[Piece], list[shapely.Polygon]]:
    """A tidy frame: studs at one spacing, some bays in a row replaced by an opening. Pieces, and clear openings."""
    spacing = draw(SPACING)
    made: list[Piece] = []
    clear: list[shapely.Polygon] = []
    gaps: list[tuple[float, float]] = []
    x, at = 0.0, [0.0]
    for _ in range(draw(st.integers(0, 2))):
        x += spacing * draw(st.integers(1, 3))
        at.extend(np.arange(at[-1] + spacing, x - 1e-9, spacing).tolist())
        left = x + 2 * T
        right = left + draw(st.integers(max(900, int(spacing * 1600)), 2400)) / 1000.0
        kind = draw(KINDS)
        members, outline = opening_pieces(kind, left, right)
        made += members
        clear.append(outline)
        if kind == "door":
            gaps.append((left, right))
        x = right + 2 * T + spacing - T
        at.append(x)
    length = at[-1] + spacing * draw(st.integers(2, 4)) + T
    at.extend(np.arange(at[-1] + spacing, length - 1e-9, spacing).tolist())
    return [*plates(length, gaps), *studs(at), *made], clear


@st.composite
def untidy(draw: st.DrawFn) -> tuple[list[Piece], list[shapely.Polygon]]:
    """The same with every member moved by up to 3 mm, studs leaning by up to 1 degree, faces off by up to 2 mm."""
    pieces, clear = draw(frames())
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    made: list[Piece] = []
    for name, solid in pieces:
        near, far = depth_range(solid)
        shape = shapely.affinity.translate(silhouette(solid), *rng.uniform(-0.003, 0.003, 2))
        if name == "stud":
            shape = shapely.affinity.rotate(shape, rng.uniform(-1.0, 1.0))
        made.append((name, Prism(shape, near + rng.uniform(-0.002, 0.002), far + rng.uniform(-0.002, 0.002))))
    return made, clear


def frame_of(pieces: Sequence[Piece]) -> Frame:
    outline = outline_of_frame([silhouette(solid) for _, solid in pieces])
    frame = read_frame(layer_of(parts_of(pieces), outline))
    assert frame is not None
    return frame


def likeness(found: shapely.Geometry, drawn: shapely.Geometry) -> float:
    """Shared area over joint area."""
    return shapely.intersection(found, drawn).area / shapely.union(found, drawn).area


@settings(max_examples=60, deadline=None)
@given(frames())
def test_tidy_frames_show_each_opening_exactly_and_each_role(drawn: tuple[list[Piece], list[shapely.Polygon]]):
    pieces, clear = drawn
    frame = frame_of(pieces)
    assert [one.outline.bounds for one in frame.openings] == [pytest.approx(shape.bounds, abs=1e-9) for shape in clear]
    assert wrong_roles(frame) == {}


@settings(max_examples=60, deadline=None)
@given(untidy())
def test_untidy_frames_show_the_same_openings(drawn: tuple[list[Piece], list[shapely.Polygon]]):
    pieces, clear = drawn
    frame = frame_of(pieces)
    assert len(frame.openings) == len(clear)
    for found, shape in zip(frame.openings, clear, strict=True):
        assert likeness(found.outline, shape) > 0.97
    inside = [silhouette(member.solid) for member in frame.members]
    for found in frame.openings:
        assert shapely.intersection(found.outline, shapely.union_all(inside)).area < 1e-9


@settings(max_examples=25, deadline=None)
@given(untidy())
def test_volumes_of_untidy_frames_balance_and_agree_with_closed_mesh_booleans(
    drawn: tuple[list[Piece], list[shapely.Polygon]],
):
    frame = frame_of(drawn[0])
    layer = frame.layer
    holes = [Prism(one.outline, 0.0, layer.depth) for one in frame.openings]
    solids = [member.solid for member in frame.members]
    found = find_voids(layer.outline, holes, solids, (0.0, layer.depth), DEFAULT_TOLERANCES)
    void = found.void_volume + found.sliver_volume
    assert void + found.holes + found.solids == pytest.approx(found.gross, rel=1e-6)
    # The slicer rounds corners to 1e-10 m and the engine works in its own precision: 1e-6 of the gross volume.
    assert sum(boolean_voids(layer.outline, [*holes, *solids], (0.0, layer.depth))) == pytest.approx(
        void, abs=1e-6 * found.gross
    )


@settings(max_examples=30, deadline=None)
@given(
    frames(),
    st.integers(-9000, 9000),
    st.integers(-3000, 9000),
    st.integers(0, 2**32 - 1),
)
def test_neither_place_nor_order_changes_what_is_found(
    drawn: tuple[list[Piece], list[shapely.Polygon]], along: int, up: int, seed: int
):
    pieces, _ = drawn
    shift = np.array([along / 1000.0, 0.0, up / 1000.0])
    order = np.random.default_rng(seed).permutation(len(pieces)).tolist()
    axes = Axes(-shift, np.eye(3))
    parts = parts_of(pieces)
    there = [replace(parts[n], solids=tuple(moved(as_mesh(one), axes) for one in parts[n].solids)) for n in order]
    here, elsewhere = frame_of(pieces), read_frame(layer_of(there))
    assert elsewhere is not None
    assert {one.member_id: one.role for one in elsewhere.members} == {one.member_id: one.role for one in here.members}
    found = np.array([one.outline.bounds for one in elsewhere.openings]).reshape(-1, 4)
    expected = np.array([one.outline.bounds for one in here.openings]).reshape(-1, 4)
    assert found == pytest.approx(expected + shift[[0, 2, 0, 2]], abs=1e-9)
