"""What a wall is to heat: planes in series, some of them made of parts side by side. No IFC, no geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import product
from math import fsum, isfinite, prod

from takeoff.thermal.errors import ThermalError

FRACTION_TOLERANCE = 1e-6
"""By how much the fractions of a plane may miss 1: sums of areas are exact to far better than this."""

MOST_PATHS = 4096
"""More paths than this come from a mistake in the input: five bridged planes of five parts make 3125."""


class PartKind(StrEnum):
    """What fills a part of a stud layer."""

    FILLED = "filled"
    """Blown to the set density."""
    BATT = "hand_filled"
    UNFILLED = "unfilled"
    """Missed, out of reach, or a void in the fill."""
    WOOD = "wood_framing"
    HEADER = "header"
    STEEL = "steel_framing"
    MATERIAL = "material"
    """A part of some other layer, such as mortar in blockwork."""


FRAMING_KINDS = frozenset({PartKind.WOOD, PartKind.HEADER, PartKind.STEEL})


class TransmittanceMethod(StrEnum):
    PARALLEL_PATH = "parallel path"
    ISOTHERMAL_PLANES = "isothermal planes"
    COMBINED = "ISO 6946 combined method"
    STEEL_TABLE = "effective resistance table for steel studs (ASHRAE 90.1 Table A9.2-2)"
    STEEL_ZONES = "overall thermal zone method for steel studs (AISI S250)"
    MODIFIED_ZONE = "modified zone method for steel studs (ASHRAE Handbook)"


@dataclass(frozen=True, slots=True)
class SteelStuds:
    """The steel studs of a stud layer."""

    spacing: float
    """m, centre to centre"""
    depth: float
    """m, depth of the web"""
    flange: float = 0.041275
    """m; 1.625 in, the common stud flange (designation 162)."""
    thickness: float = 0.0010922
    """m, designation thickness; 43 mil."""


@dataclass(frozen=True, slots=True)
class Part:
    """One of the materials side by side in a plane."""

    name: str
    kind: PartKind
    fraction: float
    """Share of the plane's area, 0 to 1."""
    resistance: float
    """m2 K/W, through the plane's whole thickness."""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Plane:
    """One layer of a wall from face to face: a single part, or several side by side (a bridged layer).

    Raises ThermalError where it has no part, a negative or endless figure, or fractions that do not add up to 1.
    """

    name: str
    parts: tuple[Part, ...]
    studs: SteelStuds | None = None
    """Set where the plane is framed in steel."""
    continuous_insulation: bool = False
    """True for an insulating layer that no stud crosses."""

    def __post_init__(self) -> None:
        if not self.parts:
            raise ThermalError(f"Layer '{self.name}' has no part.")
        for part in self.parts:
            if not (isfinite(part.fraction) and 0.0 <= part.fraction <= 1.0 + FRACTION_TOLERANCE):
                raise ThermalError(f"Part '{part.name}' of layer '{self.name}' has the fraction {part.fraction}.")
            if not (isfinite(part.resistance) and part.resistance >= 0.0):
                raise ThermalError(f"Part '{part.name}' of layer '{self.name}' has the resistance {part.resistance}.")
        total = fsum(part.fraction for part in self.parts)
        if abs(total - 1.0) > FRACTION_TOLERANCE:
            raise ThermalError(f"The parts of layer '{self.name}' cover {total:.6f} of its area; they must cover all.")

    @property
    def bridged(self) -> bool:
        return len(self.parts) > 1


@dataclass(frozen=True, slots=True)
class Assembly:
    """A wall from the inside air to the outside air, surface films among its planes."""

    planes: tuple[Plane, ...]
    missing: tuple[str, ...] = ()
    """Layers whose resistance is not known; they count as nothing, so the U-value is on the safe side."""

    def __post_init__(self) -> None:
        if not self.planes:
            raise ThermalError("A wall with no layer and no surface film has no U-value.")


@dataclass(frozen=True, slots=True)
class HeatPath:
    """One way through all planes."""

    name: str
    fraction: float
    resistance: float
    """m2 K/W, air to air"""


@dataclass(frozen=True, slots=True)
class Patch:
    """A piece of a stud layer's elevation, with its real area."""

    name: str
    kind: PartKind
    area: float
    """m2"""
    resistance: float
    """m2 K/W of the stud layer alone, through its whole depth."""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Transmittance:
    """A U-value that says how it was found."""

    method: TransmittanceMethod
    u: float
    """W/(m2 K), corrections included where they were applied."""
    resistance: float
    """m2 K/W, air to air: 1/u."""
    why: str
    """Why this method applies to this wall."""
    source: str
    upper: float | None = None
    """m2 K/W, upper limit of the resistance (combined method)."""
    lower: float | None = None
    max_error: float | None = None
    """Relative, dimensionless (combined method)."""
    correction: float = 0.0
    """W/(m2 K) that was added to the plain result."""
    paths: tuple[HeatPath, ...] = ()
    notes: tuple[str, ...] = ()


def film_plane(name: str, resistance: float, source: str = "") -> Plane:
    """A plane of one material or one film."""
    return Plane(name, (Part(name, PartKind.MATERIAL, 1.0, resistance, source),))


def parts_from_patches(patches: Sequence[Patch]) -> tuple[Part, ...]:
    """Parts of a stud layer from real areas; the fractions are the areas over their sum, openings not among them.

    Patches without area are left out. Raises ThermalError where no area is left or an area is negative.
    """
    if any(not isfinite(patch.area) or patch.area < 0.0 for patch in patches):
        raise ThermalError("An area of a stud layer is negative or not a number.")
    total = fsum(patch.area for patch in patches)
    if total <= 0.0:
        raise ThermalError("The stud layer has no area: it is all opening.")
    return tuple(
        Part(patch.name, patch.kind, patch.area / total, patch.resistance, patch.source)
        for patch in patches
        if patch.area > 0.0
    )


def framing_fraction(plane: Plane) -> float:
    """Share of a plane that is framing (wood, headers, steel), 0 to 1."""
    return fsum(part.fraction for part in plane.parts if part.kind in FRAMING_KINDS)


def plane_resistance(plane: Plane) -> float:
    """Resistance of a plane whose faces each have one temperature, m2 K/W: 1/R = sum f/R."""
    if any(part.resistance == 0.0 and part.fraction > 0.0 for part in plane.parts):
        return 0.0
    return 1.0 / fsum(part.fraction / part.resistance for part in plane.parts if part.fraction > 0.0)


def heat_paths(assembly: Assembly) -> tuple[HeatPath, ...]:
    """Every path from air to air; with several bridged planes the fractions multiply.

    Raises ThermalError for more than 4096 paths.
    """
    if prod(len(plane.parts) for plane in assembly.planes) > MOST_PATHS:
        raise ThermalError(f"The wall has more than {MOST_PATHS} heat paths; merge equal parts of its layers.")
    paths = []
    for chosen in product(*(plane.parts for plane in assembly.planes)):
        named = [part.name for part, plane in zip(chosen, assembly.planes, strict=True) if plane.bridged]
        paths.append(
            HeatPath(
                " + ".join(named) or "whole wall",
                prod(part.fraction for part in chosen),
                fsum(part.resistance for part in chosen),
            )
        )
    return tuple(paths)


def crossed_by_steel(assembly: Assembly) -> bool:
    """True where steel framing crosses one of the planes."""
    return any(
        plane.studs is not None or any(part.kind is PartKind.STEEL for part in plane.parts) for plane in assembly.planes
    )


def missing_note(assembly: Assembly) -> tuple[str, ...]:
    """The warning that a result carries where layers are unknown."""
    if not assembly.missing:
        return ()
    return (f"Counted as no resistance, since not known: {', '.join(assembly.missing)}; the real U-value is lower.",)
