"""Parts that are the bodies of whole layers, as exporters give them for layered walls."""

from __future__ import annotations

from dataclasses import replace

import pytest

from takeoff.building import ModelPart, ModelWall
from takeoff.walls.layer_parts import with_layer_parts_told
from tests.wall_builder import BOARD, HEIGHT, LAYERS, LENGTH, STUDS, THICKNESS, layer_set, model, opening, part, wall


def slab(name: str, near: float, far: float) -> ModelPart:
    return part(name, (0.0, near, 0.0, LENGTH, far, HEIGHT), ifc_class="IfcBuildingElementPart")


def slabs() -> tuple[ModelPart, ...]:
    """The plain wall's layers as parts."""
    near, made = 0.0, []
    for name, thickness in LAYERS:
        made.append(slab(name, near, near + thickness))
        near += thickness
    return tuple(made)


def frame() -> tuple[ModelPart, ...]:
    """Plates and studs in the plain wall's stud layer."""
    y0, y1 = BOARD, BOARD + STUDS
    return (
        part("PLATE-1", (0.0, y0, 0.0, LENGTH, y1, 0.04)),
        part("PLATE-2", (0.0, y0, 2.36, LENGTH, y1, HEIGHT)),
        *(part(f"STUD-{n}", (0.6 * n, y0, 0.04, 0.6 * n + 0.04, y1, 2.36)) for n in range(7)),
    )


def told(one: ModelWall) -> tuple[ModelWall, list[str]]:
    result = with_layer_parts_told(model(one))
    return result.walls[0], [finding.code for finding in result.findings]


def names(one: ModelWall) -> list[str]:
    return [each.global_id for each in one.parts]


def test_the_stud_layers_own_body_is_no_member():
    one, codes = told(wall(parts=slabs()))
    assert "Wood studs" not in names(one)
    assert codes == ["part-is-whole-layer"]
    assert one.body


def test_a_wall_without_a_body_has_its_layers_bodies_for_one():
    one, codes = told(wall(body=(), parts=slabs()))
    assert len(one.body) == 3
    assert one.parts == ()
    assert one.layers is not None
    assert codes == ["part-is-whole-layer"]


def test_a_wall_without_layers_has_those_that_its_parts_show():
    one, _ = told(wall(body=(), layers=None, parts=slabs()))
    assert one.layers is not None
    assert [(each.material, pytest.approx(each.thickness)) for each in one.layers.layers] == list(LAYERS)
    assert one.layers.direction == pytest.approx([0.0, 1.0, 0.0])


def test_a_body_without_layers_has_those_that_its_parts_show_too():
    given = wall(layers=None, parts=slabs())
    one, codes = told(given)
    assert one.layers is not None
    assert [(each.material, pytest.approx(each.thickness)) for each in one.layers.layers] == list(LAYERS)
    assert (one.body, one.parts, codes) == (given.body, (), ["part-is-whole-layer"])


def test_layers_begin_where_the_first_part_does():
    one, _ = told(wall(layers=None, parts=slabs()[1:]))
    assert one.layers is not None
    assert one.layers.offset == pytest.approx(BOARD)


def test_a_gap_between_layers_is_a_layer_of_air():
    apart = (slab("Brick", 0.0, 0.1), slab("Wood studs", 0.15, 0.29))
    one, _ = told(wall(body=(), layers=None, parts=apart))
    assert one.layers is not None
    assert [(each.material, pytest.approx(each.thickness)) for each in one.layers.layers] == [
        ("Brick", 0.1),
        ("air", 0.05),
        ("Wood studs", 0.14),
    ]


def test_layers_with_openings_cut_out_are_layers_too():
    around = part(
        "Wood studs",
        (0.0, BOARD, 0.0, 1.0, 0.1525, HEIGHT),
        (3.0, BOARD, 0.0, LENGTH, 0.1525, HEIGHT),
        (1.0, BOARD, 2.1, 3.0, 0.1525, HEIGHT),
        ifc_class="IfcBuildingElementPart",
    )
    door = opening((1.0, -1.0, 0.0, 3.0, 1.0, 2.1), filling="IfcDoor")
    one, codes = told(wall(parts=(around,), openings=(door,)))
    assert (one.parts, codes) == ((), ["part-is-whole-layer"])


def test_a_frame_stays_a_frame_however_it_is_drawn():
    one_element = replace(part("FRAME"), solids=tuple(solid for each in frame() for solid in each.solids))
    for parts in (frame(), (one_element,)):
        for body in (wall().body, ()):
            one, codes = told(wall(parts=parts, body=body))
            assert (one.parts, codes) == (parts, [])


def test_sheets_on_a_frame_are_boards_and_no_layers():
    sheets = (slab("Gypsum board", 0.0, BOARD), slab("OSB", BOARD + STUDS, THICKNESS))
    one, codes = told(wall(body=(), layers=None, parts=(*frame(), *sheets)))
    assert codes == []
    assert one.body == ()


def test_a_thick_board_on_a_frame_without_a_body_is_set_aside():
    board = slab("Wood fibre board", BOARD + STUDS, BOARD + STUDS + 0.06)
    one, codes = told(wall(body=(), layers=None, parts=(*frame(), board)))
    assert codes == ["part-is-whole-layer"]
    assert one.body == ()
    assert names(one) == names(wall(parts=frame()))


def test_walls_without_parts_are_handed_on_as_they_are():
    plain = model(wall(), wall(global_id="OTHER", layers=layer_set()))
    assert with_layer_parts_told(plain) is plain


def test_a_wall_that_cannot_be_read_is_left_alone():
    broken = wall(parts=slabs(), problem="its body is broken")
    assert told(broken) == (broken, [])
    assert told(replace(broken, problem="", body=(), parts=(replace(slabs()[0], solids=()),)))[1] == []
