"""The slab kernel against closed-mesh booleans (trimesh with its manifold engine), on generated frames."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.booleans import boolean_voids
from geometry.frames import Axes
from geometry.solids import Mesh, Prism, extruded, moved, moved_to_world, to_prism, volume
from geometry.tolerances import Tolerances
from geometry.voids import find_voids

NO_SLIVERS = Tolerances(sliver_width=1e-5, sliver_depth=1e-5)
DEPTH = 0.14


def millimetres(low: int, high: int) -> st.SearchStrategy[float]:
    return st.integers(low, high).map(lambda value: value / 1000.0)


@st.composite
def frames(draw: st.DrawFn) -> tuple[Prism | Mesh, list[Prism | Mesh]]:
    """A wall with a raked or level top, perhaps a mitred end; upright, flat, shallow and crossing members in it."""
    length, left = draw(millimetres(800, 4000)), draw(millimetres(600, 3000))
    right = draw(st.one_of(st.just(left), millimetres(600, 3000)))
    outline = shapely.Polygon([(0, 0), (length, 0), (length, right), (0, left)])
    mitre = draw(st.sampled_from([0.0, 0.14, -0.09]))
    region: Prism | Mesh = Prism(outline, 0.0, DEPTH)
    if mitre:
        body = extruded(outline, 0.0, DEPTH)
        vertices = body.vertices.copy()
        vertices[(vertices[:, 0] == 0.0) & (vertices[:, 1] > 0.0), 0] = mitre
        region = Mesh(vertices, body.faces)
    solids: list[Prism | Mesh] = []
    for _ in range(draw(st.integers(0, 6))):
        x = draw(millimetres(-100, int(length * 1000)))
        solids.append(Prism(shapely.box(x, -0.1, x + draw(millimetres(20, 90)), 4.0), 0.0, DEPTH))
    for _ in range(draw(st.integers(0, 3))):
        z, near = draw(millimetres(0, 2500)), draw(millimetres(0, 100))
        solids.append(Prism(shapely.box(0, z, length, z + 0.038), near, near + draw(millimetres(10, 80))))
    if draw(st.booleans()):
        solids.append(_brace(length, draw(millimetres(100, 500))))
    if draw(st.booleans()):
        solids.append(_pipe(draw(millimetres(200, 600)), draw(millimetres(20, 120)), length))
    return region, solids


def _brace(length: float, rise: float) -> Mesh:
    """A board that also runs back into the wall: its section moves with the depth."""
    board = extruded(shapely.box(0.0, 0.2, length, 0.3), 0.01, 0.05)
    vertices = board.vertices.copy()
    vertices[:, 2] += rise * vertices[:, 0] / length
    vertices[:, 1] += 0.06 * vertices[:, 0] / length
    return Mesh(vertices, board.faces)


def _pipe(z: float, y: float, length: float) -> Mesh:
    """A twelve-sided pipe along the wall."""
    angles = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    ring = shapely.Polygon(np.stack([0.025 * np.cos(angles), 0.025 * np.sin(angles)], axis=1))
    pipe = extruded(ring, -0.1, length + 0.1)
    return Mesh(np.stack([pipe.vertices[:, 1], pipe.vertices[:, 0] + y, pipe.vertices[:, 2] + z], axis=1), pipe.faces)


@settings(max_examples=30, deadline=None)
@given(frames())
def test_voids_have_the_volume_of_a_closed_mesh_boolean(frame: tuple[Prism | Mesh, list[Prism | Mesh]]) -> None:
    region, solids = frame
    found = find_voids(region, [], solids, (0.0, DEPTH), NO_SLIVERS)
    expected = sum(boolean_voids(region, solids, (0.0, DEPTH)))
    # Prisms are exact up to rounding; slanted and round solids settle to 1e-7.
    slack = 1e-9 if all(isinstance(solid, Prism) for solid in (region, *solids)) else 2e-7
    assert found.void_volume + found.sliver_volume == pytest.approx(expected, abs=slack * found.gross)


@settings(max_examples=30, deadline=None)
@given(frames())
def test_gross_volume_is_accounted_for(frame: tuple[Prism | Mesh, list[Prism | Mesh]]) -> None:
    region, solids = frame
    hole = Prism(shapely.box(0.4, 0.5, 1.1, 1.2), -1.0, 1.0)
    found = find_voids(region, [hole], solids, (0.0, DEPTH), Tolerances())
    assert found.gross == pytest.approx(volume(region), rel=1e-9)
    total = found.holes + found.solids + found.void_volume + found.sliver_volume
    assert total == pytest.approx(found.gross, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(frames(), st.floats(-np.pi, np.pi), st.tuples(*[st.floats(-500, 500)] * 3))
def test_turning_and_moving_the_wall_changes_nothing(
    frame: tuple[Prism | Mesh, list[Prism | Mesh]], angle: float, offset: tuple[float, float, float]
) -> None:
    region, solids = frame
    axes = Axes(
        np.array(offset),
        np.array([[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]]),
    )

    def carried(solid: Prism | Mesh) -> Prism | Mesh:
        mesh = solid if isinstance(solid, Mesh) else extruded(solid.outline, solid.y_min, solid.y_max)  # type: ignore[arg-type]
        there_and_back = moved(moved_to_world(mesh, axes), axes)
        return to_prism(there_and_back) or there_and_back

    still = find_voids(region, [], solids, (0.0, DEPTH), Tolerances())
    turned = find_voids(carried(region), [], [carried(solid) for solid in solids], (0.0, DEPTH), Tolerances())
    assert len(turned.voids) == len(still.voids)
    # Round bodies are sliced by quadrature until the volume settles to 1e-7; rounding may end that at another slab.
    slack = 1e-9 if all(isinstance(solid, Prism) for solid in (region, *solids)) else 2e-7
    assert turned.void_volume == pytest.approx(still.void_volume, abs=slack * still.gross)
    assert turned.sliver_volume == pytest.approx(still.sliver_volume, abs=slack * still.gross)
