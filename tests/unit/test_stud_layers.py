"""Stud layers in their final axes: what of the body they are, and what reaches into them."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from geometry.solids import Mesh, Prism, Solid, bounds, extruded, section, silhouette
from takeoff.walls.slots import Slot
from takeoff.walls.stud_layers import (
    body_outline,
    final_axes,
    frame_outline_solid,
    joined,
    layers_in,
    parts_in,
)
from tests.unit.test_layer_places import placed
from tests.wall_builder import BOARD, HEIGHT, LENGTH, PLAIN, STUDS, THICKNESS, WORLD, box, part, standing, wall

AXES = WORLD.shifted([0.0, BOARD, 0.0])
"""y = 0 at the fill face of the plain wall's studs."""


def prism(solid: Solid | None) -> Prism:
    assert isinstance(solid, Prism)
    return solid


# ---------------------------------------------------------------- axes


def test_axes_seen_from_the_low_side_keep_their_sense():
    axes = final_axes(WORLD, Slot(BOARD, BOARD + STUDS, 1), 0, [box(PLAIN)])
    assert axes.origin == pytest.approx([0.0, BOARD, 0.0])
    assert axes.directions == pytest.approx(np.eye(3))


def test_axes_seen_from_the_high_side_are_turned_about():
    axes = final_axes(WORLD, Slot(BOARD, BOARD + STUDS, 1), 1, [box(PLAIN)])
    assert axes.origin == pytest.approx([LENGTH, BOARD + STUDS, 0.0])
    assert axes.directions == pytest.approx(np.diag([-1.0, -1.0, 1.0]))


def test_material_layers_are_listed_from_the_fill_side():
    places = placed(wall(), (0.0, THICKNESS)).layers
    slot = Slot(BOARD, BOARD + STUDS, 1)
    near = layers_in(places, slot, 0)
    assert [layer.y_min for layer in near] == pytest.approx([-BOARD, 0.0, STUDS])
    far = layers_in(places, slot, 1)
    assert [layer.material for layer in far] == ["OSB sheathing", "Wood studs", "Gypsum board"]
    assert [layer.y_min for layer in far] == pytest.approx([-0.012, 0.0, STUDS])
    assert [layer.y_max for layer in far] == pytest.approx([0.0, STUDS, STUDS + BOARD])


# ---------------------------------------------------------------- outline


def test_a_box_shaped_wall_gives_a_prism_of_the_studs_depth():
    outline = prism(body_outline([box(PLAIN)], AXES, STUDS))
    assert (outline.y_min, outline.y_max) == (0.0, STUDS)
    assert outline.outline.equals(shapely.box(0, 0, LENGTH, HEIGHT))


def test_a_gable_keeps_its_rake():
    gable = Polygon([(0, 0), (4, 0), (4, 2), (2, 3), (0, 2)])
    outline = prism(body_outline([extruded(gable, 0.0, THICKNESS)], AXES, STUDS))
    assert outline.outline.area == pytest.approx(10.0)


def test_of_a_mitred_body_only_the_studs_part_is_taken():
    mitred = standing(Polygon([(0, 0), (4, 0), (4 - THICKNESS, THICKNESS), (THICKNESS, THICKNESS)]), 0.0, HEIGHT)
    outline = body_outline([mitred], AXES, STUDS)
    assert isinstance(outline, Mesh)
    assert bounds(outline)[:, 1] == pytest.approx([0.0, STUDS])
    # longest at the fill face: 4 less 12.5 mm at both ends
    assert silhouette(outline).bounds == pytest.approx((BOARD, 0.0, 4.0 - BOARD, HEIGHT))
    assert section(outline, STUDS / 2).area == pytest.approx((4.0 - 2 * (BOARD + STUDS / 2)) * HEIGHT)


def test_of_a_body_with_a_solid_per_layer_the_studs_solid_is_taken():
    solids = [
        box((-0.1, 0.0, -0.1, 4.1, BOARD, 2.6)),
        box((0.0, BOARD, 0.0, 4.0, BOARD + STUDS, 2.4)),
        box((-0.3, BOARD + STUDS, -0.3, 4.3, THICKNESS, 2.9)),
    ]
    assert prism(body_outline(solids, AXES, STUDS)).outline.equals(shapely.box(0, 0, 4, 2.4))


def test_a_body_in_pieces_is_put_together():
    solids = [box((0, 0, 0, 1, THICKNESS, 2.4)), box((1, 0, 0, 2, THICKNESS, 0.9)), box((2, 0, 0, 4, THICKNESS, 2.4))]
    assert prism(body_outline(solids, AXES, STUDS)).outline.area == pytest.approx(4 * 2.4 - 1.5)


def test_a_mitred_piece_and_a_plain_one_are_put_together():
    mitred = standing(Polygon([(0, 0), (2, 0), (2, THICKNESS), (THICKNESS, THICKNESS)]), 0.0, HEIGHT)
    plain = box((2.0, 0.0, 0.0, 4.0, THICKNESS, HEIGHT))
    outline = body_outline([mitred, plain], AXES, STUDS)
    assert isinstance(outline, Mesh)
    assert section(outline, STUDS / 2).area == pytest.approx((4.0 - BOARD - STUDS / 2) * HEIGHT)


def test_two_halves_of_the_depth_are_put_together():
    low = standing(Polygon([(0, 0), (4, 0), (4 - 0.08, 0.08), (0, 0.08)]), 0.0, HEIGHT)
    high = standing(Polygon([(0, 0.08), (4 - 0.08, 0.08), (4 - THICKNESS, THICKNESS), (0, THICKNESS)]), 0.0, HEIGHT)
    outline = body_outline([low, high], AXES, STUDS)
    assert outline is not None
    for y in (0.02, 0.12):
        assert section(outline, y).area == pytest.approx((4.0 - BOARD - y) * HEIGHT)


def test_a_mere_surface_and_a_body_elsewhere_give_no_outline():
    assert body_outline([box((0.0, 0.05, 0.0, 4.0, 0.05, 2.4))], AXES, STUDS) is None
    assert body_outline([box((0.0, 1.0, 0.0, 4.0, 1.2, 2.4))], AXES, STUDS) is None


def test_solids_that_touch_become_one_mesh_with_one_section():
    made = joined([Prism(shapely.box(0, 0, 1, 2), 0.0, 0.1), Prism(shapely.box(1, 0, 2, 2), 0.0, 0.1)])
    assert isinstance(made, Mesh)
    assert section(made, 0.05).equals(shapely.box(0, 0, 2, 2))


def test_a_frame_without_a_body_is_its_own_outline():
    parts = (
        part("PLATE", (0.0, 0.0, 0.0, 2.0, STUDS, 0.04)),
        part("PLATE-2", (0.0, 0.0, 2.36, 2.0, STUDS, 2.4)),
        part("STUD-1", (0.0, 0.0, 0.04, 0.04, STUDS, 2.36)),
        part("STUD-2", (1.96, 0.0, 0.04, 2.0, STUDS, 2.36)),
        part("SHEET", (-0.5, STUDS, -0.5, 2.5, STUDS + 0.012, 3.0), ifc_class="IfcPlate"),
    )
    outline = prism(frame_outline_solid(parts, STUDS))
    assert outline.outline.equals(shapely.box(0, 0, 2, 2.4))
    assert frame_outline_solid((), STUDS) is None


# ---------------------------------------------------------------- parts


def test_parts_keep_only_the_solids_that_reach_in():
    reach = np.array([[0.0, 0.0, 0.0], [LENGTH, STUDS, HEIGHT]])
    parts = (
        part("IN", (1.0, BOARD, 0.0, 1.1, 0.1, 2.0)),
        part("HALF", (1.0, BOARD, 0.0, 1.1, 0.1, 2.0), (1.0, 2.0, 0.0, 1.1, 2.1, 2.0)),
        part("ON-THE-FACE", (1.0, -0.1, 0.0, 1.1, BOARD, 2.0)),
    )
    found = parts_in(parts, AXES, reach)
    assert [(each.global_id, len(each.solids)) for each in found] == [("IN", 1), ("HALF", 1)]
    assert bounds(found[0].solids[0])[0, 1] == pytest.approx(0.0), "now in wall axes"
