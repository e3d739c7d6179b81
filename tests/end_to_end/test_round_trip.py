"""Round trip: a frame that we laid out ourselves, written as IFC members and read back, has the same cavities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon

from geometry.solids import Prism
from takeoff import take_off
from takeoff.framing.layout import member_number
from takeoff.framing.rules import PRESETS
from takeoff.model import LayerTakeoff, Member
from takeoff.result import Takeoff
from tests.elevation_builder import ElevationModel, Setting

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


def model_of(shape: Shape, depth: float, unit: str, *, openings: bool = True) -> ElevationModel:
    """One wall, with or without its opening elements; members are added by the test."""
    model = ElevationModel(Polygon(shape.outline), depth, Setting(unit, AT, ANGLE))
    for opening in shape.openings if openings else ():
        model.opening(*opening)
    return model


def add(model: ElevationModel, members: Sequence[Member], laid: LayerTakeoff) -> None:
    """One element for some members of a frame."""
    prisms = [member.solid for member in members if isinstance(member.solid, Prism)]
    assert len(prisms) == len(members)
    model.add(prisms, axes=laid.frame.layer.axes)


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
    laid = only_layer(take_off(model_of(wall, depth, unit).made.save(tmp_path / "layers.ifc"), job))
    assert laid.frame.source == "laid_out"
    assert laid.frame.rule == preset

    again = model_of(wall, depth, unit)
    for members in grouped(laid.frame.members, how):
        add(again, members, laid)
    read = only_layer(take_off(again.made.save(tmp_path / "members.ifc"), job))
    assert read.frame.source == "modelled"
    assert read.frame.layer.depth == pytest.approx(depth, rel=1e-9)
    assert volumes(read) == pytest.approx(volumes(laid), rel=1e-9)
    assert opening_boxes(read) == pytest.approx(opening_boxes(laid), abs=1e-9)
    assert read.balance.framing == pytest.approx(laid.balance.framing, rel=1e-9)
    assert {str(cavity.kind) for cavity in read.cavities} == {str(cavity.kind) for cavity in laid.cavities}


@pytest.mark.parametrize("preset", ["wood-16in", "wood-600mm", "steel-16in", "double-stud"])
def test_the_openings_are_found_again_where_nothing_but_the_members_is_written(tmp_path: Path, preset: str) -> None:
    wall, depth = SHAPES["door and window"], DEPTHS.get(preset, 0.14)
    job = tmp_path / "job.toml"
    job.write_text(f'[[wall]]\nname = "Wall"\nstud_layer = 1\nframing = "{preset}"\n', encoding="utf-8")
    laid = only_layer(take_off(model_of(wall, depth, "MILLIMETRE").made.save(tmp_path / "layers.ifc"), job))
    again = model_of(wall, depth, "MILLIMETRE", openings=False)
    for members in grouped(laid.frame.members, "one each"):
        add(again, members, laid)
    read = only_layer(take_off(again.made.save(tmp_path / "members.ifc"), job))
    assert read.frame.source == "modelled"
    assert opening_boxes(read) == pytest.approx(opening_boxes(laid), abs=1e-9)
    assert volumes(read) == pytest.approx(volumes(laid), rel=1e-9)
