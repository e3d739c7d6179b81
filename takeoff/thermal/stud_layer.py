"""From the cavities of a stud layer to the patches that heat sees: filled, filled by hand, missed, framing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from takeoff.finding import Finding, Severity
from takeoff.model import Cavity, CavityKind, Method
from takeoff.thermal.assembly import PartKind, Patch
from takeoff.thermal.conductivities import design_value_by_key
from takeoff.thermal.errors import ThermalError
from takeoff.thermal.fibre import Fibre, FibreResistance, fibre_resistance
from takeoff.thermal.films import air_layer_resistance
from takeoff.thermal.resistances import DEEPEST_AIR_LAYER, framing_resistance

OVERLAP = 1e-6
"""Relative to the net area: by how much cavities may cover more than the wall before it is a finding."""

STEP_SLACK = 1e-9
"""m; what arithmetic leaves of a depth that is exactly a step's."""

HAND_FILLED = frozenset({Method.BATT, Method.BEFORE_SHEATHING})


@dataclass(frozen=True, slots=True)
class FillStep:
    """What cavities up to a depth are filled with."""

    depth_to: float
    """m"""
    fibre: Fibre
    density: float | None = None
    """kg/m3 as blown"""


@dataclass(frozen=True, slots=True)
class StudLayerFill:
    """What the stud layer is filled and framed with."""

    fibre: Fibre
    density: float | None = None
    """kg/m3 as blown; None where the fibre's own range is taken as met."""
    batt_conductivity: float | None = None
    """W/(m K) of batts put in by hand; None for the table's light glass-fibre batt."""
    framing_material: str = "softwood"
    """Name of the wood framing's material; metal is refused unless `steel` is set."""
    steel: bool = False
    """True for steel framing."""
    framing_conductivity: float | None = None
    """W/(m K) of wood framing; None for the table's, by `framing_material`."""
    steps: tuple[FillStep, ...] = ()
    """By rising depth; the first that reaches a cavity's depth goes before `fibre` and `density`."""


@dataclass(frozen=True, slots=True)
class StudLayerPatches:
    """The stud layer's elevation in patches whose areas add up to its net area."""

    patches: tuple[Patch, ...]
    """One for each cavity in the order given, named by its id, then one for the framing."""
    findings: tuple[Finding, ...]


def blown_resistance(fill: StudLayerFill, depth: float) -> FibreResistance:
    """What a depth of blown fill is worth, m; by the step of `fill` that reaches that depth, else by its fibre."""
    if depth <= 0.0:
        return FibreResistance(None, fill.fibre.source, "the cavity has no depth")
    step = next((step for step in fill.steps if depth <= step.depth_to + STEP_SLACK), None)
    if step is not None:
        return fibre_resistance(step.fibre, depth, step.density)
    return fibre_resistance(fill.fibre, depth, fill.density)


def stud_layer_patches(
    cavities: Sequence[Cavity], net_area: float, depth: float, fill: StudLayerFill
) -> StudLayerPatches:
    """Patches of one stud layer.

    `net_area` in m2 is the layer's elevation less its openings, `depth` in m the layer's. Each cavity is worth its
    fill at its MEAN depth, volume over area: what blocking or a pipe takes from the depth counts as nothing, the safe
    side. Blown cavities are filled, those filled by hand (batt, or before the sheathing) hold batts, all others hold
    air. Gaps that are openings are left out. What no cavity covers is framing.

    Where the fibre's source gives no figure for a cavity, it counts as air and a finding says so.
    Raises ThermalError for a net area or a depth that is not positive.
    """
    if net_area <= 0.0 or depth <= 0.0:
        raise ThermalError("A stud layer needs a positive net area and depth.")
    patches: list[Patch] = []
    findings: list[Finding] = []
    for cavity in cavities:
        if cavity.kind is CavityKind.OPENING_GAP or cavity.area <= 0.0:
            continue
        patches.append(_patch(cavity, depth, fill, findings))
    framing = net_area - fsum(patch.area for patch in patches)
    if framing < -OVERLAP * net_area and not fill.steel:
        findings.append(
            Finding(
                "cavities-cover-more-than-the-wall",
                Severity.WARNING,
                "Cavities one behind the other cover more elevation than the stud layer has; the framing fraction for "
                "the U-value is taken as nothing: check the frame.",
                cavities[0].wall_id,
                measured=net_area - framing,
                limit=net_area,
                unit="m2",
            )
        )
    patches.append(_framing(max(framing, 0.0), depth, fill))
    return StudLayerPatches(tuple(patches), tuple(findings))


def _patch(cavity: Cavity, depth: float, fill: StudLayerFill, findings: list[Finding]) -> Patch:
    mean_depth = min(cavity.volume / cavity.area, depth)
    if cavity.method is Method.BLOW:
        found = blown_resistance(fill, mean_depth)
        if found.value is not None:
            return Patch(cavity.cavity_id, PartKind.FILLED, cavity.area, found.value, found.source)
        findings.append(
            Finding(
                "fibre-resistance-unknown",
                Severity.WARNING,
                f"No resistance for cavity {cavity.cavity_id}: {found.reason}. Counted as empty; give a fibre whose "
                "source covers it.",
                cavity.wall_id,
                cavity.cavity_id,
                measured=mean_depth,
                unit="m",
            )
        )
    elif cavity.method in HAND_FILLED:
        conductivity, source = _batt(fill)
        return Patch(cavity.cavity_id, PartKind.BATT, cavity.area, mean_depth / conductivity, source)
    air = air_layer_resistance(min(mean_depth, DEEPEST_AIR_LAYER))
    return Patch(cavity.cavity_id, PartKind.UNFILLED, cavity.area, air, "ISO 6946:2007 Table 2, unventilated air layer")


def _batt(fill: StudLayerFill) -> tuple[float, str]:
    if fill.batt_conductivity is not None:
        if fill.batt_conductivity <= 0.0:
            raise ThermalError("The conductivity of the batts must be positive.")
        return fill.batt_conductivity, "the job's batts"
    value = design_value_by_key("glass_wool")
    assert value.conductivity is not None
    return value.conductivity, value.source


def _framing(area: float, depth: float, fill: StudLayerFill) -> Patch:
    if fill.steel:
        steel = design_value_by_key("steel")
        assert steel.conductivity is not None
        return Patch("steel framing", PartKind.STEEL, area, depth / steel.conductivity, steel.source)
    if fill.framing_conductivity is not None:
        if fill.framing_conductivity <= 0.0:
            raise ThermalError("The conductivity of the framing must be positive.")
        return Patch("framing", PartKind.WOOD, area, depth / fill.framing_conductivity, "the job's framing")
    found = framing_resistance(depth, fill.framing_material)
    return Patch("framing", PartKind.WOOD, area, found.resistance, found.source)
