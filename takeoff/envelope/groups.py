"""Areas and U-values summed by wall, wall type, storey, orientation and room, and for the building."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import fsum

from takeoff.envelope.orientation import COMPASS
from takeoff.envelope.walls import Envelope, WallPart
from takeoff.thermal import PartKind, Target, Verdict, judge

UNFILLED = frozenset({PartKind.UNFILLED})


@dataclass(frozen=True, slots=True)
class Share:
    """A piece of a wall's elevation that belongs to a group as a whole. Areas in m2."""

    part: WallPart
    gross: float
    opening: float
    framing: float

    @property
    def net(self) -> float:
        return self.gross - self.opening

    @property
    def insulated(self) -> float:
        return self.net if self.part.insulated > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class Sums:
    """What pieces of wall come to. Areas in m2."""

    walls: int
    gross: float
    opening: float
    framing: float
    insulated: float
    area_with_u: float
    """Net area of the pieces that have a U-value."""
    u: float | None
    """W/(m2 K), weighted by area"""
    heat_flow: float
    """W/K"""
    excess: float
    """W/K that cavities without fill let through above what they would if filled, in insulated walls only."""

    @property
    def net(self) -> float:
        """m2, openings deducted."""
        return self.gross - self.opening

    @property
    def framing_fraction(self) -> float | None:
        """Framing over net area, dimensionless; None without area."""
        return self.framing / self.net if self.net > 0.0 else None

    @property
    def resistance(self) -> float | None:
        """m2 K/W, 1/U."""
        return None if self.u is None else 1.0 / self.u


@dataclass(frozen=True, slots=True)
class AreaGroup:
    """One line of a grouping."""

    grouped_by: str
    """building, wall_type, storey, orientation or room."""
    name: str
    external: bool
    sums: Sums
    verdict: Verdict | None
    """Against the target, for outside walls with a U-value."""


def whole(part: WallPart) -> Share:
    """A part of a wall as one share."""
    return Share(part, part.gross, part.opening, part.framing)


def sums_of(shares: Sequence[Share]) -> Sums:
    """The sums of some pieces of wall."""
    known = [(share.net, share.part.governing.u) for share in shares if share.part.governing is not None]
    area = fsum(net for net, _ in known)
    flow = fsum(net * u for net, u in known)
    return Sums(
        walls=len({share.part.wall.wall.wall_id for share in shares}),
        gross=fsum(share.gross for share in shares),
        opening=fsum(share.opening for share in shares),
        framing=fsum(share.framing for share in shares),
        insulated=fsum(share.insulated for share in shares),
        area_with_u=area,
        u=flow / area if area > 0.0 else None,
        heat_flow=flow,
        excess=fsum(excess_of(share.part) * share.net / share.part.net for share in shares),
    )


def excess_of(part: WallPart) -> float:
    """W/K that a part's missed cavities cost; nothing where the wall is not to be filled."""
    if part.insulated <= 0.0:
        return 0.0
    return fsum(row.flow.excess for row in part.heat.cavities if row.flow.kind in UNFILLED)


def area_groups(envelope: Envelope, target: Target | None) -> tuple[AreaGroup, ...]:
    """Every grouping, outside walls before inside ones: building, wall types, storeys, orientations, rooms."""
    rows: list[AreaGroup] = []
    for grouped_by, keyed in _GROUPINGS:
        groups: dict[tuple[bool, str], list[Share]] = {}
        for part in envelope.parts:
            for name, share in keyed(part):
                groups.setdefault((part.wall.wall.external, name), []).append(share)
        keys = sorted(groups, key=lambda key: _rank(grouped_by, key, list(groups)))
        rows += [_group(grouped_by, key, groups[key], target) for key in keys]
    return tuple(rows)


def building(groups: Iterable[AreaGroup]) -> AreaGroup | None:
    """The line of all outside walls; None where none was taken off."""
    return next((row for row in groups if row.grouped_by == "building" and row.external), None)


def _group(grouped_by: str, key: tuple[bool, str], shares: Sequence[Share], target: Target | None) -> AreaGroup:
    external, name = key
    sums = sums_of(shares)
    judged = target is not None and external and sums.u is not None
    verdict = judge(sums.u, target) if judged and target is not None and sums.u is not None else None
    return AreaGroup(grouped_by, name, external, sums, verdict)


def _rank(grouped_by: str, key: tuple[bool, str], order: Sequence[tuple[bool, str]]) -> tuple[bool, int]:
    external, name = key
    place = COMPASS.index(name) if grouped_by == "orientation" and name in COMPASS else order.index(key)
    return not external, place


def _named(name: Callable[[WallPart], str]) -> Callable[[WallPart], list[tuple[str, Share]]]:
    return lambda part: [(name(part), whole(part))]


def _by_room(part: WallPart) -> list[tuple[str, Share]]:
    return [(row.room, Share(part, row.gross, row.opening, row.framing)) for row in part.rooms]


_GROUPINGS: tuple[tuple[str, Callable[[WallPart], list[tuple[str, Share]]]], ...] = (
    ("building", _named(lambda part: "outside walls" if part.wall.wall.external else "inside walls")),
    ("wall_type", _named(lambda part: part.type_label)),
    ("storey", _named(lambda part: part.wall.wall.storey)),
    ("orientation", _named(lambda part: part.orientation)),
    ("room", _by_room),
)
