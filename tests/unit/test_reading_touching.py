"""Solids that touch and whose triangles come mixed, told apart by the faces around the edges that they share."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from takeoff.reading.shells import Shell, split_into_shells, weld
from takeoff.reading.touching import solid_labels
from tests.ifc_builder import BOX_FACES, box_corners

TRIANGLES = np.array([triangle for a, b, c, d in BOX_FACES for triangle in ((a, b, c), (a, c, d))])
UNIT = (1.0, 1.0, 1.0)


def boxes(*places, mixed: bool = True):
    """Boxes (size, corner) welded into one stream of triangles; mixed: the first of each box, then the second, ..."""
    vertices = np.concatenate([box_corners(size, at) for size, at in places])
    faces = np.concatenate([TRIANGLES + 8 * number for number in range(len(places))])
    vertices, faces = weld(vertices, faces)
    order = np.arange(len(faces)).reshape(len(places), 12)
    return vertices, faces[order.T.ravel() if mixed else order.ravel()]


def volume(shell: Shell) -> float:
    corners = shell.vertices[shell.faces] - shell.vertices[0]
    return float(abs(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6))


TOUCHING = {
    "a common edge": [(UNIT, (0, 0, 0)), (UNIT, (1, 0, 1))],
    "a common corner": [(UNIT, (0, 0, 0)), (UNIT, (1, 1, 1))],
    "a common face": [(UNIT, (0, 0, 0)), (UNIT, (0, 0, 1))],
    "three in a row": [(UNIT, (0, 0, 0)), (UNIT, (1, 0, 0)), (UNIT, (2, 0, 0))],
    "four around an edge": [(UNIT, (0, 0, 0)), (UNIT, (1, 0, 0)), (UNIT, (0, 1, 0)), (UNIT, (1, 1, 0))],
    "a stud on the end of a plate": [((3.0, 1.0, 1.0), (0, 0, 0)), ((1.0, 1.0, 5.0), (0, 0, 1))],
    "plates and end studs": [
        ((3.0, 1.0, 1.0), (0, 0, 0)),
        ((1.0, 1.0, 5.0), (0, 0, 1)),
        ((1.0, 1.0, 5.0), (2, 0, 1)),
        ((3.0, 1.0, 1.0), (0, 0, 6)),
    ],
}


@pytest.mark.parametrize("places", TOUCHING.values(), ids=TOUCHING.keys())
@pytest.mark.parametrize("facing", ["out", "in"])
def test_boxes_that_touch_are_solids_of_their_own(places, facing):
    vertices, faces = boxes(*places)
    parted(places, vertices, faces if facing == "out" else faces[:, ::-1])


@pytest.mark.parametrize("case", ["a common edge", "a common corner", "plates and end studs"])
def test_boxes_that_meet_in_edges_may_point_each_its_own_way(case):
    vertices, faces = boxes(*TOUCHING[case])
    first = np.arange(len(faces)) % len(TOUCHING[case]) == 0
    parted(TOUCHING[case], vertices, np.where(first[:, None], faces[:, ::-1], faces))


def parted(places, vertices, faces) -> None:
    shells = split_into_shells(vertices, faces)
    assert all(shell.closed and len(shell.faces) == 12 for shell in shells)
    assert sorted(volume(shell) for shell in shells) == pytest.approx(
        sorted(float(np.prod(size)) for size, _ in places), rel=1e-12
    )


@pytest.mark.parametrize("seed", range(5))
def test_the_order_of_the_triangles_does_not_matter(seed):
    vertices, faces = boxes(*TOUCHING["plates and end studs"])
    faces = faces[np.random.default_rng(seed).permutation(len(faces))]
    assert sorted(volume(shell) for shell in split_into_shells(vertices, faces)) == pytest.approx([3.0, 3.0, 5.0, 5.0])


def test_a_step_of_the_corners_below_the_weld_changes_nothing():
    vertices, faces = boxes(*TOUCHING["four around an edge"])
    vertices = vertices + np.random.default_rng(3).uniform(-5e-7, 5e-7, vertices.shape)
    assert len(np.unique(solid_labels(vertices, faces))) == 4


def test_a_void_that_touches_the_skin_along_an_edge_stays_with_its_solid():
    """A box of 4 x 4 x 4 m with a wedge hollowed out that reaches one of its upright edges over all of its height."""
    wedge = [(0, 0, 0), (0, 0, 4), (2, 1, 1), (2, 1, 3), (1, 2, 1), (1, 2, 3)]
    hull = trimesh.convex.convex_hull(np.array(wedge, dtype=float))
    vertices, faces = weld(
        np.concatenate([box_corners((4.0, 4.0, 4.0), (0, 0, 0)), hull.vertices]),
        np.concatenate([TRIANGLES, hull.faces[:, ::-1] + 8]),
    )
    (shell,) = split_into_shells(vertices, faces[np.random.default_rng(1).permutation(len(faces))])
    # The wedge by hand: plan triangle of 1.5 m2 times the mean height at its corners, (4 + 2 + 2) / 3 m.
    assert hull.volume == pytest.approx(1.5 * 8.0 / 3.0)
    assert volume(shell) == pytest.approx(64.0 - 4.0)


def test_a_solid_that_touches_itself_along_an_edge_is_one():
    """Unit boxes around a square hole, less one at a corner, whose neighbours meet in an edge of the hole's corner."""
    plan = [(0, 0), (1, 0), (2, 0), (0, 1), (2, 1), (0, 2), (1, 2)]
    vertices = np.concatenate([box_corners(UNIT, (float(x), float(y), 0.0)) for x, y in plan])
    quads = [tuple(8 * number + corner for corner in face) for number in range(len(plan)) for face in BOX_FACES]
    middles = [tuple(np.round(vertices[list(quad)].mean(axis=0), 6)) for quad in quads]
    skin = [quad for quad, middle in zip(quads, middles, strict=True) if middles.count(middle) == 1]
    triangles = np.array([triangle for a, b, c, d in skin for triangle in ((a, b, c), (a, c, d))])
    (shell,) = split_into_shells(*weld(vertices, triangles))
    assert volume(shell) == pytest.approx(len(plan))
