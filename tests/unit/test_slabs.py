"""Where the depth is cut: exact for plain polyhedra, close enough and cheap for finely faceted ones."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geometry.booleans import boolean_voids
from geometry.slabs import doubts, looks_between, refined
from geometry.solids import Mesh, Prism, extruded
from geometry.tolerances import Tolerances
from geometry.voids import find_voids

DEPTH = 0.14
TOLERANCES = Tolerances()
BAY = Prism(shapely.box(0.0, 0.0, 0.56, 2.4), 0.0, DEPTH)


def pipe_along(facets: int, *, y: float = 0.06, z: float = 1.2, radius: float = 0.025, turn: float = 0.0) -> Mesh:
    """A pipe that runs through the bay along the wall."""
    angles = turn + np.linspace(0.0, 2.0 * np.pi, facets, endpoint=False)
    ring = shapely.Polygon(np.stack([radius * np.cos(angles), radius * np.sin(angles)], axis=1))
    run = extruded(ring, -0.1, 0.7)
    return Mesh(np.stack([run.vertices[:, 1], run.vertices[:, 0] + y, run.vertices[:, 2] + z], axis=1), run.faces)


def sphere(x: float, y: float, z: float, radius: float) -> Mesh:
    """A faceted ball, such as a fixture that hangs into a bay."""
    import trimesh

    ball = trimesh.creation.icosphere(subdivisions=4, radius=radius)
    return Mesh(np.asarray(ball.vertices) + np.array([x, y, z]), np.asarray(ball.faces))


@pytest.mark.parametrize("facets", [8, 12, 24, 30, 64, 125, 400])
def test_a_round_pipe_takes_its_volume(facets: int) -> None:
    pipe = pipe_along(facets)
    found = find_voids(BAY, [], [pipe], (0.0, DEPTH), TOLERANCES)
    # Area of a regular polygon of n sides in a circle of radius r: n r r sin(2 pi / n) / 2.
    taken = 0.56 * facets * 0.025**2 * np.sin(2.0 * np.pi / facets) / 2.0
    assert found.void_volume == pytest.approx(BAY.volume - taken, rel=1e-9 if facets <= 30 else 1e-7)
    assert found.looks.exact
    assert len(found.voids) == 1


@pytest.mark.parametrize("facets", [64, 125, 1000])
def test_a_finely_faceted_pipe_is_not_looked_at_once_for_each_facet(facets: int) -> None:
    looks = find_voids(BAY, [], [pipe_along(facets)], (0.0, DEPTH), TOLERANCES).looks
    assert len(looks.depths) < 250


def test_a_ball_in_a_bay_agrees_with_the_closed_mesh_boolean() -> None:
    ball = sphere(0.2, 0.05, 1.0, 0.06)
    found = find_voids(BAY, [], [ball], (0.0, DEPTH), TOLERANCES)
    assert found.void_volume == pytest.approx(sum(boolean_voids(BAY, [ball], (0.0, DEPTH))), rel=1e-7)
    assert found.gross == pytest.approx(found.solids + found.void_volume + found.sliver_volume, rel=1e-12)


def test_two_round_pipes_that_run_into_each_other_and_a_stud_agree_with_the_boolean() -> None:
    stud = Prism(shapely.box(0.25, 0.0, 0.288, 2.4), 0.0, DEPTH)
    along, up = pipe_along(64), pipe_along(64, y=0.07)
    upright = Mesh(up.vertices[:, [2, 1, 0]] - [0.93, 0.0, -1.0], up.faces)
    solids = [stud, along, upright]
    found = find_voids(BAY, [], solids, (0.0, DEPTH), TOLERANCES)
    expected = boolean_voids(BAY, solids, (0.0, DEPTH))
    assert sorted((void.volume for void in found.voids), reverse=True) == pytest.approx(expected, rel=1e-6)


def test_planes_of_plain_bodies_are_all_cut() -> None:
    looks = looks_between([BAY, pipe_along(12)], 0.0, DEPTH, TOLERANCES)
    assert len(looks.spare) == 0
    assert len(looks.planes) == 2 + 7  # a pipe of 12 sides has corners at 7 depths


def test_a_slab_is_cut_at_a_spare_depth_before_it_is_halved() -> None:
    looks = looks_between([BAY, pipe_along(400)], 0.0, DEPTH, TOLERANCES)
    slab = int(np.argmax(np.diff(np.searchsorted(looks.spare, looks.planes))))
    chosen = np.arange(len(looks.planes) - 1) == slab
    finer = refined(looks, chosen)
    (new,) = set(finer.planes.tolist()) - set(looks.planes.tolist())
    assert new in looks.spare
    assert len(finer.spare) == len(looks.spare) - 1
    assert finer.weights.sum() == pytest.approx(DEPTH, rel=1e-12)


def test_a_quadratic_leaves_no_doubt_and_an_even_quartic_does() -> None:
    looks = looks_between([BAY, pipe_along(400)], 0.0, DEPTH, TOLERANCES)
    hiding = np.bincount(looks.slabs) == 5
    quadratic = 1.0 + looks.depths + 3.0 * looks.depths**2
    assert doubts(looks, quadratic).max() < 1e-15
    middle = (0.5 * (looks.planes[:-1] + looks.planes[1:]))[looks.slabs]
    assert doubts(looks, (looks.depths - middle) ** 4)[hiding].min() > 0.0
