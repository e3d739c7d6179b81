"""Gaps that taper across the depth: before a twisted stud they are slivers, beside a round pipe they are not."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial.transform import Rotation
from shapely import box

from geometry.booleans import boolean_voids
from geometry.level_faces import level_faces
from geometry.solids import Mesh, Prism, extruded
from geometry.tolerances import DEFAULT_TOLERANCES
from geometry.voids import find_voids

REGION = Prism(box(0.0, 0.0, 1.0, 2.4), 0.0, 0.14)
DEPTH = (0.0, 0.14)


def twisted(degrees: float) -> Mesh:
    """A stud from bottom to top of the region, turned about its own axis."""
    stud = extruded(box(0.481, 0.0, 0.519, 2.4), 0.0, 0.14)
    middle = stud.vertices.mean(axis=0)
    return Mesh(Rotation.from_euler("z", degrees, degrees=True).apply(stud.vertices - middle) + middle, stud.faces)


@pytest.mark.parametrize("degrees", [0.01, 0.5, 1.0, 3.0, 5.0])
def test_a_twisted_stud_parts_two_bays(degrees) -> None:
    stud = twisted(degrees)
    found = find_voids(REGION, [], [stud], DEPTH, DEFAULT_TOLERANCES)
    assert len(found.voids) == 2
    assert found.voids[0].volume == pytest.approx(found.voids[1].volume, rel=1e-6)
    # Reference: the boolean of closed meshes (manifold3d), of which the slivers are the wedges.
    whole = sum(boolean_voids(REGION, [stud], DEPTH))
    assert found.void_volume + found.sliver_volume == pytest.approx(whole, rel=1e-9)
    tilt = np.radians(degrees)
    assert 0.0 < found.sliver_volume <= 2 * 2.4 * 0.038**2 * np.sin(tilt)


def test_a_gap_that_grows_beyond_the_sliver_depth_stays_open() -> None:
    """A stud that leans back by 30 mm over its height leaves a space through which fibre flows."""
    stud = extruded(box(0.481, 0.0, 0.519, 2.4), 0.0, 0.14)
    leaning = stud.vertices + np.array([0.0, 1.0, 0.0]) * (0.03 * stud.vertices[:, 2:] / 2.4)
    found = find_voids(REGION, [], [Mesh(leaning, stud.faces)], DEPTH, DEFAULT_TOLERANCES)
    assert len(found.voids) == 1


def test_the_wedge_beside_a_round_pipe_stays_with_its_bay() -> None:
    angle = 2 * np.pi * (np.arange(30) + 0.5) / 30
    ring = shapely.Polygon(np.column_stack([0.5 + 0.05 * np.cos(angle), 0.0901 + 0.05 * np.sin(angle)]))
    upright = extruded(ring, 0.0, 2.4)
    pipe = Mesh(upright.vertices[:, [0, 2, 1]], upright.faces)
    found = find_voids(REGION, [], [pipe], DEPTH, DEFAULT_TOLERANCES)
    assert len(found.voids) == 1
    # Only the strip behind the one facet that lies nearest, 10 mm broad, is a gap between level faces.
    assert found.sliver_volume < 2.4 * 0.012 * 0.001
    assert level_faces([pipe], 1e-7).steep.shape[0] > 0
