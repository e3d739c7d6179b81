"""The whole road on our own models, against the numbers worked by hand in `sample_facts`.

Origin of the models: sample_models/README.md (our own, invented scenario).

x of the facts begins at the left end of the bottom plate. A stud layer's x = 0 is the left end of its own outline. They
are the same place but for the studio's east wall: it has no body, so its outline is that of its frame, and that
begins with the cap plate, which runs 5.5 in past the bottom plate to lap over the front wall.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from takeoff import Takeoff, take_off
from takeoff.model import Cavity, CavityKind, Method, Status, WallTakeoff
from tests.end_to_end import sample_facts as facts

SAMPLES = Path(__file__).resolve().parents[2] / "sample_models"
NOT_CAVITIES = (CavityKind.SLIVER, CavityKind.OPENING_GAP)
LAP = {"East wall": 5.5 * facts.IN}
"""m from a wall's own x = 0 to the left end of its bottom plate."""
METHODS = {
    "closed pocket in the window header": Method.BEFORE_SHEATHING,
    "narrow bay beside the door": Method.BLOW,
    "between the corner studs": Method.BATT,
}


@functools.cache
def taken(name: str) -> Takeoff:
    return take_off(SAMPLES / f"{name}.ifc")


def wall_of(model: str, name: str) -> WallTakeoff:
    return next(result for result in taken(model).results if result.wall.name == name)


def cavities_of(result: WallTakeoff) -> list[Cavity]:
    return [cavity for layer in result.layers for cavity in layer.cavities if cavity.kind not in NOT_CAVITIES]


def nearest(cavities: Sequence[Cavity], box: Sequence[float]) -> Cavity:
    """The cavity whose box (x_min, z_min, x_max, z_max) is nearest to a given one, by its worst side."""
    return min(cavities, key=lambda cavity: float(np.abs(np.subtract(cavity.outline.bounds, box)).max()))


# ---------------------------------------------------------------- garden studio


@pytest.mark.parametrize("fact", facts.STUDIO_CAVITIES, ids=lambda fact: f"{fact.wall}: {fact.what}")
def test_each_cavity_of_the_studio_has_its_place_and_volume(fact: facts.CavityFact):
    shift = LAP.get(fact.wall, 0.0)
    box = (fact.x_min + shift, fact.z_min, fact.x_max + shift, fact.z_max)
    cavity = nearest(cavities_of(wall_of("garden_studio", fact.wall)), box)
    assert cavity.outline.bounds == pytest.approx(box, abs=1e-6)
    assert cavity.volume == pytest.approx(fact.volume, rel=fact.relative_tolerance)
    if fact.what in METHODS:
        assert cavity.method is METHODS[fact.what]


def test_the_studio_has_these_cavities_and_no_others_but_wedges_in_the_corner_notches():
    notch = 117.6 * facts.IN
    for name, count in facts.STUDIO_CAVITY_COUNTS.items():
        cavities = cavities_of(wall_of("garden_studio", name))
        wedges = [cavity for cavity in cavities if cavity.outline.bounds[1] > notch]
        sealed = [cavity for cavity in cavities if cavity.method is Method.SEAL and cavity not in wedges]
        assert len(cavities) - len(wedges) - len(sealed) == count, name
        assert all(cavity.volume < facts.CORNER_NOTCH for cavity in wedges)
        assert len(sealed) == (name == "West wall")


def test_the_quarter_inch_gap_of_the_west_wall_is_sealed_and_not_filled():
    fact = facts.WEST_SLIVER
    (gap,) = [cavity for cavity in cavities_of(wall_of("garden_studio", fact.wall)) if cavity.method is Method.SEAL]
    assert gap.outline.bounds == pytest.approx((fact.x_min, fact.z_min, fact.x_max, fact.z_max), abs=1e-6)
    assert gap.volume == pytest.approx(fact.volume, rel=1e-9)
    # a quarter inch is 6.35 mm, wider than a sliver, so it is a cavity of its own
    assert gap.kind is CavityKind.NARROW


def test_the_doors_and_windows_of_the_studio_are_the_gaps_of_its_frame():
    openings = {
        name: sorted(
            tuple(np.round(np.divide(opening.outline.bounds, facts.IN), 6).tolist())
            for layer in wall_of("garden_studio", name).layers
            for opening in layer.frame.openings
        )
        for name in facts.STUDIO_CAVITY_COUNTS
    }
    # the back wall's window has no opening element: it is known by its header, jacks and sill
    assert openings["Back wall"] == [(192 - 126.25, 42.5, 192 - 66.25, 82.5)]
    assert [evidence.kind for evidence in back_gaps()] == [CavityKind.OPENING_GAP]
    assert len(openings["Front wall"]) == 2
    assert openings["East wall"] == openings["West wall"] == []


def back_gaps() -> list[Cavity]:
    layers = wall_of("garden_studio", "Back wall").layers
    return [cavity for layer in layers for cavity in layer.cavities if cavity.kind is CavityKind.OPENING_GAP]


def test_a_plain_bay_stands_where_it_should_in_the_world():
    plain = next(fact for fact in facts.BACK_CAVITIES if fact.what == "plain bay 16 to 32")
    cavity = nearest(
        cavities_of(wall_of("garden_studio", "Back wall")), (plain.x_min, plain.z_min, plain.x_max, plain.z_max)
    )
    assert cavity.centroid == pytest.approx(facts.PLAIN_BAY_CENTRE, abs=1e-6)


def test_pipes_and_a_box_are_named_at_the_bays_that_they_take_room_from():
    for fact in facts.BACK_PIPED_CAVITIES:
        cavity = nearest(
            cavities_of(wall_of("garden_studio", fact.wall)), (fact.x_min, fact.z_min, fact.x_max, fact.z_max)
        )
        assert cavity.obstructions, fact.what


# ---------------------------------------------------------------- steel walls


@pytest.mark.parametrize(("name", "volumes"), [("Wall A", facts.WALL_A_VOLUMES), ("Wall B", facts.WALL_B_VOLUMES)])
def test_steel_walls_have_the_cavities_worked_by_hand(name: str, volumes: dict[str, float]):
    found = sorted(cavity.volume for cavity in cavities_of(wall_of("steel_wall", name)))
    assert found == pytest.approx(sorted(volumes.values()), rel=1e-9)


def test_the_hollows_of_boxed_steel_are_closed_pockets():
    pockets = [
        cavity.volume
        for cavity in cavities_of(wall_of("steel_wall", "Wall A"))
        if cavity.kind is CavityKind.CLOSED_POCKET
    ]
    wanted = [volume for what, volume in facts.WALL_A_VOLUMES.items() if what.startswith("closed pocket")]
    assert sorted(pockets) == pytest.approx(sorted(wanted), rel=1e-9)


# ---------------------------------------------------------------- two-storey house


@pytest.mark.parametrize("name", facts.HOUSE_WALLS)
def test_each_wall_of_the_house_has_its_stud_layer_and_openings(name: str):
    fact, result = facts.HOUSE_WALLS[name], wall_of("two_storey_house", name)
    assert result.status is Status.TAKEN_OFF
    assert result.wall.external is fact.external
    (layer,) = result.layers
    assert layer.frame.layer.depth == pytest.approx(fact.stud_depth, abs=1e-9)
    assert layer.balance.gross == pytest.approx(fact.stud_layer_volume, rel=1e-9)
    assert layer.balance.openings == pytest.approx(fact.opening_area * fact.stud_depth + fact.recess_volume, rel=1e-9)
    rest = layer.balance.framing + layer.balance.cavities + layer.balance.slivers
    assert rest == pytest.approx(fact.stud_layer_volume - layer.balance.openings, rel=1e-9)


@pytest.mark.parametrize("name", facts.HOUSE_WALLS)
def test_each_wall_of_the_house_agrees_with_the_quantities_that_the_model_carries(name: str):
    fact, result = facts.HOUSE_WALLS[name], wall_of("two_storey_house", name)
    stated = {quantity.name: quantity.value for quantity in result.wall.quantities}
    # 1e-7: the middle plane is looked at a tenth of a micrometre beside it, and mitred ends are not square to it
    assert result.wall.gross_area == pytest.approx(stated["GrossSideArea"], rel=1e-7)
    assert result.wall.gross_area == pytest.approx(fact.declared_gross_area, rel=1e-7)
    table = taken("two_storey_house").tables()["walls"]
    row = list(table.column("name")).index(name)
    assert abs(float(table.column("gross_area_difference_m2")[row])) < 1e-5


@pytest.mark.parametrize("name", facts.HOUSE_ROOMS)
def test_outside_walls_of_the_house_know_the_rooms_behind_them(name: str):
    (layer,) = wall_of("two_storey_house", name).layers
    # our labels are number and name, such as '0.1 Living room and kitchen'
    rooms = {room.split(" ", 1)[1] for room in layer.frame.layer.rooms}
    assert rooms == set(facts.HOUSE_ROOMS[name])
    assert {cavity.room.split(" ", 1)[1] for cavity in layer.cavities} <= rooms


def test_wall_axes_of_the_house_begin_at_the_fill_face_and_are_seen_from_inside():
    axes = wall_of("two_storey_house", "South 0").layers[0].frame.layer.axes
    # fill face 22 + 38 + 12 + 140 = 212 mm behind the outside; seen from inside the wall begins in the east, where
    # the mitre leaves the studs' far face at 9.0 - 0.072
    assert axes.origin == pytest.approx(np.array(facts.house_world(8.928, 0.212, 0.0)), abs=1e-9)
    assert axes.directions == pytest.approx(np.array([[-0.8, -0.6, 0.0], [0.6, -0.8, 0.0], [0.0, 0.0, 1.0]]), abs=1e-9)


def test_the_recess_of_the_partition_takes_only_its_own_depth():
    (layer,) = wall_of("two_storey_house", "Partition 0").layers
    (recess,) = [opening for opening in layer.frame.openings if opening.solid is not None]
    assert recess.outline.area == pytest.approx(0.4 * 0.6, rel=1e-9)


@pytest.mark.parametrize("name", ["two_storey_house", "garden_studio", "steel_wall"])
def test_every_wall_of_the_sample_models_is_taken_off_and_balances(name: str):
    for result in taken(name).results:
        assert result.status is Status.TAKEN_OFF, result.reason
        for layer in result.layers:
            assert layer.balance.residual <= 1e-9
            assert sum(c.volume for c in layer.cavities if c.kind not in NOT_CAVITIES) == pytest.approx(
                layer.balance.cavities, rel=1e-9
            )
