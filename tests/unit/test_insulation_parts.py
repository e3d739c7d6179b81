"""What a copy of a model with its takeoff holds, and other models may hold too, leads the reader nowhere astray."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from takeoff import Takeoff, take_off
from takeoff.framing.role_words import is_insulation
from takeoff.model import CavityKind, Source
from tests.ifc_builder import Builder

LAYERS = [("Gypsum board", 0.0125), ("Timber studs", 0.14), ("Sheathing board", 0.0125)]
DEPTH, HEIGHT, LENGTH = 0.14, 2.5, 1.8
THICK = 0.038


def framed_wall(schema: str = "IFC4") -> tuple[Builder, Any]:
    """A wall with plates and four studs as members."""
    model = Builder(schema)
    wall = model.wall("Wall", length=LENGTH, height=HEIGHT, thickness=0.165, layers=LAYERS)
    for z in (0.0, HEIGHT - THICK):
        model.member(wall, size=(LENGTH, DEPTH, THICK), at=(0.0, 0.0125, z))
    for x in (0.0, 0.6, 1.2, LENGTH - THICK):
        model.member(wall, size=(THICK, DEPTH, HEIGHT - 2 * THICK), at=(x, 0.0125, THICK))
    return model, wall


def fill(model: Builder, wall: Any, ifc_class: str, **attributes: Any) -> None:
    """A block in each of two bays."""
    for x in (0.038, 0.638):
        block = model.box((0.562, DEPTH, HEIGHT - 2 * THICK), (x, 0.0125, THICK))
        model.element(ifc_class, [block], whole=wall, **attributes)


def volumes(result: Takeoff) -> list[float]:
    return [
        cavity.volume
        for row in result.results
        for layer in row.layers
        for cavity in layer.cavities
        if cavity.kind not in (CavityKind.SLIVER, CavityKind.OPENING_GAP)
    ]


FILLINGS = [
    ("IFC4", "IfcBuildingElementPart", {"PredefinedType": "INSULATION"}),
    ("IFC4X3", "IfcBuildingElementPart", {"PredefinedType": "INSULATION"}),
    ("IFC4", "IfcCovering", {"PredefinedType": "INSULATION"}),
    ("IFC2X3", "IfcBuildingElementPart", {"name": "Insulation c01", "ObjectType": "INSULATION"}),
    ("IFC2X3", "IfcVirtualElement", {"name": "Cavity c01"}),
    ("IFC4", "IfcVirtualElement", {"name": "Cavity c01"}),
]


@pytest.mark.parametrize(("schema", "ifc_class", "attributes"), FILLINGS)
def test_drawn_insulation_and_virtual_elements_change_no_cavity(
    schema: str, ifc_class: str, attributes: dict[str, Any], tmp_path: Path
) -> None:
    model, wall = framed_wall(schema)
    plain = take_off(model.save(tmp_path / "plain.ifc"))
    fill(model, wall, ifc_class, **attributes)
    filled = take_off(model.save(tmp_path / "filled.ifc"))
    assert len(volumes(plain)) == 3
    assert volumes(filled) == pytest.approx(volumes(plain), rel=1e-12)
    told = [finding for finding in filled.findings if finding.code == "modelled-insulation-left-out"]
    assert [finding.measured for finding in told] == ([] if ifc_class == "IfcVirtualElement" else [2.0])


def test_a_part_that_does_not_say_that_it_is_insulation_is_no_insulation() -> None:
    assert is_insulation("IfcBuildingElementPart", "INSULATION")
    assert not is_insulation("IfcBuildingElementPart", "PRECASTPANEL")
    assert not is_insulation("IfcMember", "INSULATION", "Stud")


def test_a_wall_that_is_only_drawn_as_its_insulation_keeps_its_parts(tmp_path: Path) -> None:
    model = Builder()
    wall = model.wall("Wall", length=LENGTH, height=HEIGHT, body=False)
    fill(model, wall, "IfcBuildingElementPart", PredefinedType="INSULATION")
    (row,) = take_off(model.save(tmp_path / "wall.ifc")).results
    assert "neither a body nor parts" not in row.reason


@pytest.mark.parametrize("x", [0.3, 0.61])
def test_a_groove_in_the_cladding_is_no_opening_with_or_without_a_stud_behind_it(x: float, tmp_path: Path) -> None:
    model, wall = framed_wall()
    plain = volumes(take_off(model.save(tmp_path / "plain.ifc")))
    model.opening(wall, x=x, z=0.0, width=0.019, height=HEIGHT, y=0.155, depth=0.02)
    result = take_off(model.save(tmp_path / "groove.ifc"))
    assert volumes(result) == pytest.approx(plain, rel=1e-12)
    assert [layer.frame.source for row in result.results for layer in row.layers] == [Source.MODELLED]


def test_two_halves_of_a_post_cut_along_its_diagonal_are_not_one_given_twice(tmp_path: Path) -> None:
    model, wall = framed_wall()
    x, y = 0.6 + THICK, 0.0125
    corners = [(x, y), (x + THICK, y), (x + THICK, y + DEPTH), (x, y + DEPTH)]
    for half in (corners[:3], [corners[0], *corners[2:]]):
        model.element("IfcMember", [model.extrusion(half, HEIGHT - 2 * THICK, (0.0, 0.0, THICK))], whole=wall)
    result = take_off(model.save(tmp_path / "wall.ifc"))
    assert "solid-given-twice" not in {finding.code for finding in result.findings}
    whole = THICK * DEPTH * (HEIGHT - 2 * THICK)
    framing = 4 * whole + 2 * LENGTH * DEPTH * THICK + whole
    assert result.results[0].layers[0].balance.framing == pytest.approx(framing, rel=1e-9)


def test_the_next_wall_s_members_past_a_mitre_are_not_in_this_one(tmp_path: Path) -> None:
    # Two walls that meet at a mitred corner, all of it studs; their corner posts are halves of one square post.
    model = Builder()
    length, deep = 3.0, DEPTH

    def mitred(name: str, angle: float) -> Any:
        wall = model.element(
            "IfcWall",
            [model.extrusion([(0.0, 0.0), (length, 0.0), (length, deep), (deep, deep)], HEIGHT)],
            name=name,
            angle=angle,
        )
        model.layer_usage([wall], model.layer_set([("Timber studs", deep)]))
        return wall

    def add(wall: Any, outline: list[tuple[float, float]], low: float, high: float) -> None:
        model.element("IfcMember", [model.extrusion(outline, high - low, (0.0, 0.0, low))], whole=wall)

    first, second = mitred("First", 0.0), mitred("Second", 0.0)
    # The second is the first, mirrored at the corner's diagonal.
    second.Representation = model.shape(
        [model.extrusion([(0.0, 0.0), (deep, deep), (deep, length), (0.0, length)], HEIGHT)]
    )
    second.ObjectPlacement = model.local_placement(model.level.ObjectPlacement)
    usage = next(one for one in model.file.by_type("IfcMaterialLayerSetUsage") if _walls_of(one) == ["Second"])
    usage.LayerSetDirection = "AXIS2"
    plate = [(0.0, 0.0), (length, 0.0), (length, deep), (deep, deep)]
    for low, high in ((0.0, THICK), (HEIGHT - THICK, HEIGHT)):
        add(first, plate, low, high)
        add(second, [(y, x) for x, y in plate], low, high)
    for at in np.arange(0.6, length, 0.6).tolist():
        stud = [(at, 0.0), (at + THICK, 0.0), (at + THICK, deep), (at, deep)]
        add(first, stud, THICK, HEIGHT - THICK)
        add(second, [(y, x) for x, y in stud], THICK, HEIGHT - THICK)
    result = take_off(model.save(tmp_path / "corner.ifc"))
    assert "part-of-another-wall" not in {finding.code for finding in result.findings}


def _walls_of(usage: Any) -> list[str]:
    return [wall.Name for relation in usage.AssociatedTo for wall in relation.RelatedObjects]
