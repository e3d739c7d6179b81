"""Person-hours by task and room, in the order of work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from math import fsum

from takeoff.density import sample_size
from takeoff.job import Job
from takeoff.schedule import Schedule, Share
from takeoff.schedule_basis import Basis, BasisCavity

Room = tuple[str, str]
"""Storey and room."""
MINUTES = 60.0


class LabourTask(StrEnum):
    """What people do, in the order of a release."""

    BEFORE_SHEATHING = "before_sheathing"
    MOVE = "move"
    HAND_FILL = "hand_fill"
    SEAL = "seal"
    PIECES = "pieces"
    NETTING = "netting"
    LOWER_PASS = "lower_pass"
    UPPER_PASS = "upper_pass"
    PATCH = "patch"
    CHECK = "check"
    SET_UP = "set_up"


BLOWING = frozenset({LabourTask.LOWER_PASS, LabourTask.UPPER_PASS})
"""Tasks that need the machine."""

TASK_WORDS: Mapping[LabourTask, str] = {
    LabourTask.BEFORE_SHEATHING: "fill by hand before sheathing",
    LabourTask.MOVE: "move into rooms",
    LabourTask.HAND_FILL: "fill by hand",
    LabourTask.SEAL: "seal slivers",
    LabourTask.PIECES: "blockers and eave baffles",
    LabourTask.NETTING: "hang and fasten netting",
    LabourTask.LOWER_PASS: "blow, lower pass",
    LabourTask.UPPER_PASS: "blow, upper pass",
    LabourTask.PATCH: "patch holes",
    LabourTask.CHECK: "check density",
    LabourTask.SET_UP: "set up and clear up",
}


@dataclass(frozen=True, slots=True)
class LabourItem:
    """One task in one room."""

    release: int
    """0 is before sheathing."""
    storey: str
    room: str
    task: LabourTask
    quantity: float
    unit: str
    """piece, m, m2, m3 or crew"""
    holes: int
    person_hours: float
    materials: Mapping[str, float] = field(default_factory=dict)
    """Gross quantity of each line that it uses, by code."""
    ladder_quantity: float = 0.0
    """m3 of a pass that go in from a ladder or stilts."""
    ladder_holes: int = 0
    """Holes of a pass above standing reach."""


def labour_items(basis: Basis, schedule: Schedule, job: Job) -> tuple[LabourItem, ...]:
    """Every task of the job but setting up, release by release, room by room."""
    gross = {line.code: line.gross / line.net if line.net > 0.0 else 0.0 for line in schedule.lines}
    shares: dict[Room, list[Share]] = {}
    for share in schedule.shares:
        shares.setdefault((share.storey, share.room), []).append(share)
    cavities: dict[Room, list[BasisCavity]] = {}
    for cavity in basis.cavities:
        cavities.setdefault((cavity.storey, cavity.room), []).append(cavity)
    blown = sum(1 for cavity in basis.cavities if cavity.lower_holes + cavity.upper_holes)
    checks = sample_size(blown) / blown if blown else 0.0
    items: list[LabourItem] = []
    for release, room in _order(basis, shares):
        own = _Work(release, room, shares.get(room, []), cavities.get(room, []), gross)
        items += own.early(job) if release == 0 else own.main(basis, job, checks)
    return tuple(item for item in items if item.person_hours > 0.0 or item.materials)


def _order(basis: Basis, shares: Mapping[Room, Sequence[Share]]) -> list[tuple[int, Room]]:
    """Rooms in the order of work; rooms that no release names come at the end, as a release of their own."""
    order = [(each.number, (each.storey, each.room)) for each in basis.releases]
    main = {room for number, room in order if number}
    last = max((number for number, _ in order), default=0) + 1
    rest = [room for room, own in shares.items() if room not in main and any(not share.early for share in own)]
    early = {room for number, room in order if number == 0}
    first = [(0, room) for room, own in shares.items() if room not in early and any(share.early for share in own)]
    return [*first, *order, *((last, room) for room in rest)]


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """What is to be done in one room. gross: factor from net to gross by code."""

    release: int
    room: Room
    shares: Sequence[Share]
    cavities: Sequence[BasisCavity]
    gross: Mapping[str, float]

    def early(self, job: Job) -> list[LabourItem]:
        """What goes in before the walls are sheathed."""
        places = [share for share in self.shares if share.early]
        hours = len(places) * job.labour.minutes_per_hand_fill / MINUTES
        return [self._item(LabourTask.BEFORE_SHEATHING, len(places), "piece", hours, places)]

    def main(self, basis: Basis, job: Job, checks: float) -> list[LabourItem]:
        """Everything else, in order."""
        rates = job.labour
        batts = self._of("batts_")
        sealant, pieces = self._of("sealant"), [*self._of("blockers"), *self._of("eave_baffles")]
        netting = self._of("netting")
        held = [*self._of("staples"), *self._of("adhesive")]
        area = fsum(share.net for share in netting)
        length = fsum(share.net for share in sealant)
        blown = [cavity for cavity in self.cavities if cavity.lower_holes + cavity.upper_holes]
        move = rates.crew_size * rates.move_minutes / MINUTES
        check = checks * len(blown)
        patches = self._of("patches")
        count = sum(share.net for share in patches)
        return [
            self._item(LabourTask.MOVE, 1, "crew", move, ()),
            self._item(
                LabourTask.HAND_FILL, len(batts), "piece", len(batts) * rates.minutes_per_hand_fill / MINUTES, batts
            ),
            self._item(LabourTask.SEAL, length, "m", length * rates.minutes_per_sealed_metre / MINUTES, sealant),
            self._item(
                LabourTask.PIECES, len(pieces), "piece", len(pieces) * rates.minutes_per_piece / MINUTES, pieces
            ),
            self._item(
                LabourTask.NETTING, area, "m2", area / rates.netting_area_per_hour, [*netting, *held]
            ),
            self._pass(LabourTask.LOWER_PASS, blown, job),
            self._pass(LabourTask.UPPER_PASS, blown, job),
            self._item(LabourTask.PATCH, count, "piece", count * rates.minutes_per_patch / MINUTES, patches),
            self._item(LabourTask.CHECK, check, "piece", check * rates.minutes_per_check / MINUTES, ()),
        ]  # fmt: skip

    def _of(self, code: str) -> list[Share]:
        return [share for share in self.shares if share.code.startswith(code) and not share.early]

    def _pass(self, task: LabourTask, blown: Sequence[BasisCavity], job: Job) -> LabourItem:
        """One pass: a cavity's volume goes to its holes in equal parts; what goes in from a ladder takes longer."""
        upper = task is LabourTask.UPPER_PASS
        volume, holes, part = 0.0, 0, {}
        high_volume, high = 0.0, 0
        for cavity in blown:
            own = cavity.upper_holes if upper else cavity.lower_holes
            part[cavity.cavity_id] = own / (cavity.lower_holes + cavity.upper_holes)
            volume += cavity.blown_volume * part[cavity.cavity_id]
            holes += own
            if upper:
                high += cavity.ladder_holes
                high_volume += cavity.blown_volume * cavity.ladder_holes / (cavity.lower_holes + cavity.upper_holes)
        rates = job.labour
        more = rates.upper_factor - 1.0
        hours = (volume + more * high_volume) / rates.blown_volume_per_hour
        hours += (holes + more * high) * rates.minutes_per_hole / MINUTES
        fibre = fsum(share.net * part.get(share.cavity_id, 0.0) for share in self._of("fibre"))
        materials = {"fibre": fibre * self.gross.get("fibre", 0.0)} if fibre > 0.0 else {}
        storey, room = self.room
        return LabourItem(
            self.release, storey, room, task, volume, "m3", holes, hours, materials, high_volume, high
        )  # fmt: skip

    def _item(self, task: LabourTask, quantity: float, unit: str, hours: float, shares: Sequence[Share]) -> LabourItem:
        materials: dict[str, float] = {}
        for share in shares:
            materials[share.code] = materials.get(share.code, 0.0) + share.net * self.gross.get(share.code, 0.0)
        storey, room = self.room
        return LabourItem(self.release, storey, room, task, float(quantity), unit, 0, hours, materials)
