"""The fill plan sorted by stud layer: what one sheet is about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from takeoff.fill import CavityFill, FillPlan, HandFill, Hole, Row
from takeoff.fill_order import Preparation
from takeoff.model import Cavity, CavityKind, LayerTakeoff, Method, WallTakeoff
from takeoff.units import UnitSystem, format_length


@dataclass(frozen=True, slots=True, eq=False)
class LayerPlan:
    """One stud layer with everything that the fill plan says about it."""

    wall: WallTakeoff
    layer: LayerTakeoff
    fills: Mapping[str, CavityFill]
    """By cavity id."""
    holes: tuple[Hole, ...]
    hand_fills: tuple[HandFill, ...]
    rows: tuple[Row, ...]
    """From below upwards."""
    preparations: tuple[Preparation, ...] = ()

    @property
    def key(self) -> str:
        """Key of the stud layer."""
        return self.layer.frame.layer.key

    @property
    def cavities(self) -> tuple[Cavity, ...]:
        """All but gaps that are openings, in order of their numbers."""
        return tuple(cavity for cavity in self.layer.cavities if cavity.kind is not CavityKind.OPENING_GAP)

    @property
    def floor(self) -> float | None:
        """m, z of the floor in wall axes; None where no hole is measured from it."""
        return self.rows[0].z - self.rows[0].height if self.rows else None

    @property
    def has_work(self) -> bool:
        """Something is to be filled or sealed."""
        return any(fill.method is not Method.NONE for fill in self.fills.values())


def layer_plans(
    plan: FillPlan, results: Sequence[WallTakeoff], preparations: Sequence[Preparation] = ()
) -> dict[str, LayerPlan]:
    """The plan of every stud layer by its key, in the order of the results."""
    before: dict[str, list[Preparation]] = {}
    for item in preparations:
        before.setdefault(item.layer_key, []).append(item)
    layer_of = {fill.cavity_id: fill.layer_key for fill in plan.cavities}
    fills: dict[str, dict[str, CavityFill]] = {}
    holes: dict[str, list[Hole]] = {}
    parts: dict[str, list[HandFill]] = {}
    rows: dict[str, list[Row]] = {}
    for fill in plan.cavities:
        fills.setdefault(fill.layer_key, {})[fill.cavity_id] = fill
    for hole in plan.holes:
        holes.setdefault(layer_of[hole.cavity_id], []).append(hole)
    for part in plan.hand_fills:
        parts.setdefault(layer_of[part.cavity_id], []).append(part)
    for row in plan.rows:
        rows.setdefault(row.layer_key, []).append(row)
    return {
        layer.frame.layer.key: LayerPlan(
            wall,
            layer,
            fills.get(layer.frame.layer.key, {}),
            tuple(holes.get(layer.frame.layer.key, ())),
            tuple(parts.get(layer.frame.layer.key, ())),
            tuple(sorted(rows.get(layer.frame.layer.key, ()), key=lambda row: row.z)),
            tuple(before.get(layer.frame.layer.key, ())),
        )
        for wall in results
        for layer in wall.layers
    }


def cavity_number(cavity_id: str) -> str:
    """The number that a sheet shows for a cavity; slivers and other gaps keep the letter that their ids have.

    >>> cavity_number("2O2Fr$t4X7Zf8NOew3FLOH#2/c07"), cavity_number("2O2Fr$t4X7Zf8NOew3FLOH/s02")
    ('7', 's2')
    """
    tail = cavity_id.rpartition("/")[2]
    letter, number = tail[:1], tail[1:]
    if not number.isdigit():
        return tail
    return f"{'' if letter == 'c' else letter}{int(number)}"


def height_words(height: float, system: UnitSystem) -> str:
    """A height over the floor in m; one below it is said to lie under."""
    return format_length(height, system) if height >= 0.0 else f"{format_length(-height, system)} under"
