"""Days of work and what the truck carries on each: no day needs a second trip.

Tasks are worked in their order by the whole crew. A day ends when its hours are over, or when the next task needs a
package for which the truck that came in the morning had no room; the rest of the task goes on the next day. Packages
are whole, and what is left in an open one is there the next day: a day's truck brings what the job has needed by its
evening, less what came before.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from takeoff.job import Job
from takeoff.labour import LabourItem, labour_items
from takeoff.price_book import FibrePackage, Materials, PriceBook
from takeoff.schedule import Schedule, ScheduleLine, material_schedule, packages_of, with_protection
from takeoff.schedule_basis import Basis

LEAST_PART = 1e-9
"""Smallest part of a task that is put on a day."""
FIRST_PART = 1e-6
"""Part of a task that stands for its beginning: with it come the first packages that are not there yet."""
ROUNDING = 1e-9
"""kg and m3"""
MOST_DAYS = 5000


@dataclass(frozen=True, slots=True)
class Load:
    """One material on the truck of one day."""

    code: str
    description: str
    unit: str
    need: float
    """Gross quantity that the day uses."""
    package: str
    packages: int | None
    """Packages to bring; None where the price book has none."""
    mass: float | None
    """kg"""
    volume: float | None
    """m3; None where the price book does not say."""


@dataclass(frozen=True, slots=True)
class DayPart:
    """A task, or a part of one, on one day."""

    item: LabourItem
    part: float
    """Part of the task, 0 to 1."""

    @property
    def person_hours(self) -> float:
        """Of this part."""
        return self.item.person_hours * self.part


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the crew."""

    number: int
    before_sheathing: bool
    """A visit of its own, before the walls are sheathed."""
    parts: tuple[DayPart, ...]
    set_up_hours: float
    """Person-hours"""
    loads: tuple[Load, ...]
    ended_by: str
    """hours, truck, or end (of the visit)"""

    @property
    def person_hours(self) -> float:
        """Of all parts and of setting up."""
        return sum(part.person_hours for part in self.parts) + self.set_up_hours

    @property
    def mass(self) -> float:
        """kg on the truck, as far as the price book tells."""
        return sum(load.mass or 0.0 for load in self.loads)

    @property
    def volume(self) -> float:
        """m3 on the truck, as far as the price book tells."""
        return sum(load.volume or 0.0 for load in self.loads)

    @property
    def rooms(self) -> tuple[str, ...]:
        """Storeys and rooms in which something is done, in order."""
        return tuple(dict.fromkeys(place_words(part.item.storey, part.item.room) for part in self.parts))


def place_words(storey: str, room: str) -> str:
    """Storey and room as people read them."""
    return f"{storey or 'no storey'}, {room or 'no named room'}"


def package_mass(line: ScheduleLine) -> float | None:
    """kg of one package on the truck; None where the price book does not say."""
    if isinstance(line.product, FibrePackage):
        return line.product.loaded_mass
    return line.product.mass if line.product is not None else None


@dataclass(frozen=True, slots=True, eq=False)
class WorkPlan:
    """The schedule with protective equipment, the tasks, and the days that they take."""

    schedule: Schedule
    items: tuple[LabourItem, ...]
    days: tuple[Day, ...]


def work_plan(basis: Basis, job: Job, book: PriceBook | None = None) -> WorkPlan:
    """Materials, tasks and days of a basis; packages and loads are those of the price book, unknown without one."""
    schedule = material_schedule(basis, job, book)
    items = labour_items(basis, schedule, job)
    days = work_days(items, schedule, job)
    materials = book.materials if book is not None else Materials()
    return WorkPlan(with_protection(schedule, job, len(days), materials), items, days)


def work_days(items: Sequence[LabourItem], schedule: Schedule, job: Job) -> tuple[Day, ...]:
    """The days of a job."""
    room = _Room.of(schedule.lines, job)
    days: list[_Open] = []
    used: dict[str, float] = {}
    for item in items:
        rest, early = 1.0, item.release == 0
        while rest > LEAST_PART and len(days) < MOST_DAYS:
            if not days or days[-1].early != early or days[-1].full:
                days.append(_Open(early, used))
            rest -= days[-1].take(item, rest, room)
    return _loaded([_closed(number, day, room) for number, day in enumerate(days, start=1)], schedule, job)


@dataclass(frozen=True, slots=True)
class _Room:
    """What a day holds: person hours, kg and m3; the lines whose packages take room on the truck, by code."""

    hours: float
    set_up: float
    mass: float
    volume: float
    lines: Mapping[str, ScheduleLine]

    @staticmethod
    def of(lines: Iterable[ScheduleLine], job: Job) -> _Room:
        """The room of a day."""
        labour = job.labour
        set_up = labour.crew_size * labour.set_up_minutes / 60.0
        hours = labour.crew_size * labour.hours_per_day - set_up
        packed = {line.code: line for line in lines if line.size and line.product is not None}
        return _Room(hours, set_up, job.truck.mass, job.truck.volume, packed)

    def load(self, used: Mapping[str, float], item: LabourItem, part: float) -> tuple[float, float]:
        """kg and m3 of the packages that a part of a task needs beyond those that came for what is used already."""
        mass = volume = 0.0
        for code, quantity in item.materials.items():
            line = self.lines.get(code)
            if line is not None and line.product is not None:
                before = used.get(code, 0.0)
                packages = _by(line, before + part * quantity) - _by(line, before)
                mass += packages * (package_mass(line) or 0.0)
                volume += packages * (line.product.volume or 0.0)
        return mass, volume


class _Open:
    """A day that is being filled. used: gross quantity of each material so far, shared by all days of a job."""

    def __init__(self, early: bool, used: dict[str, float]) -> None:
        self.early, self.full, self.ended_by = early, False, "end"
        self.hours = self.mass = self.volume = 0.0
        self.used = used
        self.parts: list[DayPart] = []

    def take(self, item: LabourItem, rest: float, room: _Room) -> float:
        """Puts on as much of the task as fits and returns that part of it; the day is full where some is left."""
        by_hours = min(rest, _fit(room.hours - self.hours, item.person_hours))
        part = self._carried(item, by_hours, room)
        if part < rest - LEAST_PART:
            self.full, self.ended_by = True, "hours" if part >= by_hours - LEAST_PART else "truck"
        if part <= LEAST_PART:
            return 0.0
        mass, volume = room.load(self.used, item, part)
        self.parts.append(DayPart(item, part))
        self.hours += part * item.person_hours
        self.mass += mass
        self.volume += volume
        for code, quantity in item.materials.items():
            self.used[code] = self.used.get(code, 0.0) + part * quantity
        return part

    def _carried(self, item: LabourItem, most: float, room: _Room) -> float:
        """Largest part of the task, `most` or less, whose packages the truck brings beside those of the day so far.

        Where not even the first packages fit an empty truck, another day would be no better: the day then goes by its
        hours, and `load_notes` tells. The load grows with the part in steps, so halving finds the last one that fits.
        """
        beyond = self.mass > room.mass + ROUNDING or self.volume > room.volume + ROUNDING
        if beyond or self._fits(item, most, room):
            return most
        first = min(most, FIRST_PART)
        if not self._fits(item, first, room):
            mass, volume = room.load(self.used, item, first)
            return most if mass > room.mass + ROUNDING or volume > room.volume + ROUNDING else 0.0
        low, high = 0.0, most
        while high - low > LEAST_PART / 4.0:
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self._fits(item, middle, room) else (low, middle)
        return low

    def _fits(self, item: LabourItem, part: float, room: _Room) -> bool:
        """What needs no further package fits any truck."""
        mass, volume = room.load(self.used, item, part)
        return (mass <= 0.0 or self.mass + mass <= room.mass + ROUNDING) and (
            volume <= 0.0 or self.volume + volume <= room.volume + ROUNDING
        )


def _fit(left: float, whole: float) -> float:
    """Part of a whole for which there is room."""
    return inf if whole <= 0.0 else max(0.0, left) / whole


def _closed(number: int, day: _Open, room: _Room) -> Day:
    return Day(number, day.early, tuple(day.parts), room.set_up, (), day.ended_by)


def _loaded(days: Sequence[Day], schedule: Schedule, job: Job) -> tuple[Day, ...]:
    """The days with what their trucks bring."""
    used = {line.code: 0.0 for line in schedule.lines}
    made: list[Day] = []
    for day in days:
        needs: dict[str, float] = {}
        for part in day.parts:
            for code, quantity in part.item.materials.items():
                needs[code] = needs.get(code, 0.0) + part.part * quantity
        loads: list[Load] = []
        for line in schedule.lines:
            need = needs.get(line.code, 0.0)
            if need > 0.0:
                loads.append(_load(line, used[line.code], need))
                used[line.code] += need
        made.append(replace(day, loads=tuple(loads)))
    return tuple(made)


def load_notes(days: Sequence[Day], job: Job) -> list[str]:
    """Days whose load the truck cannot carry, and what nobody knows of the loads."""
    truck = job.truck
    heavy = [str(day.number) for day in days if day.mass > truck.mass + 1e-9 or day.volume > truck.volume + 1e-9]
    unknown = {load.description: None for day in days for load in day.loads if load.mass is None or load.volume is None}
    notes: list[str] = []
    if heavy:
        notes.append(f"The truck of the job file cannot carry the load of day {', '.join(heavy)} at once.")
    if unknown:
        notes.append(f"What these take on the truck is not in the price book: {', '.join(unknown)}.")
    return notes


def _load(line: ScheduleLine, before: float, need: float) -> Load:
    """What one day brings of a line; the last day's packages make the order whole."""
    if not line.size:
        return Load(line.code, line.description, line.unit, need, line.package, None, None, None)
    packages = _by(line, before + need) - _by(line, before)
    mass = package_mass(line)
    volume = line.product.volume if line.product is not None else None
    return Load(
        line.code, line.description, line.unit, need, line.package, packages,
        None if mass is None else mass * packages, None if volume is None else volume * packages,
    )  # fmt: skip


def _by(line: ScheduleLine, used: float) -> int:
    """Packages that must have come when so much of the gross quantity is used. Rolls are cut piece by piece: those of
    the layout come in proportion."""
    if line.packages is None or not line.size or line.gross <= 0.0:
        return 0
    return min(line.packages, packages_of(used / line.gross * line.packages, 1.0))
