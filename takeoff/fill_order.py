"""Order of work: storey by storey, a room or two at a time, so that rooms are covered, filled and released early.

Within such a release: what must be done by hand before the netting, the netting, all lower holes, all upper holes,
the check. Walls of a room follow one another to the right as seen from inside, holes of a wall from left to right.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from takeoff.fill import CavityFill, FillPlan, HandFill, Hole, Pass
from takeoff.model import Cavity, Method, WallTakeoff

FloatArray = NDArray[np.float64]


class PreparationKind(StrEnum):
    BEFORE_SHEATHING = "before_sheathing"
    HAND_FILL = "hand_fill"
    SEAL = "seal"
    BLOCKER = "blocker"
    """Closes a cavity that is open to another space, so that fibre stays in it."""
    EAVE_BAFFLE = "eave_baffle"
    """Keeps the air path of a vented eave open where a wall meets it."""
    BOX = "box"
    """A box at the fill face, to be kept free of fibre and filled behind."""
    CEILING = "ceiling"
    """A bay that goes on above the ceiling of its room, to be filled before that hangs."""


@dataclass(frozen=True, slots=True)
class Preparation:
    """Something to do before the netting goes up. `takeoff.preparations` finds all of them."""

    kind: PreparationKind
    storey: str
    room: str
    layer_key: str
    reason: str
    cavity_id: str = ""
    volume: float = 0.0
    """m3 of fibre to place by hand"""
    length: float = 0.0
    """m; of a blocker or baffle, and of a bay above a ceiling its width"""
    area: float = 0.0
    """m2; of a blocker"""


ByRoom = dict[tuple[str, str], list[tuple[int, Preparation]]]
"""Preparations by storey and room, each with its place among all of them."""


class Task(StrEnum):
    BEFORE_SHEATHING = "before_sheathing"
    BEFORE_NETTING = "before_netting"
    NETTING = "netting"
    LOWER_PASS = "lower_pass"
    UPPER_PASS = "upper_pass"
    CHECK = "check"


@dataclass(frozen=True, slots=True)
class Step:
    """One task in one release."""

    number: int
    release: int
    """0 for what is done before any release."""
    storey: str
    rooms: tuple[str, ...]
    task: Task
    layer_keys: tuple[str, ...]
    """Stud layers in the order in which they are worked."""
    holes: tuple[tuple[str, int], ...] = ()
    """(cavity_id, hole number) in order, for a pass."""
    preparations: tuple[Preparation, ...] = ()


@dataclass(frozen=True, slots=True)
class OrderSettings:
    rooms_per_release: int = 2
    """Rooms covered and filled together. Own assumption: 'a room or two'."""


@dataclass(frozen=True, slots=True, eq=False)
class _Room:
    """What is worked in one room. place: (2,) m, world xy, middle of its cavities."""

    storey: str
    name: str
    place: FloatArray
    layer_keys: tuple[str, ...]
    cavity_ids: frozenset[str]


def order_work(
    plan: FillPlan,
    walls: Sequence[WallTakeoff],
    preparations: Sequence[Preparation] | None = None,
    settings: OrderSettings | None = None,
) -> tuple[Step, ...]:
    """The steps of the whole job, numbered from 1.

    preparations: all that must precede the netting, with storey and room; what the plan alone asks for where None.
    """
    settings = settings or OrderSettings()
    if preparations is None:
        preparations = plan_preparations(plan)
    steps = _before_sheathing(preparations)
    holes = _by_layer(plan)
    by_room = _by_room(preparations)
    for release, rooms in enumerate(_releases(_rooms(plan, walls, by_room), settings), start=1):
        steps += _release_steps(release, rooms, holes, by_room)
    return tuple(
        Step(n, s.release, s.storey, s.rooms, s.task, s.layer_keys, s.holes, s.preparations)
        for n, s in enumerate(steps, start=1)
    )


# ---------------------------------------------------------------- what has to be done


_KIND = {
    Method.BATT: PreparationKind.HAND_FILL,
    Method.SEAL: PreparationKind.SEAL,
    Method.BEFORE_SHEATHING: PreparationKind.BEFORE_SHEATHING,
}


def plan_preparations(plan: FillPlan) -> list[Preparation]:
    """Places that the plan has filled by hand, before sheathing, or sealed."""
    fill_of = {fill.cavity_id: fill for fill in plan.cavities}
    return [_preparation(part, fill_of[part.cavity_id]) for part in plan.hand_fills]


def _preparation(part: HandFill, fill: CavityFill) -> Preparation:
    return Preparation(
        _KIND[part.method], fill.storey, fill.room, fill.layer_key, part.reason, part.cavity_id, part.volume
    )


def _before_sheathing(preparations: Sequence[Preparation]) -> list[Step]:
    """One step a storey, ahead of everything else."""
    hidden = [item for item in preparations if item.kind is PreparationKind.BEFORE_SHEATHING]
    steps: list[Step] = []
    for storey in dict.fromkeys(item.storey for item in hidden):
        items = tuple(item for item in hidden if item.storey == storey)
        rooms = tuple(dict.fromkeys(item.room for item in items))
        layers = tuple(dict.fromkeys(item.layer_key for item in items))
        steps.append(Step(0, 0, storey, rooms, Task.BEFORE_SHEATHING, layers, preparations=items))
    return steps


def _by_room(preparations: Sequence[Preparation]) -> ByRoom:
    found: ByRoom = {}
    for place, item in enumerate(preparations):
        found.setdefault((item.storey, item.room), []).append((place, item))
    return found


def _by_layer(plan: FillPlan) -> dict[str, list[Hole]]:
    """Holes of each stud layer from left to right, at one place from below upwards."""
    layer_of = {fill.cavity_id: fill.layer_key for fill in plan.cavities}
    grouped: dict[str, list[Hole]] = {}
    for hole in plan.holes:
        grouped.setdefault(layer_of[hole.cavity_id], []).append(hole)
    return {key: sorted(holes, key=lambda hole: (hole.x, hole.z, hole.cavity_id)) for key, holes in grouped.items()}


def _release_steps(
    release: int, rooms: Sequence[_Room], holes: dict[str, list[Hole]], preparations: ByRoom
) -> list[Step]:
    names = tuple(room.name for room in rooms)
    storey = rooms[0].storey
    layers = tuple(dict.fromkeys(key for room in rooms for key in room.layer_keys))
    cavities = frozenset[str]().union(*(room.cavity_ids for room in rooms))
    here = {place: item for name in names for place, item in preparations.get((storey, name), ())}
    before = tuple(here[place] for place in sorted(here) if here[place].kind is not PreparationKind.BEFORE_SHEATHING)
    steps: list[Step] = []
    if before:
        touched = {item.layer_key for item in before}
        keys = tuple(key for key in layers if key in touched)
        steps.append(Step(0, release, storey, names, Task.BEFORE_NETTING, keys, preparations=before))
    own = {key: [hole for hole in holes.get(key, ()) if hole.cavity_id in cavities] for key in layers}
    covered = tuple(key for key in layers if own[key])
    if not covered:
        return steps
    steps.append(Step(0, release, storey, names, Task.NETTING, covered))
    for task, fill_pass in ((Task.LOWER_PASS, Pass.LOWER), (Task.UPPER_PASS, Pass.UPPER)):
        marks = {key: [(h.cavity_id, h.number) for h in own[key] if h.fill_pass is fill_pass] for key in covered}
        keys = tuple(key for key in covered if marks[key])
        if keys:
            steps.append(Step(0, release, storey, names, task, keys, tuple(m for key in keys for m in marks[key])))
    return [*steps, Step(0, release, storey, names, Task.CHECK, covered)]


# ---------------------------------------------------------------- where


def _rooms(plan: FillPlan, walls: Sequence[WallTakeoff], preparations: ByRoom) -> list[_Room]:
    """Rooms in which something is done, storeys from below upwards, in each the room nearest to the last one next."""
    working = {fill.cavity_id for fill in plan.cavities if fill.method is not Method.NONE}
    groups: dict[tuple[str, str], list[Cavity]] = {}
    elevations: dict[str, float] = {}
    for wall in walls:
        known = wall.wall.storey_elevation
        here = [cavity for layer in wall.layers for cavity in layer.cavities if cavity.cavity_id in working]
        for cavity in here:
            groups.setdefault((cavity.storey, cavity.room), []).append(cavity)
        if known is not None:
            for storey in {cavity.storey for cavity in here}:
                elevations[storey] = min(known, elevations.get(storey, known))
    for key in preparations:
        groups.setdefault(key, [])
    rooms = [_room(key, cavities, preparations.get(key, ())) for key, cavities in groups.items()]
    ordered: list[_Room] = []
    storeys = sorted({room.storey for room in rooms}, key=lambda name: (elevations.get(name, np.inf), _natural(name)))
    for storey in storeys:
        ordered += _walk([room for room in rooms if room.storey == storey])
    return ordered


def _room(key: tuple[str, str], cavities: Sequence[Cavity], preparations: Sequence[tuple[int, Preparation]]) -> _Room:
    """One room, by its storey and name, with its stud layers in walking order: clockwise from above, so to the right
    seen from inside. preparations: those of this room."""
    here = [item.layer_key for _, item in preparations]
    if not cavities:
        return _Room(*key, np.full(2, np.inf), tuple(dict.fromkeys(here)), frozenset())
    places = np.array([cavity.centroid[:2] for cavity in cavities])
    middle = places.mean(axis=0)
    rows: dict[str, list[int]] = {}
    for row, cavity in enumerate(cavities):
        rows.setdefault(cavity.layer_key, []).append(row)
    offsets = np.array([places[own].mean(axis=0) - middle for own in rows.values()])
    turn = -np.arctan2(offsets[:, 1], offsets[:, 0])
    turned = np.round((turn - turn[0]) % (2.0 * np.pi), 9) % round(2.0 * np.pi, 9)
    layers = list(rows)
    walking = [layers[index] for index in np.argsort(turned, kind="stable")]
    ids = frozenset(cavity.cavity_id for cavity in cavities)
    return _Room(*key, middle, tuple(dict.fromkeys([*walking, *here])), ids)


def _walk(rooms: Sequence[_Room]) -> list[_Room]:
    """From the first name on to the nearest room left, again and again. Cavities of no named room come last."""
    named = sorted((room for room in rooms if room.name), key=lambda room: _natural(room.name))
    places = np.array([room.place for room in named]).reshape(-1, 2)
    waiting, ordered = np.arange(len(named)), list[int]()
    while len(waiting):
        next_one = 0
        if ordered and np.isfinite(places[ordered[-1]]).all():
            away = np.hypot(*(places[waiting] - places[ordered[-1]]).T)
            next_one = int(np.argmin(np.round(away, 6)))
        ordered.append(int(waiting[next_one]))
        waiting = np.delete(waiting, next_one)
    return [*(named[index] for index in ordered), *(room for room in rooms if not room.name)]


def _releases(rooms: Sequence[_Room], settings: OrderSettings) -> list[list[_Room]]:
    """Runs of rooms of one storey, at most so many; cavities of no named room stand alone."""
    releases: list[list[_Room]] = []
    for room in rooms:
        last = releases[-1] if releases else []
        joins = bool(last) and last[0].storey == room.storey and bool(room.name) and bool(last[0].name)
        if joins and len(last) < settings.rooms_per_release:
            last.append(room)
        else:
            releases.append([room])
    return releases


def _natural(name: str) -> tuple[tuple[bool, int, str], ...]:
    """Sort key under which 'Room 2' comes before 'Room 10'."""
    pieces = re.split(r"(\d+)", name)
    return tuple((not piece.isdigit(), int(piece) if piece.isdigit() else 0, piece) for piece in pieces if piece)
