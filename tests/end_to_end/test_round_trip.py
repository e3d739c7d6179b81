"""Round trip: a frame that we laid out ourselves, written as IFC members and read back, has the same cavities."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import Polygon

from geometry.solids import Prism, polygons_of
from takeoff import take_off
from takeoff.framing.layout import member_number
from takeoff.framing.rules import PRESETS
from takeoff.model import LayerTakeoff, Member
from takeoff.result import Takeoff
from tests.ifc_builder import Builder

DEPTHS = {"double-stud": 0.24, "staggered-stud": 0.14, "steel-16in": 0.0921, "steel-24in": 0.1524}
ANGLE = 27.0
AT = (12.0, -5.0, 3.1)


@dataclass(frozen=True)
class Shape:
    """An elevation and its openings (x, z, width, height, class of what fills it), m."""

    outline: tuple[tuple[float, float], ...]
    openings: tuple[tuple[float, float, float, float, str], ...]


SHAPES = {
    "plain": Shape(((0, 0), (5.2, 0), (5.2, 2.45), (0, 2.45)), ()),
    "door and window": Shape(
        ((0, 0), (6.4, 0), (6.4, 2.7), (0, 2.7)), ((0.9, 0, 0.95, 2.1, "IfcDoor"), (3.1, 0.9, 1.5, 1.2, "IfcWindow"))
    ),
    "gable": Shape(((0, 0), (5, 0), (5, 2.4), (2.5, 4.0), (0, 2.4)), ((1.9, 0.9, 1.2, 1.1, "IfcWindow"),)),
    "rake": Shape(((0, 0), (4.4, 0), (4.4, 3.4), (0, 2.2)), ((2.9, 0, 0.9, 2.05, "IfcDoor"),)),
}


class Model:
    """One wall, written as often as a test needs it, with or without members."""

    def __init__(self, shape: Shape, depth: float, unit: str, *, openings: bool = True) -> None:
        self.made = Builder("IFC4", unit)
        turn = math.radians(ANGLE)
        self.made.level.ObjectPlacement = self.made.local_placement(
            self.made.building.ObjectPlacement, AT, (math.cos(turn), math.sin(turn), 0.0)
        )
        self.wall = self.made.element("IfcWall", [self.across(Polygon(shape.outline), 0.0, depth)], name="Wall")
        self.made.layer_usage([self.wall], self.made.layer_set([("Timber studs", depth)]))
        for x, z, width, height, filling in shape.openings if openings else ():
            self.made.opening(self.wall, x=x, z=z, width=width, height=height, filling=filling)

    def across(self, outline: Polygon, near: float, far: float) -> Any:
        """A section in elevation swept along the depth, in the wall's own axes."""
        file = self.made.file
        curves = [
            file.create_entity(
                "IfcPolyline",
                [
                    file.create_entity("IfcCartesianPoint", [float(x) / self.made.scale, -float(z) / self.made.scale])
                    for x, z in ring.coords
                ],
            )
            for ring in (outline.exterior, *outline.interiors)
        ]
        if len(curves) == 1:
            profile = file.create_entity("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=curves[0])
        else:
            profile = file.create_entity(
                "IfcArbitraryProfileDefWithVoids", ProfileType="AREA", OuterCurve=curves[0], InnerCurves=curves[1:]
            )
        solid = self.made.extruded_profile(profile, far - near)
        solid.Position = self.made.place((0.0, near, 0.0), x=(1.0, 0.0, 0.0), z=(0.0, 1.0, 0.0))
        return solid

    def add(self, members: Sequence[Member], depth: float, *, turned: bool, length: float) -> None:
        """One element for some members; turned: the wall axes see the body from behind."""
        solids = []
        for member in members:
            assert isinstance(member.solid, Prism)
            near, far = member.solid.y_min, member.solid.y_max
            for part in polygons_of(member.solid.outline):
                if turned:
                    part = Polygon(
                        [(length - x, z) for x, z in part.exterior.coords],
                        [[(length - x, z) for x, z in ring.coords] for ring in part.interiors],
                    )
                solids.append(self.across(part, depth - far, depth - near) if turned else self.across(part, near, far))
        self.made.element("IfcMember", solids, name="", whole=self.wall)

    def take_off(self, path: Path, job: Path) -> Takeoff:
        return take_off(self.made.save(path), job)


def only_layer(result: Takeoff) -> LayerTakeoff:
    (row,) = result.results
    (layer,) = row.layers
    return layer


def grouped(members: Sequence[Member], how: str) -> list[list[Member]]:
    """Members of one element each: one a member, or all studs in one and all the rest in another."""
    if how == "one each":
        groups: dict[str, list[Member]] = {}
        for member in members:
            groups.setdefault(member_number(member.member_id), []).append(member)
        return list(groups.values())
    upright = [member for member in members if "stud" in member.role or member.role == "cripple"]
    return [upright, [member for member in members if member not in upright]]


def volumes(layer: LayerTakeoff) -> list[float]:
    return sorted(cavity.volume for cavity in layer.cavities if cavity.kind not in ("sliver", "opening_gap"))


def opening_boxes(layer: LayerTakeoff) -> np.ndarray:
    boxes = np.array([opening.outline.bounds for opening in layer.frame.openings]).reshape(-1, 4)
    return boxes[np.lexsort(np.round(boxes, 6).T[::-1])]


@pytest.mark.parametrize("how", ["one each", "studs in one"])
@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("preset", sorted(PRESETS))
def test_a_laid_out_frame_read_back_has_the_same_cavities(tmp_path: Path, preset: str, shape: str, how: str) -> None:
    wall, depth = SHAPES[shape], DEPTHS.get(preset, 0.14)
    unit = "INCH" if "in" in preset.split("-")[1] else "MILLIMETRE"
    job = tmp_path / "job.toml"
    job.write_text(f'[[wall]]\nname = "Wall"\nstud_layer = 1\nframing = "{preset}"\n', encoding="utf-8")
    laid = only_layer(Model(wall, depth, unit).take_off(tmp_path / "layers.ifc", job))
    assert laid.frame.source == "laid_out"
    assert laid.frame.rule == preset

    again = Model(wall, depth, unit)
    body = np.array(wall.outline)
    # The wall's own y runs with the axes of the layer, or against them where the fill side is the other one.
    turned = _turned(laid, depth)
    for members in grouped(laid.frame.members, how):
        again.add(members, depth, turned=turned, length=float(body[:, 0].max()))
    read = only_layer(again.take_off(tmp_path / "members.ifc", job))
    assert read.frame.source == "modelled"
    assert read.frame.layer.depth == pytest.approx(depth, rel=1e-9)
    assert volumes(read) == pytest.approx(volumes(laid), rel=1e-9)
    assert opening_boxes(read) == pytest.approx(opening_boxes(laid), abs=1e-9)
    assert read.balance.framing == pytest.approx(laid.balance.framing, rel=1e-9)
    assert {str(cavity.kind) for cavity in read.cavities} == {str(cavity.kind) for cavity in laid.cavities}


def _turned(layer: LayerTakeoff, depth: float) -> bool:
    """Whether the axes of a stud layer look at the wall from behind its own y."""
    turn = math.radians(ANGLE)
    own = np.array([-math.sin(turn), math.cos(turn), 0.0])
    return float(layer.frame.layer.axes.directions[1] @ own) < 0.0


@pytest.mark.parametrize("preset", ["wood-16in", "wood-600mm", "steel-16in", "double-stud"])
def test_the_openings_are_found_again_where_nothing_but_the_members_is_written(tmp_path: Path, preset: str) -> None:
    wall, depth = SHAPES["door and window"], DEPTHS.get(preset, 0.14)
    job = tmp_path / "job.toml"
    job.write_text(f'[[wall]]\nname = "Wall"\nstud_layer = 1\nframing = "{preset}"\n', encoding="utf-8")
    laid = only_layer(Model(wall, depth, "MILLIMETRE").take_off(tmp_path / "layers.ifc", job))
    again = Model(wall, depth, "MILLIMETRE", openings=False)
    length = max(x for x, _ in wall.outline)
    for members in grouped(laid.frame.members, "one each"):
        again.add(members, depth, turned=_turned(laid, depth), length=length)
    read = only_layer(again.take_off(tmp_path / "members.ifc", job))
    assert read.frame.source == "modelled"
    assert opening_boxes(read) == pytest.approx(opening_boxes(laid), abs=1e-9)
    assert volumes(read) == pytest.approx(volumes(laid), rel=1e-9)
