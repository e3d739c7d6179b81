"""Ducts, pipes and boxes of another discipline's model: in their right place whatever its unit, deducted, listed."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from takeoff import take_off
from takeoff.model import Cavity, LayerTakeoff
from takeoff.result import Takeoff
from tests.ifc_builder import Builder

LENGTH, HEIGHT, DEPTH, T = 3.638, 2.4, 0.14, 0.038
BAY = (0.6 - T) * (HEIGHT - 2 * T) * DEPTH
PLACE = (7.0, -3.0, 0.5)
ANGLE = 30.0


def at(x: float, y: float, z: float) -> tuple[float, float, float]:
    """A point of the wall's own axes (y from its far face, as the body runs) in the model, m."""
    turn = math.radians(ANGLE)
    return (
        PLACE[0] + x * math.cos(turn) - y * math.sin(turn),
        PLACE[1] + x * math.sin(turn) + y * math.cos(turn),
        PLACE[2] + z,
    )


def house(tmp_path: Path, *, framed: bool, unit: str = "INCH", schema: str = "IFC4") -> Path:
    """One wall at an angle in an inch model, with six bays of 562 mm, modelled or laid out by rule."""
    made = Builder(schema, unit)
    wall = made.wall(
        "Wall", length=LENGTH, height=HEIGHT, thickness=DEPTH, layers=[("Timber studs", DEPTH)], at=PLACE, angle=ANGLE
    )
    if framed:
        for z in (0.0, HEIGHT - T):
            made.member(wall, size=(LENGTH, DEPTH, T), at=(0.0, 0.0, z), name="plate")
        for n in range(7):
            made.member(wall, size=(T, DEPTH, HEIGHT - 2 * T), at=(0.6 * n, 0.0, T), name="stud")
    return made.save(tmp_path / "house.ifc")


def box(made: Builder, size: tuple[float, float, float], corner: tuple[float, float, float], **what: Any) -> Any:
    """A box along the wall's axes; corner in the wall's own axes."""
    ifc_class = what.pop("ifc_class", "IfcDuctSegment")
    return made.element(ifc_class, [made.box(size)], at=at(*corner), angle=ANGLE, **what)


def pipe(made: Builder, radius: float, start: tuple[float, float, float], length: float) -> Any:
    """A round pipe that runs along the wall, as a circle swept along its axis."""
    profile = made.file.create_entity("IfcCircleProfileDef", ProfileType="AREA", Radius=radius / made.scale)
    solid = made.extruded_profile(profile, length)
    solid.Position = made.place((0.0, 0.0, 0.0), x=(0.0, 1.0, 0.0), z=(1.0, 0.0, 0.0))
    return made.element("IfcPipeSegment", [solid], name="Water", at=at(*start), angle=ANGLE)


def services(tmp_path: Path, unit: str = "MILLIMETRE", schema: str = "IFC4") -> Builder:
    return Builder(schema, unit)


def layer_of(result: Takeoff) -> LayerTakeoff:
    (row,) = result.results
    (layer,) = row.layers
    assert layer.balance.residual < 1e-6
    return layer


def cavities(layer: LayerTakeoff) -> list[Cavity]:
    return [cavity for cavity in layer.cavities if cavity.kind not in ("sliver", "opening_gap")]


def test_without_the_other_model_the_bays_are_whole(tmp_path: Path) -> None:
    layer = layer_of(take_off(house(tmp_path, framed=True)))
    assert [one.volume for one in cavities(layer)] == pytest.approx([BAY] * 6, rel=1e-6)


@pytest.mark.parametrize("unit", ["MILLIMETRE", "METRE", "FOOT"])
def test_a_duct_of_a_model_in_another_unit_takes_its_volume_where_it_stands(tmp_path: Path, unit: str) -> None:
    other = services(tmp_path, unit)
    duct = box(other, (0.2, 0.08, 0.5), (0.7, 0.02, 0.9), name="Supply air")
    result = take_off(house(tmp_path, framed=True), with_paths=[other.save(tmp_path / "air.ifc")])
    layer = layer_of(result)
    found = cavities(layer)
    taken = 0.2 * 0.08 * 0.5
    volumes = [one.volume for one in found]
    assert sorted(volumes) == pytest.approx([BAY - taken] + [BAY] * 5, rel=1e-6)
    (hit,) = [one for one in found if one.obstructions]
    assert hit.volume == pytest.approx(BAY - taken, rel=1e-6)
    assert hit.obstructions == (duct.GlobalId,)
    assert hit.obstruction_volumes == pytest.approx((taken,), rel=1e-6)
    row = result.tables()["cavities"]
    column = dict(zip(row.column("cavity_id"), row.column("obstruction_volume_m3"), strict=True))
    assert float(column[hit.cavity_id]) == pytest.approx(taken, rel=1e-6)
    assert {text for name, text in column.items() if name != hit.cavity_id} == {"0"}


def test_a_duct_in_a_laid_out_frame_is_deducted_as_well(tmp_path: Path) -> None:
    other = services(tmp_path)
    duct = box(other, (0.1, 0.08, 0.5), (0.45, 0.02, 0.9))
    bare = layer_of(take_off(house(tmp_path, framed=False)))
    layer = layer_of(take_off(house(tmp_path, framed=False), with_paths=[other.save(tmp_path / "air.ifc")]))
    difference = sum(one.volume for one in cavities(bare)) - sum(one.volume for one in cavities(layer))
    taken = [volume or 0.0 for one in cavities(layer) for volume in one.obstruction_volumes]
    assert difference == pytest.approx(sum(taken), rel=1e-6)
    assert 0.0 < difference <= 0.1 * 0.08 * 0.5 + 1e-9
    assert {name for one in cavities(layer) for name in one.obstructions} == {duct.GlobalId}


def test_a_box_from_face_to_face_and_stud_to_stud_parts_the_bay(tmp_path: Path) -> None:
    other = services(tmp_path)
    made = box(other, (0.6 - T, DEPTH, 0.3), (T, 0.0, 1.0), ifc_class="IfcElectricDistributionBoard", name="Board")
    layer = layer_of(take_off(house(tmp_path, framed=True), with_paths=[other.save(tmp_path / "power.ifc")]))
    found = cavities(layer)
    assert len(found) == 7
    parts = [one for one in found if one.obstructions]
    assert sorted(one.volume for one in parts) == pytest.approx(
        sorted([(0.6 - T) * (1.0 - T) * DEPTH, (0.6 - T) * (HEIGHT - T - 1.3) * DEPTH]), rel=1e-6
    )
    assert all(one.obstructions == (made.GlobalId,) for one in parts)
    assert all(one.obstruction_volumes == (None,) for one in parts)  # which half it took from cannot be told


def test_a_pipe_along_the_wall_is_listed_in_every_bay_that_it_passes(tmp_path: Path) -> None:
    other = services(tmp_path)
    radius = 0.02
    made = pipe(other, radius, (0.2, 0.07, 1.0), 1.5)  # from within the first bay to within the third
    layer = layer_of(take_off(house(tmp_path, framed=True), with_paths=[other.save(tmp_path / "water.ifc")]))
    found = cavities(layer)
    assert len(found) == 6
    hit = [one for one in found if one.obstructions]
    assert {one.obstructions for one in hit} == {(made.GlobalId,)}
    lengths = sorted([0.6 - 0.2, 0.6 - T, 1.7 - 1.2 - T])
    # Facets of a round section hold a little less than the circle.
    shares = sorted(one.obstruction_volumes[0] or 0.0 for one in hit)
    assert shares == pytest.approx([length * math.pi * radius**2 for length in lengths], rel=5e-3)
    assert shares[0] / lengths[0] == pytest.approx(shares[2] / lengths[2], rel=1e-5)
    assert sorted(BAY - one.volume for one in hit) == pytest.approx(shares, rel=1e-5)


def test_a_cable_takes_its_few_cubic_centimetres_and_parts_nothing(tmp_path: Path) -> None:
    other = services(tmp_path)
    box(other, (2.9, 0.004, 0.004), (0.3, 0.003, 1.2), ifc_class="IfcCableSegment")
    layer = layer_of(take_off(house(tmp_path, framed=True), with_paths=[other.save(tmp_path / "power.ifc")]))
    found = cavities(layer)
    assert len(found) == 6
    assert sum(volume or 0.0 for one in found for volume in one.obstruction_volumes) == pytest.approx(
        0.004**2 * (2.9 - 5 * T), rel=1e-6
    )


def test_what_stands_beside_the_wall_takes_nothing(tmp_path: Path) -> None:
    other = services(tmp_path)
    box(other, (0.2, 0.3, 0.5), (0.7, DEPTH + 0.002, 0.9))
    layer = layer_of(take_off(house(tmp_path, framed=True), with_paths=[other.save(tmp_path / "air.ifc")]))
    assert [one.volume for one in cavities(layer)] == pytest.approx([BAY] * 6, rel=1e-6)
    assert not any(one.obstructions for one in cavities(layer))


def test_a_hollow_duct_of_an_older_schema_counts_as_full(tmp_path: Path) -> None:
    other = services(tmp_path, "METRE", "IFC2X3")
    profile = other.file.create_entity(
        "IfcRectangleHollowProfileDef",
        ProfileType="AREA",
        Position=other.file.create_entity(
            "IfcAxis2Placement2D", Location=other.file.create_entity("IfcCartesianPoint", [0.0, 0.0])
        ),
        XDim=0.2,
        YDim=0.08,
        WallThickness=0.001,
    )
    other.element("IfcFlowSegment", [other.extruded_profile(profile, 3.0)], at=at(0.9, 0.07, -0.3), angle=ANGLE)
    layer = layer_of(take_off(house(tmp_path, framed=True), with_paths=[other.save(tmp_path / "air.ifc")]))
    (hit,) = [one for one in cavities(layer) if one.obstructions]
    assert hit.volume == pytest.approx(BAY - 0.2 * 0.08 * (HEIGHT - 2 * T), rel=1e-6)
    assert len(cavities(layer)) == 6


def test_two_other_models_are_taken_together_and_each_part_keeps_its_file(tmp_path: Path) -> None:
    air, power = services(tmp_path), services(tmp_path, "METRE")
    box(air, (0.1, 0.05, 0.4), (0.7, 0.02, 0.5))
    # Same numbering of ids in both files: the second duct needs another one.
    power.element("IfcWall")
    box(power, (0.1, 0.05, 0.4), (1.3, 0.02, 0.5), ifc_class="IfcBuildingElementProxy")
    paths = [air.save(tmp_path / "air.ifc"), power.save(tmp_path / "power.ifc")]
    result = take_off(house(tmp_path, framed=True), with_paths=paths)
    layer = layer_of(result)
    hit = [one for one in cavities(layer) if one.obstructions]
    assert [one.volume for one in hit] == pytest.approx([BAY - 0.1 * 0.05 * 0.4] * 2, rel=1e-6)
    assert len({one.obstructions for one in hit}) == 2
