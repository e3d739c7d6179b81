"""Voids between members, by hand: what joins, what stays apart, and what is only a gap to seal."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geometry.solids import Mesh, Prism, Solid, extruded
from geometry.tolerances import Tolerances
from geometry.voids import Voids, find_voids, wide_parts
from geometry.widths import inscribed_diameters

DEPTH = 0.14
TOLERANCES = Tolerances()


def board(x_min: float, z_min: float, x_max: float, z_max: float, y_min: float = 0.0, y_max: float = DEPTH) -> Prism:
    return Prism(shapely.box(x_min, z_min, x_max, z_max), y_min, y_max)


def voids_of(*solids: Solid, holes: tuple[Solid, ...] = (), region: Solid | None = None) -> Voids:
    return find_voids(region or board(0, 0, 1, 2), holes, solids, (0.0, DEPTH), TOLERANCES)


def assert_balanced(found: Voids) -> None:
    total = found.holes + found.solids + found.void_volume + found.sliver_volume
    assert total == pytest.approx(found.gross, rel=1e-9)


def test_one_stud_makes_two_bays() -> None:
    found = voids_of(board(0.48, 0, 0.52, 2))
    assert [void.volume for void in found.voids] == pytest.approx([0.48 * 2 * DEPTH] * 2, rel=1e-12)
    assert not found.slivers


def test_a_flat_block_of_part_depth_leaves_one_cavity() -> None:
    found = voids_of(board(0, 1, 1, 1.04, 0.05, DEPTH))
    (void,) = found.voids
    assert void.volume == pytest.approx(1 * 2 * DEPTH - 0.04 * 0.09, rel=1e-12)
    assert (void.y_min, void.y_max) == (0.0, DEPTH)
    assert void.outline.area == pytest.approx(2.0)


def test_a_let_in_brace_divides_the_front_only() -> None:
    brace = Prism(shapely.Polygon([(0, 0.2), (1, 1.6), (1, 1.8), (0, 0.4)]), 0.0, 0.019)
    (void,) = voids_of(brace).voids
    assert void.volume == pytest.approx(2 * DEPTH - 0.2 * 0.019, rel=1e-12)
    assert void.front.area == pytest.approx(2.0 - 0.2)


def test_a_hollow_between_two_thin_beams_is_a_pocket_of_its_own() -> None:
    frame = (board(0, 0.98, 1, 1.0), board(0, 1.2, 1, 1.22))
    found = voids_of(board(0, 1.0, 1, 1.2, 0.0, 0.038), board(0, 1.0, 1, 1.2, DEPTH - 0.038, DEPTH), *frame)
    pocket = [void for void in found.voids if void.front.is_empty]
    assert [void.volume for void in pocket] == pytest.approx([1 * 0.2 * (DEPTH - 0.076)])
    assert len(found.voids) == 3


def test_boards_of_a_built_up_header_with_gaps_across_the_depth_leave_slivers_only() -> None:
    boards = [board(0, 1.0, 1, 1.2, y, y + 0.033) for y in (0.0, 0.035, 0.070, 0.105)]
    found = voids_of(*boards)
    assert len(found.voids) == 2  # above and below the header
    # Three gaps of 2 mm between the boards, and one of 2 mm behind the last.
    assert found.sliver_volume == pytest.approx(4 * 0.002 * 0.2, rel=1e-9)
    assert_balanced(found)


def test_a_beam_of_half_the_depth_leaves_the_other_half_to_its_neighbours() -> None:
    (void,) = voids_of(board(0, 1.0, 1, 1.2, 0.07, DEPTH)).voids
    assert void.volume == pytest.approx(2 * DEPTH - 0.2 * 0.07, rel=1e-12)


def test_studs_a_millimetre_apart_leave_a_sliver_and_no_cavity() -> None:
    found = voids_of(board(0.4, 0, 0.44, 2), board(0.441, 0, 0.481, 2))
    assert len(found.voids) == 2
    assert [sliver.volume for sliver in found.slivers] == pytest.approx([0.001 * 2 * DEPTH], rel=1e-6)


def test_a_stud_that_stops_millimetres_short_joins_no_bays() -> None:
    found = voids_of(board(0.48, 0, 0.52, 1.997))
    assert len(found.voids) == 2
    assert found.sliver_volume == pytest.approx(0.04 * 0.003 * DEPTH, rel=1e-6)
    assert_balanced(found)


def test_a_stud_that_stops_a_hand_short_joins_its_bays() -> None:
    assert len(voids_of(board(0.48, 0, 0.52, 1.9)).voids) == 1


def test_a_raked_top_with_hairline_gaps_over_the_studs_keeps_its_bays_apart() -> None:
    region = Prism(shapely.Polygon([(0, 0), (1, 0), (1, 2.0), (0, 1.5)]), 0.0, DEPTH)
    tops = [1.5 + 0.5 * x for x in (0.3, 0.34, 0.66, 0.7)]
    hair = 3e-9
    studs = [
        Prism(shapely.Polygon([(0.3, 0), (0.34, 0), (0.34, tops[1] - hair), (0.3, tops[0] - hair)]), 0.0, DEPTH),
        Prism(shapely.Polygon([(0.66, 0), (0.7, 0), (0.7, tops[3] - hair), (0.66, tops[2] - hair)]), 0.0, DEPTH),
    ]
    found = voids_of(*studs, region=region)
    assert len(found.voids) == 3
    assert_balanced(found)


def test_openings_and_what_sticks_out_of_the_wall_are_cut_at_its_edge() -> None:
    found = voids_of(board(-1, -1, 5, 0.04), holes=(board(0.5, -3, 2, 1, -1, 1),))
    assert found.holes == pytest.approx(0.5 * 1 * DEPTH)
    assert found.solids == pytest.approx(0.5 * 0.04 * DEPTH)
    assert_balanced(found)


def test_overlapping_members_are_counted_once() -> None:
    found = voids_of(board(0, 0, 1, 0.04), board(0.2, 0, 0.24, 2), board(0.21, 0, 0.25, 2))
    assert found.solids == pytest.approx((0.04 + 0.05 * 1.96) * DEPTH, rel=1e-12)


def test_a_mitred_end_has_its_exact_volume() -> None:
    body = extruded(shapely.box(0, 0, 1, 2), 0.0, DEPTH)
    vertices = body.vertices.copy()
    vertices[(vertices[:, 0] == 1.0) & (vertices[:, 1] > 0.0), 0] -= DEPTH
    found = find_voids(Mesh(vertices, body.faces), [], [board(0.48, 0, 0.52, 2)], (0.0, DEPTH), TOLERANCES)
    assert found.gross == pytest.approx((1 - DEPTH / 2) * 2 * DEPTH, rel=1e-12)
    last = max(found.voids, key=lambda void: void.outline.bounds[2])
    assert last.volume == pytest.approx((0.48 - DEPTH / 2) * 2 * DEPTH, rel=1e-9)
    assert last.outline.bounds[2] == pytest.approx(1.0, abs=2e-7)  # the silhouette reaches the full length


def test_the_centroid_is_that_of_the_volume() -> None:
    (void,) = voids_of(board(0, 0, 1, 2, 0.1, DEPTH)).voids
    assert void.centroid == pytest.approx([0.5, 0.05, 1.0])


def test_a_wide_shape_comes_back_unchanged_and_a_crack_is_cut_off() -> None:
    slit = shapely.box(0, 0, 1, 1).union(shapely.box(1, 0.5, 1.5, 0.503))
    wide, strips = wide_parts(slit, TOLERANCES)
    assert [part.area for part in wide] == pytest.approx([1.0], abs=2e-5)
    assert sum(part.area for part in strips) == pytest.approx(0.0015, abs=2e-5)
    assert sum(part.area for part in (*wide, *strips)) == pytest.approx(slit.area, rel=1e-9)


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (shapely.box(0, 0, 0.37, 2.3), 0.37),
        (shapely.Polygon([(0, 0), (3, 0), (0, 4)]), 2.0),  # inscribed circle of the 3-4-5 triangle: radius 1
        (shapely.Point(0, 0).buffer(0.5, quad_segs=64), 1.0),
        (shapely.Polygon(), 0.0),
    ],
)
def test_the_inscribed_circle_has_the_textbook_diameter(shape: shapely.Polygon, expected: float) -> None:
    assert inscribed_diameters([shape])[0] == pytest.approx(expected, rel=2e-3, abs=1e-9)


def test_many_shapes_are_measured_in_one_call() -> None:
    shapes = [shapely.box(0, 0, width, 1) for width in np.linspace(0.1, 0.9, 9)]
    assert inscribed_diameters(shapes) == pytest.approx(np.linspace(0.1, 0.9, 9))
