"""Walls that are drawn into each other where they meet: what two claim is counted once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geometry.solids import Prism, bounds
from takeoff.building import ModelPart
from takeoff.framing.junctions import find_junctions
from takeoff.model import Layer, LayerRole, Status, Wall
from takeoff.walls.overlaps import without_overlaps
from tests.frame_builder import part
from tests.layout_builder import opening, stud_layer, wall_of
from tests.wall_builder import WORLD, rotation, standing

DEPTH = 0.14


def straight(key: str, length: float, at: tuple[float, float], degrees: float = 0.0, **changes: object) -> Wall:
    """A wall of one stud layer 2.4 m high, its fill face from `at` along a direction, its depth to the left of that."""
    axes = replace(WORLD, origin=np.array([*at, 0.0]), directions=rotation(degrees).T)
    layers = (Layer("studs", "", DEPTH, LayerRole.STUD, "", 0.0, DEPTH),)
    made = stud_layer(shapely.box(0.0, 0.0, length, 2.4), depth=DEPTH, key=key, axes=axes, layers=layers)
    return wall_of(replace(made, **changes))  # type: ignore[arg-type]


def apart(*walls: Wall) -> tuple[Wall, ...]:
    return without_overlaps(walls, find_junctions(walls))


def lengths(*walls: Wall) -> list[float]:
    return [float(np.ptp(bounds(wall.stud_layers[0].outline)[:, 0])) for wall in apart(*walls)]


def codes(*walls: Wall) -> list[list[str]]:
    return [[finding.code for finding in wall.findings] for wall in apart(*walls)]


LONG = straight("A", 4.0, (0.0, 0.0))


def test_at_a_corner_the_wall_that_does_not_run_through_ends_at_the_other():
    # upwards from the far end of A, over the same corner
    corner = straight("B", 3.0, (4.0, 0.0), 90.0)
    assert lengths(LONG, corner) == pytest.approx([4.0, 3.0 - DEPTH])
    assert codes(LONG, corner) == [[], ["walls-overlap"]]
    together = sum(lengths(LONG, corner)) * DEPTH
    plans = [shapely.box(0, 0, 4, DEPTH), shapely.box(4 - DEPTH, 0, 4, 3)]
    assert together == pytest.approx(shapely.union_all(plans).area)


def test_a_cut_layer_begins_at_its_own_zero_and_its_openings_stay_where_they_are():
    window = opening(shapely.box(1.0, 0.9, 2.0, 2.1))
    corner = straight("B", 3.0, (4.0, 0.0), 90.0, openings=(window,))
    layer = apart(LONG, corner)[1].stud_layers[0]
    assert bounds(layer.outline)[0] == pytest.approx([0.0, 0.0, 0.0])
    assert layer.axes.origin == pytest.approx([4.0, DEPTH, 0.0])
    (moved,) = layer.openings
    centre = moved.outline.centroid
    assert layer.axes.to_world([[centre.x, 0.0, centre.y]])[0] == pytest.approx([4.0, 1.5, 1.5])


def test_a_partition_drawn_into_another_wall_ends_at_its_face():
    tee = straight("T", 3.0, (2.0, DEPTH / 2), 90.0)
    assert lengths(LONG, tee) == pytest.approx([4.0, 3.0 - DEPTH / 2])


def test_of_two_walls_that_cross_one_is_parted():
    cross = straight("X", 3.0, (2.0, -1.0), 90.0)
    first, second = apart(LONG, cross)
    areas = sorted(layer.outline.outline.area for layer in (first.stud_layers[0], second.stud_layers[0]))
    assert areas == pytest.approx([(3.0 - DEPTH) * 2.4, 4.0 * 2.4]) or areas == pytest.approx(
        [3.0 * 2.4, (4.0 - DEPTH) * 2.4]
    )


def test_walls_that_only_touch_stay_as_they_are():
    butt = straight("B", 3.0, (4.0, DEPTH), 90.0)
    assert apart(LONG, butt) == (LONG, butt)
    above = straight("U", 3.0, (4.0, 0.0), 90.0)
    (upper,) = above.stud_layers
    higher = wall_of(replace(upper, axes=upper.axes.shifted([0.0, 0.0, 2.4])))
    assert apart(LONG, higher) == (LONG, higher)


def test_a_millimetre_of_overlap_is_rounding():
    butt = straight("B", 3.0, (4.0, DEPTH - 0.001), 90.0)
    assert apart(LONG, butt) == (LONG, butt)


def drawn_frame(*x_of_studs: float) -> tuple[ModelPart, ...]:
    """Studs of wall B, 40 mm wide, and a plate over them."""
    studs = [Prism(shapely.box(x, 0.0, x + 0.04, 2.36), 0.0, DEPTH) for x in x_of_studs]
    plate = Prism(shapely.box(x_of_studs[0], 2.36, x_of_studs[-1] + 0.04, 2.4), 0.0, DEPTH)
    return tuple(part(f"P{number}", solid, wall_id="B") for number, solid in enumerate([*studs, plate]))


def test_a_frame_that_is_drawn_into_the_corner_is_not_cut():
    framed = straight("B", 3.0, (4.0, 0.0), 90.0, parts=drawn_frame(0.0, 0.6, 1.2, 1.8, 2.4, 2.96))
    assert apart(LONG, framed)[1] is framed


def test_the_body_of_a_wall_is_cut_where_its_drawn_frame_ends_before_the_corner():
    framed = straight("B", 3.0, (4.0, 0.0), 90.0, parts=drawn_frame(DEPTH, 0.6, 1.2, 1.8, 2.4, 2.96))
    assert lengths(LONG, framed) == pytest.approx([4.0, 3.0 - DEPTH])


def test_a_pipe_in_a_wall_is_no_frame_that_keeps_its_place():
    pipe = part("PIPE", Prism(shapely.box(0.05, 1.0, 2.0, 1.05), 0.04, 0.09), ifc_class="IfcPipeSegment", wall_id="")
    assert lengths(LONG, straight("B", 3.0, (4.0, 0.0), 90.0, parts=(pipe,))) == pytest.approx([4.0, 3.0 - DEPTH])


def test_what_ends_in_the_masonry_behind_the_other_walls_studs_is_cut_off():
    """A furred masonry wall, 0.2 m of block behind its studs; B runs through the studs and ends inside the block."""
    layers = (
        Layer("studs", "", DEPTH, LayerRole.STUD, "", 0.0, DEPTH),
        Layer("block", "", 0.2, LayerRole.OTHER, "", DEPTH, DEPTH + 0.2),
    )
    furred = straight("A", 4.0, (0.0, 0.0), layers=layers)
    ends_inside = straight("B", 3.0, (2.0, -3.0 + DEPTH + 0.15), 90.0)
    assert lengths(furred, ends_inside) == pytest.approx([4.0, 3.0 - 0.15 - DEPTH])
    runs_past = straight("B", 3.0, (2.0, -2.0), 90.0)
    areas = [layer.outline.outline.area for wall in apart(furred, runs_past) for layer in wall.stud_layers]
    assert areas == pytest.approx([4.0 * 2.4, (3.0 - DEPTH) * 2.4])


def test_a_wall_that_lies_in_the_corner_of_another_has_no_studs_of_its_own():
    stub = straight("S", DEPTH + 0.02, (4.0, 0.0), 90.0)
    first, second = apart(LONG, stub)
    assert first is LONG
    assert (second.status, second.stud_layers) == (Status.LEFT_OUT, ())
    assert second.reason.startswith("its studs would stand where those of wall A do")


def test_walls_drawn_into_each_other_at_an_angle_are_told_how_much_both_claim() -> None:
    # A wall that starts on A's far face line and leans 45 degrees: it takes a triangle of A's end.
    askew = straight("C", 3.0, (3.5, 0.0), 45.0)
    walls = apart(LONG, askew)
    (finding,) = walls[1].findings
    plans = [
        shapely.box(0, 0, 4, DEPTH),
        shapely.affinity.translate(
            shapely.affinity.rotate(shapely.box(0, 0, 3.0, DEPTH), 45.0, origin=(0, 0)), 3.5, 0.0
        ),
    ]
    assert finding.code == "walls-overlap-askew"
    assert finding.measured == pytest.approx(plans[0].intersection(plans[1]).area * 2.4)


def test_walls_mitred_at_an_angle_claim_nothing_together() -> None:
    """Two walls of three quarters of a right angle whose ends are cut along the line between their corners."""
    half = np.tan(np.radians(22.5)) * DEPTH
    one, other = straight("A", 4.0, (0.0, 0.0)), straight("B", 3.0, (4.0, 0.0), 45.0)
    a = standing(shapely.Polygon([(0, 0), (4, 0), (4 - half, DEPTH), (0, DEPTH)]), 0.0, 2.4)
    b = standing(shapely.Polygon([(0, 0), (3, 0), (3, DEPTH), (half, DEPTH)]), 0.0, 2.4)
    walls = [replace(w, stud_layers=(replace(w.stud_layers[0], outline=m),)) for w, m in ((one, a), (other, b))]
    assert codes(*walls) == [[], []]
