"""The sample models themselves: valid, reproducible, and drawn as their facts say. Nothing of the program runs here."""

from __future__ import annotations

import functools
import itertools
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.element
import ifcopenshell.util.unit
import ifcopenshell.validate
import manifold3d
import numpy as np
import pytest

from tests.end_to_end import sample_facts as facts

FOLDER = Path(__file__).resolve().parents[2] / "sample_models"
NAMES = ("two_storey_house.ifc", "garden_studio.ifc", "steel_wall.ifc")
INCH = 0.0254


@functools.cache
def opened(name: str) -> ifcopenshell.file:
    return ifcopenshell.open(FOLDER / name)


@functools.cache
def shape_of(name: str, step_id: int, *, openings_cut: bool = True) -> manifold3d.Manifold:
    """Closed solid of an element, m, in its own axes: for every member of these models those of its wall.

    Double precision, which the booleans that trimesh offers do not keep.
    """
    settings = ifcopenshell.geom.settings()
    settings.set("disable-opening-subtractions", not openings_cut)
    shape: Any = ifcopenshell.geom.create_shape(settings, opened(name).by_id(step_id))
    geometry = shape.geometry
    corners, triangles = np.array(geometry.verts).reshape(-1, 3), np.array(geometry.faces).reshape(-1, 3)
    mesh = manifold3d.Mesh64(corners, triangles.astype(np.uint64))
    mesh.merge()
    solid = manifold3d.Manifold(mesh)
    assert solid.status() == manifold3d.Error.NoError, f"{name} #{step_id}"
    return solid


def walls_of(name: str) -> dict[str, ifcopenshell.entity_instance]:
    return {wall.Name: wall for wall in opened(name).by_type("IfcWall")}


def has_body(wall: ifcopenshell.entity_instance) -> bool:
    return any(part.RepresentationIdentifier == "Body" for part in wall.Representation.Representations)


def members_of(name: str, wall: ifcopenshell.entity_instance) -> list[ifcopenshell.entity_instance]:
    """Members placed by the wall, whether it aggregates them or not."""
    members = [*opened(name).by_type("IfcMember"), *opened(name).by_type("IfcBeam"), *opened(name).by_type("IfcPlate")]
    return [member for member in members if member.ObjectPlacement.PlacementRelTo == wall.ObjectPlacement]


def grown(solid: manifold3d.Manifold, margin: float = 1e-6) -> manifold3d.Manifold:
    """The solid stretched by a micrometre each way, so that members that touch also close what they bound."""
    low, high = np.array(solid.bounding_box()).reshape(2, 3)
    middle = (low + high) / 2
    return solid.translate(-middle).scale(1.0 + 2.0 * margin / (high - low)).translate(middle)


def voids_in(name: str, wall_name: str, low: Sequence[float], high: Sequence[float]) -> list[float]:
    """Volumes, m3, biggest first, of the connected voids that members leave in a box (wall's drawing axes, in)."""
    solids = [grown(shape_of(name, member.id())) for member in members_of(name, walls_of(name)[wall_name])]
    size = (np.array(high) - np.array(low)) * INCH
    region = manifold3d.Manifold.cube(size).translate(np.array(low) * INCH)
    frame = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    return sorted((part.volume() for part in (region - frame).decompose()), reverse=True)


@pytest.mark.parametrize("name", NAMES)
def test_model_is_valid_against_its_schema(name: str) -> None:
    log = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(opened(name), log)
    assert log.statements == []


def test_running_the_script_again_gives_the_committed_bytes(tmp_path: Path) -> None:
    script = FOLDER / "make_sample_models.py"
    subprocess.run([sys.executable, str(script), str(tmp_path)], check=True, capture_output=True, cwd=tmp_path)
    assert {path.name for path in tmp_path.glob("*.ifc")} == set(NAMES)
    for name in NAMES:
        assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes(), name


@pytest.mark.parametrize("name", NAMES)
def test_model_says_that_it_is_invented(name: str) -> None:
    text = (FOLDER / name).read_text(encoding="ascii")
    header, _, data = text.partition("DATA;")
    assert "Invented test model" in header
    assert re.search(r"IFCPROJECT\([^\n]*Invented test model", data)
    assert name in (FOLDER / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "schema", "metres"),
    [("two_storey_house.ifc", "IFC4", 0.001), ("garden_studio.ifc", "IFC4", 0.0254), ("steel_wall.ifc", "IFC2X3", 1.0)],
)
def test_each_model_has_another_schema_or_unit(name: str, schema: str, metres: float) -> None:
    assert opened(name).schema == schema
    assert ifcopenshell.util.unit.calculate_unit_scale(opened(name)) == pytest.approx(metres, rel=1e-15)


@pytest.mark.parametrize(
    ("name", "cubic"), [("two_storey_house.ifc", 1.0), ("steel_wall.ifc", 1.0), ("garden_studio.ifc", 0.3048**3)]
)
def test_declared_volumes_are_those_of_the_bodies(name: str, cubic: float) -> None:
    compared = 0
    for wall in walls_of(name).values():
        sets = ifcopenshell.util.element.get_psets(wall, qtos_only=True)
        declared = next(iter(sets.values()))
        if not has_body(wall):
            continue
        gross, net = (shape_of(name, wall.id(), openings_cut=cut).volume() for cut in (False, True))
        assert declared["GrossVolume"] * cubic == pytest.approx(gross, rel=1e-8), wall.Name
        assert declared["NetVolume"] * cubic == pytest.approx(net, rel=1e-8), wall.Name
        compared += 1
    assert compared == {"two_storey_house.ifc": 12, "steel_wall.ifc": 2, "garden_studio.ifc": 2}[name]


def test_declared_areas_of_the_house_are_those_worked_by_hand() -> None:
    for name, wall in walls_of("two_storey_house.ifc").items():
        declared = ifcopenshell.util.element.get_psets(wall, qtos_only=True)["Qto_WallBaseQuantities"]
        fact = facts.HOUSE_WALLS[name]
        assert declared["GrossSideArea"] == pytest.approx(fact.declared_gross_area, rel=1e-8), name
        net = fact.declared_gross_area - fact.opening_area
        assert declared["NetSideArea"] == pytest.approx(net, rel=1e-8), name


@pytest.mark.parametrize("name", ["garden_studio.ifc", "steel_wall.ifc"])
def test_members_overlap_only_where_the_brace_is_let_in(name: str) -> None:
    overlapping = set()
    for wall in walls_of(name).values():
        for one, other in itertools.combinations(members_of(name, wall), 2):
            if (shape_of(name, one.id()) ^ shape_of(name, other.id())).volume() > 1e-9:  # m3
                overlapping.add((one.Name, other.Name))
    crossed = ("Bottom plate", "Top plate", "Stud 16", "Stud 32", "Stud 48", "Stud 64", "Stud 80", "Block 3", "Block 4")
    expected = {(other, "Let-in brace") for other in crossed} if name == "garden_studio.ifc" else set()
    assert overlapping == expected


# Voids by closed-mesh booleans against the facts; 1e-4 covers the micrometre by which `grown` stretches each member.


def test_back_wall_leaves_the_voids_worked_by_hand() -> None:
    found = voids_in("garden_studio.ifc", "Back wall", (0.0, 0.0, 0.0), (192.0, 5.5, 95.625))
    plain = [14.5 * 92.625 * 5.5 * INCH**3] * 2  # the two bays with services, which are no members
    window = 60.0 * 40.0 * 5.5 * INCH**3  # a gap in the frame; closed below the header's 2 in by nothing
    in_front = next(fact for fact in facts.BACK_CAVITIES if fact.what == "in front of the header")
    rest = [fact.volume for fact in facts.BACK_CAVITIES if fact is not in_front]
    expected = sorted([*rest, *plain, window + in_front.volume], reverse=True)
    assert found == pytest.approx(expected, rel=1e-4)


def test_front_wall_leaves_the_voids_worked_by_hand() -> None:
    found = voids_in("garden_studio.ifc", "Front wall", (0.0, 0.0, 0.0), (192.0, 5.5, 117.625))
    # only the outlines of the openings part the holes from what lies in their headers
    pocket = next(fact for fact in facts.FRONT_CAVITIES if fact.what == "closed pocket in the window header")
    door = next(fact for fact in facts.FRONT_CAVITIES if fact.what == "over and in front of the door header")
    rest = [fact.volume for fact in facts.FRONT_CAVITIES if fact not in (pocket, door)]
    holes = [pocket.volume + 44.0 * 46.5 * 5.5 * INCH**3, door.volume + 38.0 * 82.5 * 5.5 * INCH**3]
    assert found == pytest.approx(sorted([*rest, *holes], reverse=True), rel=1e-4)


@pytest.mark.parametrize(
    ("wall_name", "cavities", "depth"),
    [("West wall", facts.WEST_CAVITIES, (-5.5, 0.0)), ("East wall", facts.EAST_CAVITIES, (0.0, 5.5))],
)
def test_side_walls_leave_the_voids_worked_by_hand(
    wall_name: str, cavities: tuple[facts.CavityFact, ...], depth: tuple[float, float]
) -> None:
    found = voids_in("garden_studio.ifc", wall_name, (0.0, depth[0], 0.0), (114.5, depth[1], 118.0))
    slivers = [facts.WEST_SLIVER] if wall_name == "West wall" else []
    assert len(found) == facts.STUDIO_CAVITY_COUNTS[wall_name] + len(slivers) + 1  # and the air over the rake
    for fact in (*cavities, *slivers):
        nearest = min(found, key=lambda volume, wanted=fact.volume: abs(volume - wanted))
        assert nearest == pytest.approx(fact.volume, rel=5e-4 if fact in slivers else 1e-4), fact.what


def test_steel_walls_leave_the_voids_worked_by_hand() -> None:
    found = voids_in("steel_wall.ifc", "Wall A", (0.0, 0.0, 0.0), (144.0, 6.0, 108.0))
    door = 36.0 * 84.0 * 6.0 * INCH**3
    assert found == pytest.approx(sorted([*facts.WALL_A_VOLUMES.values(), door], reverse=True), rel=1e-4)
    found = voids_in("steel_wall.ifc", "Wall B", (0.0, -1.8125, 0.0), (192.0, 1.8125, 96.0))
    assert found == pytest.approx(sorted(facts.WALL_B_VOLUMES.values(), reverse=True), rel=1e-4)
