"""Every wall of a takeoff with its areas, the way it faces, its rooms and its U-value."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from geometry.solids import bounds
from takeoff.building import Model
from takeoff.envelope.assemblies import Heat, heat_of
from takeoff.envelope.orientation import INSIDE, azimuth, compass, outside_is_far, outward
from takeoff.envelope.rooms import RoomShare, room_shares
from takeoff.finding import Finding, Severity
from takeoff.job import Job
from takeoff.layer_groups import groups_in_depth
from takeoff.model import LayerTakeoff, Wall, WallTakeoff
from takeoff.thermal import Transmittance
from takeoff.wall_faults import WALL_FAULTS, fault_text
from takeoff.wall_tables import fill_volume, framing_fraction, net_area, type_label
from takeoff.walls.surroundings import Surroundings


@dataclass(frozen=True, slots=True, eq=False)
class WallPart:
    """One length of a wall: the stud layers that stand behind each other there. Areas in m2, once for all of them."""

    wall: WallTakeoff
    layers: tuple[LayerTakeoff, ...]
    number: int
    """1 for the first length of its wall; walls that bend have more."""
    gross: float
    opening: float
    framing: float
    insulated: float
    azimuth: float | None
    """Degrees clockwise from true north; None for an inside wall."""
    orientation: str
    """Eighth of the compass, or 'inside'."""
    rooms: tuple[RoomShare, ...]
    heat: Heat

    @property
    def net(self) -> float:
        """m2, openings deducted."""
        return self.gross - self.opening

    @property
    def type_label(self) -> str:
        """Name of the wall's type, as `type_label` has it."""
        return type_label(self.wall.wall)

    @property
    def centre(self) -> tuple[float, float, float]:
        """m, world: middle of the stud layer on the fill side."""
        layer = self.layers[0].frame.layer
        x, y, z = layer.axes.to_world(bounds(layer.outline).mean(axis=0)[None])[0].tolist()
        return x, y, z

    @property
    def governing(self) -> Transmittance | None:
        """The U-value that counts."""
        return self.heat.transmittances[0] if self.heat.transmittances else None


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """All that was worked out about the walls of one takeoff."""

    parts: tuple[WallPart, ...]
    """In the order of the takeoff's results; walls that were not taken off have none."""
    findings: tuple[Finding, ...]

    def by_wall(self) -> dict[str, tuple[WallPart, ...]]:
        """The parts of each wall that has some, by its GlobalId."""
        found: dict[str, tuple[WallPart, ...]] = {}
        for part in self.parts:
            found[part.wall.wall.wall_id] = (*found.get(part.wall.wall.wall_id, ()), part)
        return found


def envelope_of(model: Model, results: Sequence[WallTakeoff], job: Job) -> Envelope:
    """Areas, orientation, rooms and U-values of every wall that was taken off."""
    site = (model, Surroundings(model.spaces, model.walls), job)
    parts: list[WallPart] = []
    failures: list[Finding] = []
    for result in results:
        try:
            parts += _parts(result, site)
        except WALL_FAULTS as fault:
            failures.append(_failure(result.wall, fault))
    return Envelope(tuple(parts), (*failures, *once_each(finding for part in parts for finding in part.heat.findings)))


def _failure(wall: Wall, fault: BaseException) -> Finding:
    told = fault_text("Its areas and its U-value could not be worked out", fault)
    return Finding("no-u-value", Severity.WARNING, f"{told}.", wall.wall_id, wall.wall_id, wall.ifc_class, wall.name)


def _parts(result: WallTakeoff, site: tuple[Model, Surroundings, Job]) -> list[WallPart]:
    made = [_part(result, group, number, site) for number, group in enumerate(groups_in_depth(result.layers), start=1)]
    return [part for part in made if part is not None]


def _part(
    result: WallTakeoff, group: Sequence[LayerTakeoff], number: int, site: tuple[Model, Surroundings, Job]
) -> WallPart | None:
    model, surroundings, job = site
    main = max(group, key=net_area)
    net = net_area(main)
    if net <= 0.0:
        return None
    first = group[0].frame.layer
    far = outside_is_far(first, surroundings)
    facing = azimuth(outward(first, outside_far=far), model.true_north) if result.wall.external else None
    filled = result.wall.insulated and fill_volume(group) > 0.0
    # Of two rows of studs the areas count once, the framing as the share that both have together.
    framing = (framing_fraction(group) or 0.0) * net
    shares = room_shares(main, surroundings, inside_far=not far)
    scale = framing / main.framing_area if main.framing_area > 0.0 else 0.0
    return WallPart(
        wall=result,
        layers=tuple(group),
        number=number,
        gross=main.gross_area,
        opening=main.opening_area,
        framing=framing,
        insulated=net if filled else 0.0,
        azimuth=facing,
        orientation=INSIDE if facing is None else compass(facing),
        rooms=tuple(replace(share, framing=share.framing * scale) for share in shares),
        heat=heat_of(result, group, job, outside_far=far),
    )


def once_each(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings that say the same of several walls as one, that of the first, with the number of the others."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.code, finding.message), []).append(finding)
    rows = []
    for group in groups.values():
        walls = {finding.wall_id for finding in group}
        rest = len(walls) - 1
        more = f" The same of {rest} other wall{'s' if rest > 1 else ''}." if rest else ""
        rows.append(replace(group[0], message=group[0].message + more))
    return tuple(rows)
