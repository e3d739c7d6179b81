"""The units that a model file declares, as factors to SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from takeoff.errors import ReadingError
from takeoff.reading.faults import BROKEN_ENTITY, ElementFault

PREFIXES = {
    "EXA": 1e18,
    "PETA": 1e15,
    "TERA": 1e12,
    "GIGA": 1e9,
    "MEGA": 1e6,
    "KILO": 1e3,
    "HECTO": 1e2,
    "DECA": 1e1,
    "DECI": 1e-1,
    "CENTI": 1e-2,
    "MILLI": 1e-3,
    "MICRO": 1e-6,
    "NANO": 1e-9,
    "PICO": 1e-12,
    "FEMTO": 1e-15,
    "ATTO": 1e-18,
}
"""SI prefixes as IFC spells them (ISO 10303-41, si_prefix)."""
POWERS = {"SQUARE_METRE": 2, "CUBIC_METRE": 3}
"""The prefix of an area or volume unit belongs to the metre in it (ISO 10303-41): MILLI SQUARE_METRE is mm2."""
SMALLEST_UNIT = 1e-6
LARGEST_UNIT = 1e3
"""Nobody draws a building in units below a micrometre or above a kilometre."""
MAX_NESTING = 8
"""Conversion upon conversion; real files have one."""


@dataclass(frozen=True, slots=True)
class FileUnits:
    """Factors from the file's own units to SI; None where the file assigns no such unit."""

    length: float
    length_name: str
    area: float | None
    volume: float | None
    conductivity: float
    """To W/(m K)."""
    transmittance: float
    """To W/(m2 K)."""


def read_units(file: Any, path: str) -> FileUnits:
    """The units that the project assigns.

    Raises ReadingError when there is no project, no length unit, or one in which nobody draws a building.
    """
    assigned = _assigned(file, path)
    lengths, angles = assigned.get("LENGTHUNIT"), assigned.get("PLANEANGLEUNIT")
    if lengths is None:
        raise ReadingError(path, "the model has no length unit", "export it with an IfcUnitAssignment that has one")
    length, name = _strictly(lengths, path), unit_name(lengths)
    if angles is not None:
        # Not used here, but the kernel falls over an angle unit that is broken.
        _strictly(angles, path)
    if not SMALLEST_UNIT <= length <= LARGEST_UNIT:
        raise ReadingError(
            path,
            f"the length unit {name!r} of {length:g} m is implausible for a building",
            "export the model in millimetres, metres, feet or inches",
        )
    return FileUnits(
        length=length,
        length_name=name,
        area=_factor_of(assigned, "AREAUNIT", None),
        volume=_factor_of(assigned, "VOLUMEUNIT", None),
        conductivity=_factor_of(assigned, "THERMALCONDUCTANCEUNIT", 1.0) or 1.0,
        transmittance=_factor_of(assigned, "THERMALTRANSMITTANCEUNIT", 1.0) or 1.0,
    )


def factor(unit: Any, nesting: int = 0) -> float:
    """Factor from a unit to SI: any SI prefix, conversion-based and derived units.

    Raises ElementFault for a unit without a fixed size, a circular one or one that is not positive.
    """
    if nesting > MAX_NESTING:
        raise ElementFault("its conversion refers to itself")
    if unit.is_a("IfcSIUnit"):
        prefix = PREFIXES[unit.Prefix] if unit.Prefix else 1.0
        return prefix ** POWERS.get(unit.Name, 1)
    if unit.is_a("IfcConversionBasedUnit"):
        measure = unit.ConversionFactor
        value = float(measure.ValueComponent.wrappedValue) * factor(measure.UnitComponent, nesting + 1)
        if not 0.0 < value < float("inf"):
            raise ElementFault("its conversion factor is not positive")
        return value
    if unit.is_a("IfcDerivedUnit"):
        product = 1.0
        for element in unit.Elements:
            product *= factor(element.Unit, nesting + 1) ** int(element.Exponent)
        return product
    raise ElementFault(f"a {unit.is_a()} has no fixed size")


def unit_name(unit: Any) -> str:
    """The unit as the file names it, e.g. MILLIMETRE or FOOT."""
    if unit.is_a("IfcSIUnit"):
        return f"{unit.Prefix or ''}{unit.Name}"
    return str(unit.Name or unit.is_a())


def _strictly(unit: Any, path: str) -> float:
    try:
        return factor(unit)
    except (ElementFault, *BROKEN_ENTITY) as error:
        raise ReadingError(
            path, f"the unit #{unit.id()} cannot be understood ({error})", "export the model in metres or feet"
        ) from error


def _assigned(file: Any, path: str) -> dict[str | None, Any]:
    projects = file.by_type("IfcProject")
    if not projects:
        raise ReadingError(path, "the model has no IfcProject", "export the whole model, not a fragment")
    assignment = None
    try:
        assignment = next((project.UnitsInContext for project in projects if project.UnitsInContext), None)
        units = list(assignment.Units or ()) if assignment else []
        kinds: dict[str | None, Any] = {}
        for unit in units:
            # Monetary units have no kind; derived and named ones do.
            kind = None if unit.is_a("IfcMonetaryUnit") else unit.UnitType
            if kind in kinds and kind in ("LENGTHUNIT", "PLANEANGLEUNIT"):
                raise ReadingError(path, f"the model has two units of kind {kind}", "export it with one")
            kinds.setdefault(kind, unit)
    except BROKEN_ENTITY as error:
        raise ReadingError(path, f"the unit assignment is broken ({error})", "export the model again") from error
    return kinds


def _factor_of(assigned: dict[str | None, Any], kind: str, default: float | None) -> float | None:
    unit = assigned.get(kind)
    if unit is None:
        return default
    try:
        return factor(unit)
    except (ElementFault, *BROKEN_ENTITY):
        return default
