"""A wall understood: framed or not, its stud layers, and the reason for whatever it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from geometry.solids import bounds, silhouette
from takeoff.building import ModelLayer, ModelWall
from takeoff.job import Job, default_job, load_job
from takeoff.model import Status, Wall
from takeoff.walls import understand
from tests.wall_builder import (
    BOARD,
    HEIGHT,
    LENGTH,
    PLAIN,
    STUDS,
    THICKNESS,
    box,
    layer_set,
    opening,
    part,
    room,
    rotation,
    site,
    turned,
    wall,
)


def understood(one: ModelWall, *others: ModelWall, job: Job | None = None, **changes: object) -> Wall:
    return understand(one, site(one, *others, job=job, **changes))


def job_of(tmp_path, text: str) -> Job:
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return load_job(path)


def codes(found: Wall) -> list[str]:
    return [finding.code for finding in found.findings]


def frame(near: float = BOARD, far: float = BOARD + STUDS, wall_id: str = "WALL"):
    """Plates and seven studs in the plain wall."""
    return (
        part("PLATE-1", (0.0, near, 0.0, LENGTH, far, 0.04), wall_id=wall_id),
        part("PLATE-2", (0.0, near, 2.36, LENGTH, far, HEIGHT), wall_id=wall_id),
        *(part(f"S{n}", (0.66 * n, near, 0.04, 0.66 * n + 0.04, far, 2.36), wall_id=wall_id) for n in range(7)),
    )


# ---------------------------------------------------------------- a plain wall


def test_a_plain_layered_wall_has_one_stud_layer():
    found = understood(wall())
    assert (found.status, found.reason, found.findings) == (Status.TAKEN_OFF, "", ())
    (layer,) = found.stud_layers
    assert (layer.key, layer.depth) == ("WALL", pytest.approx(STUDS))
    assert silhouette(layer.outline).area == pytest.approx(LENGTH * HEIGHT)
    assert layer.axes.origin == pytest.approx([0.0, BOARD, 0.0])
    assert (found.length, found.height) == pytest.approx((LENGTH, HEIGHT))
    assert found.gross_area == pytest.approx(LENGTH * HEIGHT)


@pytest.mark.parametrize("degrees", [0.0, 33.3, 90.0, 180.0, 251.0])
@pytest.mark.parametrize("at", [(0.0, 0.0, 0.0), (500e3, -700e3, -4.5)])
def test_a_wall_is_the_same_wherever_it_stands_and_however_it_is_turned(degrees, at):
    placement = np.eye(4)
    placement[:3, :3], placement[:3, 3] = rotation(degrees), at
    direction = rotation(degrees)[:, 1]
    hole = opening((1.0, -1.0, 0.9, 2.0, 1.0, 2.1))
    hole = replace(hole, solids=(turned(hole.solids[0], degrees, at),))
    placed = wall(
        turned(box(PLAIN), degrees, at), placement=placement, layers=layer_set(direction=direction), openings=(hole,)
    )
    (layer,) = understood(placed).stud_layers
    assert bounds(layer.outline) == pytest.approx(np.array([[0, 0, 0], [LENGTH, STUDS, HEIGHT]]), abs=1e-8)
    assert layer.openings[0].outline.bounds == pytest.approx((1.0, 0.9, 2.0, 2.1), abs=1e-8)


def test_a_wall_filled_from_its_far_side_is_seen_from_there():
    layers = (("OSB sheathing", 0.012), ("Wood studs", STUDS), ("Gypsum board", BOARD))
    hole = opening((1.0, -1.0, 0.9, 2.0, 1.0, 2.1))
    (layer,) = understood(wall(layers=layer_set(layers), openings=(hole,))).stud_layers
    assert layer.axes.directions[1] == pytest.approx([0.0, -1.0, 0.0])
    assert layer.axes.origin == pytest.approx([LENGTH, 0.012 + STUDS, 0.0])
    # from 1 to 2 m seen from the other side of a wall 4 m long
    assert layer.openings[0].outline.bounds == pytest.approx((2.0, 0.9, 3.0, 2.1))


def test_two_stud_layers_have_keys_of_their_own():
    layers = (("Wood studs", 0.09), ("Concrete block", 0.1), ("Wood studs", 0.09))
    thick = wall(box((0.0, 0.0, 0.0, 4.0, 0.28, 2.4)), layers=layer_set(layers))
    found = understood(thick)
    assert [layer.key for layer in found.stud_layers] == ["WALL", "WALL#2"]
    assert [layer.axes.origin[1] for layer in found.stud_layers] == pytest.approx([0.0, 0.28])
    assert codes(found) == []


def test_air_between_two_rows_of_studs_is_told():
    layers = (("Gypsum board", 0.0125), ("Wood studs", 0.09), ("Air gap", 0.025), ("Wood studs", 0.09))
    found = understood(wall(box((0, 0, 0, 4, 0.2175, 2.4)), layers=layer_set(layers)))
    (finding,) = found.findings
    assert (finding.code, finding.measured) == ("space-between-studs", pytest.approx(0.025))
    assert "205 mm" in finding.message


def test_the_gross_area_is_that_of_the_wall_without_its_openings():
    hole = opening((1.0, -1.0, 0.9, 2.0, 1.0, 2.1), filling="IfcWindow")
    pieces = (
        (0, 0, 0, 1, THICKNESS, 2.4),
        (2, 0, 0, 4, THICKNESS, 2.4),
        (1, 0, 0, 2, THICKNESS, 0.9),
        (1, 0, 2.1, 2, THICKNESS, 2.4),
    )
    cut = wall(*map(box, pieces), openings=(hole,))
    for one in (wall(openings=(hole,)), cut):
        found = understood(one)
        assert found.gross_area == pytest.approx(LENGTH * HEIGHT)
        assert silhouette(found.stud_layers[0].outline).area == pytest.approx(LENGTH * HEIGHT)


def test_cladding_that_runs_on_below_and_beyond_does_not_move_the_zero_of_the_studs():
    solids = (
        box((0.0, 0.0, 0.0, 4.0, BOARD + STUDS, 2.4)),
        box((-0.3, BOARD + STUDS, -0.4, 4.3, THICKNESS, 2.9)),
    )
    found = understood(wall(*solids))
    (layer,) = found.stud_layers
    assert layer.axes.origin == pytest.approx([0.0, BOARD, 0.0])
    assert bounds(layer.outline)[0] == pytest.approx([0.0, 0.0, 0.0])
    assert (found.length, found.height) == pytest.approx((4.6, 3.3)), "the whole wall's"


# ---------------------------------------------------------------- frames


def test_members_show_where_the_studs_are_when_no_layer_does():
    found = understood(wall(layers=None, parts=frame()))
    (layer,) = found.stud_layers
    assert layer.depth == pytest.approx(STUDS)
    assert layer.axes.origin == pytest.approx([0.0, BOARD, 0.0])
    assert len(layer.parts) == 9


def test_members_go_before_the_thickness_of_their_layer():
    found = understood(wall(parts=frame(BOARD, BOARD + 0.12)))
    assert found.stud_layers[0].depth == pytest.approx(0.12)
    (finding,) = found.findings
    assert (finding.code, finding.measured, finding.limit) == (
        "studs-not-as-deep-as-layer",
        pytest.approx(0.12),
        pytest.approx(STUDS),
    )


def test_a_wall_without_a_body_is_as_large_as_its_frame():
    found = understood(wall(body=(), layers=None, parts=frame()))
    assert found.gross_area == pytest.approx(LENGTH * HEIGHT)
    assert (found.length, found.height) == pytest.approx((LENGTH, HEIGHT))


def test_loose_members_inside_a_wall_are_its_frame():
    loose = tuple(replace(each, wall_id="") for each in frame())
    found = understood(wall(layers=None), loose_parts=loose)
    assert len(found.stud_layers[0].parts) == 9


def test_members_of_another_trade_do_not_make_a_wall_framed():
    pipes = tuple(replace(each, wall_id="", source="pipes.ifc") for each in frame())
    found = understood(wall(layers=None), loose_parts=pipes)
    assert found.status is Status.LEFT_OUT


def test_the_job_file_can_forbid_to_read_the_frame(tmp_path):
    job = job_of(tmp_path, '[[wall]]\nname = "Plain"\nread_frame = false\n')
    found = understood(wall(layers=None, parts=frame()), job=job)
    assert found.status is Status.LEFT_OUT


def test_a_neighbours_member_in_a_notch_is_not_in_this_layer():
    # the frame is stepped: 4 m long at the foot, 2 m above 1.2 m; the other wall's stud stands in the step
    stepped = (
        part("PLATE-1", (0.0, 0.0, 0.0, 4.0, 0.1, 0.04)),
        part("PLATE-2", (2.0, 0.0, 1.2, 4.0, 0.1, 1.24)),
        part("PLATE-3", (0.0, 0.0, 2.36, 2.04, 0.1, 2.4)),
        *(part(f"S{n}", (x, 0.0, 0.04, x + 0.04, 0.1, top)) for n, (x, top) in enumerate(
            [(0.0, 2.36), (0.6, 2.36), (1.2, 2.36), (2.0, 2.36), (2.6, 1.2), (3.2, 1.2), (3.96, 1.2)]
        )),
    )  # fmt: skip
    other = wall(
        body=(),
        layers=None,
        global_id="OTHER",
        parts=(part("THEIRS", (3.0, 0.0, 1.5, 3.04, 0.1, 2.4), wall_id="OTHER"),),
    )
    found = understood(wall(body=(), layers=None, parts=stepped), other)
    assert "THEIRS" not in [each.global_id for each in found.stud_layers[0].parts]


# ---------------------------------------------------------------- the job file


def test_the_job_file_states_a_stud_depth_that_the_model_does_not_have(tmp_path):
    job = job_of(tmp_path, '[[wall]]\nname = "Plain"\nstud_depth = "89 mm"\nstud_offset = "20 mm"\n')
    (layer,) = understood(wall(layers=None), job=job).stud_layers
    assert layer.depth == pytest.approx(0.089)
    assert layer.axes.origin[1] == pytest.approx(0.02)


@pytest.mark.parametrize(("side", "face"), [("first_layer", BOARD), ("last_layer", BOARD + STUDS)])
def test_a_stated_stud_depth_goes_before_the_layer_and_keeps_its_fill_face(tmp_path, side, face):
    job = job_of(tmp_path, f'[[wall]]\nname = "Plain"\nstud_depth = "89 mm"\nfill_side = "{side}"\n')
    found = understood(wall(), job=job)
    (layer,) = found.stud_layers
    assert layer.depth == pytest.approx(0.089)
    assert layer.axes.origin[1] == pytest.approx(face)
    assert codes(found) == []


def test_two_rows_of_studs_become_one_where_the_job_file_says_so(tmp_path):
    layers = (("Gypsum board", 0.0125), ("Wood studs", 0.09), ("Air gap", 0.025), ("Wood studs", 0.09))
    job = job_of(tmp_path, '[[wall]]\nname = "Plain"\nstud_depth = "205 mm"\nframing = "double-stud"\n')
    found = understood(wall(box((0, 0, 0, 4, 0.2175, 2.4)), layers=layer_set(layers)), job=job)
    assert [layer.depth for layer in found.stud_layers] == [pytest.approx(0.205)]
    assert codes(found) == []


def test_a_stated_depth_beyond_the_wall_is_cut_with_a_warning(tmp_path):
    job = job_of(tmp_path, '[[wall]]\nname = "Plain"\nstud_depth = "1 m"\n')
    found = understood(wall(), job=job)
    assert found.stud_layers[0].depth == pytest.approx(THICKNESS)
    assert codes(found) == ["stud-depth-beyond-wall"]


def test_the_job_file_leaves_a_wall_out_with_its_reason(tmp_path):
    found = understood(wall(), job=job_of(tmp_path, '[[wall]]\nname = "Plain"\nleave_out = "by others"\n'))
    assert (found.status, found.reason) == (Status.LEFT_OUT, "the job file leaves it out: by others")
    assert found.gross_area == pytest.approx(LENGTH * HEIGHT)


# ---------------------------------------------------------------- walls that are not taken off


def test_a_wall_that_the_reader_could_not_read_fails_with_its_reason():
    found = understood(wall(problem="its body is broken; model it again"))
    assert (found.status, found.reason) == (Status.FAILED, "its body is broken; model it again")


def test_a_wall_that_only_groups_others_is_left_out_and_no_fault():
    found = understood(wall(body=(), layers=None, problem="it only groups", only_groups=True))
    assert found.status is Status.LEFT_OUT


def test_a_wall_with_nothing_to_measure_fails():
    found = understood(wall(body=()))
    assert found.status is Status.FAILED
    assert "neither a body nor parts" in found.reason


def test_a_mere_surface_fails():
    found = understood(wall(box((0.0, 0.05, 0.0, 4.0, 0.05, 2.4))))
    assert found.status is Status.FAILED
    assert "encloses no space" in found.reason


@pytest.mark.parametrize("changes", [{"ifc_class": "IfcCurtainWall"}, {"predefined_type": "CURTAIN_WALL"}])
def test_a_curtain_wall_has_no_studs(changes):
    found = understood(wall(**changes))
    assert (found.status, found.reason) == (Status.LEFT_OUT, "curtain wall: it has no studs")


def test_a_solid_wall_is_left_out_with_its_layers():
    found = understood(wall(layers=layer_set((("Brick", 0.1645),))))
    assert found.status is Status.LEFT_OUT
    assert found.reason == "no stud layer among its layers: Brick 164 mm"
    assert found.gross_area == pytest.approx(LENGTH * HEIGHT)


def test_a_wall_with_materials_and_no_layers_is_left_out_with_them():
    found = understood(wall(layers=None, materials=(ModelLayer("Brick", "", 0.0), ModelLayer("Plaster", "", 0.0))))
    assert "materials without layers (Brick, Plaster)" in found.reason
    assert "neither layers nor a frame" in understood(wall(layers=None)).reason


def test_rooms_on_the_fill_side_are_named():
    rooms = (room("Kitchen", (0.0, -3.0, 0.0, 4.0, 0.0, 2.4)),)
    found = understood(wall(), spaces=rooms)
    assert found.stud_layers[0].rooms == ("Kitchen",)
    assert (found.external, found.insulated) == (True, True)


def test_an_inside_wall_is_not_insulated_by_default():
    found = understood(wall(external=False), job=default_job())
    assert (found.external, found.insulated) == (False, False)
    assert found.insulated_reason
