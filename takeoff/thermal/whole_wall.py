"""The U-value of a whole wall: which method applies, why, and the other answers beside it."""

from __future__ import annotations

from enum import StrEnum

from takeoff.thermal.assembly import Assembly, Part, PartKind, Plane, Transmittance, crossed_by_steel
from takeoff.thermal.combined_method import combined_method
from takeoff.thermal.errors import MethodNotApplicableError, ThermalError
from takeoff.thermal.films import FilmRule, air_layer_resistance
from takeoff.thermal.parallel_path import isothermal_planes, parallel_path
from takeoff.thermal.steel import steel_by_table
from takeoff.thermal.steel_zones import steel_by_zones
from takeoff.thermal.tables import needed, table


class Rule(StrEnum):
    """Whose methods a statement follows."""

    HANDBOOK = "handbook"
    """ASHRAE Handbook: parallel path for wood; ASHRAE 90.1 table for steel."""
    ISO = "iso_6946"
    """ISO 6946 combined method for wood; a published correction for steel, which ISO 6946 leaves out."""


class Grade(StrEnum):
    """Grade of installation by the share of voids in the fill."""

    I = "I"  # noqa: E741 - the grade's own name
    II = "II"
    III = "III"


def film_rule(rule: Rule) -> FilmRule:
    """The surface films that belong to a rule, for `ResistanceSettings.films`."""
    return FilmRule.ISO if rule is Rule.ISO else FilmRule.HANDBOOK


def whole_wall_transmittances(assembly: Assembly, rule: Rule = Rule.HANDBOOK) -> tuple[Transmittance, ...]:
    """Every U-value that applies to a wall, the one that governs first.

    Wood or no frame: by `rule` parallel path or the combined method, then the other two. Steel: the 90.1 table, then
    the zone method, each only where it covers the studs; never a parallel path.

    Raises MethodNotApplicableError where no method covers the wall.
    """
    if not crossed_by_steel(assembly):
        answers = (parallel_path(assembly), combined_method(assembly), isothermal_planes(assembly))
        return answers if rule is Rule.HANDBOOK else (answers[1], answers[0], answers[2])
    found: list[Transmittance] = []
    refusals: list[str] = []
    for method in (steel_by_table, steel_by_zones):
        try:
            found.append(method(assembly))
        except MethodNotApplicableError as error:
            refusals.append(str(error))
    if not found:
        raise MethodNotApplicableError(" ".join(refusals))
    return tuple(found)


def whole_wall_transmittance(assembly: Assembly, rule: Rule = Rule.HANDBOOK) -> Transmittance:
    """The U-value that governs; see `whole_wall_transmittances`."""
    return whole_wall_transmittances(assembly, rule)[0]


def void_fraction(grade: Grade) -> float:
    """Share of the filled area that a grade of installation counts as void.

    Source: `installation_grades.csv` (a national-laboratory energy model; ANSI/RESNET/ICC 301 itself was not read).

    >>> void_fraction(Grade.II)
    0.02
    """
    for row in table("installation_grades"):
        if row["grade"] == grade:
            return needed(row, "void_fraction")
    raise ThermalError(f"There is no void fraction for grade {grade}.")


def with_grade(plane: Plane, grade: Grade, depth: float) -> Plane:
    """A stud layer with the voids of a grade of installation: that share of its filled parts becomes unfilled.

    `depth` in m is the stud layer's; the void counts as an unventilated air layer. Blown and hand-filled parts alike.
    """
    share = void_fraction(grade)
    fills = (PartKind.FILLED, PartKind.BATT)
    filled = sum(part.fraction for part in plane.parts if part.kind in fills)
    if share == 0.0 or filled == 0.0:
        return plane
    kept = [
        Part(part.name, part.kind, part.fraction * (1.0 - share), part.resistance, part.source)
        if part.kind in fills
        else part
        for part in plane.parts
    ]
    void = Part(
        f"voids of grade {grade}", PartKind.UNFILLED, filled * share, air_layer_resistance(depth),
        "ISO 6946:2007 Table 2 (read in a transcription)",
    )  # fmt: skip
    return Plane(plane.name, (*kept, void), plane.studs, plane.continuous_insulation)
