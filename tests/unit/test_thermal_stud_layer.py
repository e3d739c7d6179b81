"""Cavities of a stud layer as patches of wall."""

from __future__ import annotations

import pytest
from shapely import box

from takeoff.model import Cavity, CavityKind, Method
from takeoff.thermal import (
    Assembly,
    Fibre,
    PartKind,
    Plane,
    StudLayerFill,
    ThermalError,
    cavity_heat_flows,
    fibre_named,
    film_plane,
    framing_fraction,
    parallel_path,
    parts_from_patches,
    stud_layer_patches,
)

FILL = StudLayerFill(fibre_named("glass_closed_cavity_2021"), 33.0, batt_conductivity=0.04)
DEPTH = 0.14


def cavity(number: int, method: Method, width: float, depth: float = DEPTH, kind: CavityKind = CavityKind.FULL_HEIGHT):
    outline = box(0.0, 0.0, width, 2.4)
    return Cavity(
        f"w/c{number:02}", "w", "w", "ground floor", "room", kind, method, "built for a test", outline, 0.0, depth,
        outline.area, outline.area * depth, width, (0.0, 0.0, 0.0),
    )  # fmt: skip


def test_blown_hand_filled_and_missed_cavities_become_patches_and_the_rest_is_framing() -> None:
    cavities = (cavity(1, Method.BLOW, 0.36), cavity(2, Method.BATT, 0.05), cavity(3, Method.NONE, 0.1))
    found = stud_layer_patches(cavities, 2.4 * 0.6, DEPTH, FILL)
    assert [patch.kind for patch in found.patches] == [
        PartKind.FILLED, PartKind.BATT, PartKind.UNFILLED, PartKind.WOOD,
    ]  # fmt: skip
    assert [patch.resistance for patch in found.patches] == pytest.approx([0.14 / 0.036, 3.5, 0.18, 0.14 / 0.13])
    assert sum(patch.area for patch in found.patches) == pytest.approx(2.4 * 0.6)
    assert framing_fraction(Plane("studs", parts_from_patches(found.patches))) == pytest.approx(0.09 / 0.6)
    assert found.findings == ()


def test_a_cavity_is_worth_its_fill_at_its_mean_depth() -> None:
    shallow = stud_layer_patches((cavity(1, Method.BLOW, 0.36, 0.1),), 2.0, DEPTH, FILL)
    assert shallow.patches[0].resistance == pytest.approx(0.1 / 0.036)


def test_cavities_filled_before_the_sheathing_hold_batts_and_gaps_are_no_wall() -> None:
    pocket = cavity(1, Method.BEFORE_SHEATHING, 0.05, kind=CavityKind.CLOSED_POCKET)
    gap = cavity(2, Method.NONE, 0.9, kind=CavityKind.OPENING_GAP)
    found = stud_layer_patches((pocket, gap), 2.4 * 0.2, DEPTH, FILL)
    assert [patch.kind for patch in found.patches] == [PartKind.BATT, PartKind.WOOD]


def test_a_depth_that_the_fibre_s_source_does_not_cover_counts_as_air_and_is_told() -> None:
    label = Fibre("label", None, None, None, None, "an invented label", ((0.089, 2.5), (0.14, 3.9)))
    found = stud_layer_patches((cavity(1, Method.BLOW, 0.36, 0.05),), 2.0, DEPTH, StudLayerFill(label))
    assert found.patches[0].kind is PartKind.UNFILLED
    assert [finding.code for finding in found.findings] == ["fibre-resistance-unknown"]
    assert found.findings[0].element_id == "w/c01"


def test_cavities_that_cover_more_than_the_wall_are_told() -> None:
    found = stud_layer_patches((cavity(1, Method.BLOW, 1.0),), 2.0, DEPTH, FILL)
    assert [finding.code for finding in found.findings] == ["cavities-cover-more-than-the-wall"]
    assert found.patches[-1].area == 0.0


def test_steel_framing_is_named_as_steel_and_metal_is_no_wood() -> None:
    steel = StudLayerFill(FILL.fibre, steel=True)
    assert stud_layer_patches((), 1.0, DEPTH, steel).patches[-1].kind is PartKind.STEEL
    with pytest.raises(ThermalError, match="metal"):
        stud_layer_patches((), 1.0, DEPTH, StudLayerFill(FILL.fibre, framing_material="Steel stud"))
    with pytest.raises(ThermalError, match="positive"):
        stud_layer_patches((), 0.0, DEPTH, FILL)


def test_a_missed_bay_costs_what_the_whole_wall_loses_by_it() -> None:
    """Two routes to one figure: the cavity's excess, and the wall's U with and without it, times the area."""
    area = 2.4 * 1.6
    bays = [cavity(n, Method.BLOW, 0.36) for n in range(1, 4)]
    missed = [*bays[:2], cavity(3, Method.NONE, 0.36)]
    full, short = (stud_layer_patches(found, area, DEPTH, FILL).patches for found in (bays, missed))
    films = film_plane("films", 0.17)
    u_full, u_short = (
        parallel_path(Assembly((films, Plane("studs", parts_from_patches(patches))))).u for patches in (full, short)
    )
    excess = sum(flow.excess for flow in cavity_heat_flows(short, 0.17, full[0].resistance))
    assert excess == pytest.approx(area * (u_short - u_full), rel=1e-9)
    assert excess > 0.0
