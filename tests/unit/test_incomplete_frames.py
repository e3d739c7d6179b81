"""Frames that cover only part of their wall's body: what lies beyond is told and kept apart, and nothing gets lost."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
import shapely
from shapely import Polygon, box

from geometry.tolerances import DEFAULT_TOLERANCES
from takeoff.cavities import CavityPlace, take_off_layer
from takeoff.cavity_kinds import FillLimits
from takeoff.finding import Finding, Severity
from takeoff.framing.modelled import read_frame
from takeoff.model import CavityKind, LayerTakeoff, Method
from tests.frame_builder import DEPTH, HEIGHT, Piece, T, layer_of, parts_of, piece, plain, plates, shifted, studs

LENGTH = 3.6 + T
BAY = (0.6 - T) * (HEIGHT - 2 * T) * DEPTH


def taken(pieces: Sequence[Piece], body: Polygon) -> LayerTakeoff:
    frame = read_frame(layer_of(parts_of(pieces), body))
    assert frame is not None
    place = CavityPlace("", FillLimits(0.089, 0.025, True, ""), lambda points: [""] * len(points))
    return take_off_layer(frame, place, DEFAULT_TOLERANCES)


def outside(one: LayerTakeoff) -> list[Finding]:
    return [finding for finding in one.frame.findings if finding.code == "outside-frame"]


def bays(one: LayerTakeoff) -> list[float]:
    kept = (CavityKind.SLIVER, CavityKind.OPENING_GAP)
    return [cavity.volume for cavity in one.cavities if cavity.kind not in kept]


@pytest.mark.parametrize(
    ("body", "place", "area"),
    [
        (box(0, 0, LENGTH, HEIGHT + 0.3), "above it", 0.3 * LENGTH),
        (box(0, -0.25, LENGTH, HEIGHT), "below it", 0.25 * LENGTH),
        (box(0, 0, LENGTH + 0.5, HEIGHT), "past its last member", 0.5 * HEIGHT),
        (box(-0.14, 0, LENGTH, HEIGHT), "before its first member", 0.14 * HEIGHT),
    ],
)
def test_what_lies_beyond_the_frame_is_no_bay_but_stays_in_the_balance(body: Polygon, place: str, area: float) -> None:
    one = taken(plain(LENGTH), body)
    assert bays(one) == pytest.approx([BAY] * 6, rel=1e-9)
    (finding,) = outside(one)
    assert place in finding.message
    assert finding.measured == pytest.approx(area, rel=1e-9)
    assert f"{area * DEPTH:.4f} m3" in finding.message
    assert one.balance.openings == pytest.approx(area * DEPTH, rel=1e-9)
    assert one.balance.gross == pytest.approx(body.area * DEPTH, rel=1e-9)
    assert one.balance.residual < 1e-12
    (listed,) = [cavity for cavity in one.cavities if cavity.kind is CavityKind.OPENING_GAP]
    assert listed.method is Method.NONE
    assert listed.reason.startswith("outside the modelled frame")
    assert finding.element_id == "wall/outside1"


def test_the_bays_keep_their_kind_beside_what_lies_beyond() -> None:
    one = taken(plain(LENGTH), box(0, -0.2, LENGTH, HEIGHT + 0.3))
    kinds = [cavity.kind for cavity in one.cavities if cavity.kind is not CavityKind.OPENING_GAP]
    assert kinds == [CavityKind.FULL_HEIGHT] * 6
    assert len(outside(one)) == 2


def test_a_body_some_millimetres_higher_than_its_frame_leaves_a_joint_to_seal() -> None:
    one = taken(plain(LENGTH), box(0, 0, LENGTH, HEIGHT + 0.004))
    assert outside(one) == []
    (sliver,) = [cavity for cavity in one.cavities if cavity.kind is CavityKind.SLIVER]
    assert sliver.volume == pytest.approx(0.004 * LENGTH * DEPTH, rel=1e-9)


def test_a_body_a_centimetre_higher_is_told_as_an_information() -> None:
    (finding,) = outside(taken(plain(LENGTH), box(0, 0, LENGTH, HEIGHT + 0.01)))
    assert finding.severity is Severity.INFO


def test_where_all_top_plates_are_missing_the_bays_stay_apart() -> None:
    pieces = [one for one in plain(LENGTH) if one[0] != "top_plate"]
    one = taken(pieces, box(0, 0, LENGTH, HEIGHT))
    assert bays(one) == pytest.approx([BAY] * 6, rel=1e-9)
    (finding,) = outside(one)
    assert "no plate closes 6 bays" in finding.message


def test_a_band_above_the_plates_does_not_run_into_the_one_bay_that_has_none() -> None:
    pieces = [one for one in plain(LENGTH) if one[0] != "top_plate"]
    pieces += [
        ("top_plate", piece(0, HEIGHT - T, 1.2 + T, HEIGHT)),
        ("top_plate", piece(1.8, HEIGHT - T, LENGTH, HEIGHT)),
    ]
    one = taken(pieces, box(0, 0, LENGTH, HEIGHT + 0.3))
    open_bay = (0.6 - T) * (HEIGHT - T) * DEPTH
    assert sorted(bays(one)) == pytest.approx([BAY] * 5 + [open_bay], rel=1e-9)
    (finding,) = outside(one)
    assert finding.measured == pytest.approx(0.3 * LENGTH, rel=1e-9)
    assert "no plate closes 1 bay" in finding.message


def test_the_rest_of_a_bay_that_runs_on_upwards_stays_with_it() -> None:
    pieces = [one for one in plain(LENGTH) if one[0] != "top_plate"]
    pieces += [
        ("top_plate", piece(0, HEIGHT - T, 1.2 + T, HEIGHT)),
        ("top_plate", piece(1.8, HEIGHT - T, LENGTH, HEIGHT)),
    ]
    body = shapely.union(box(0, 0, LENGTH, HEIGHT), box(1.2 + T, 0, 1.8, HEIGHT + 0.4))
    assert isinstance(body, Polygon)
    one = taken(pieces, body)
    assert outside(one) == []
    tall = (0.6 - T) * (HEIGHT - T + 0.4) * DEPTH
    assert sorted(bays(one)) == pytest.approx([BAY] * 5 + [tall], rel=1e-9)


def test_a_raked_body_over_level_plates_leaves_a_triangle_outside() -> None:
    body = Polygon([(0, 0), (LENGTH, 0), (LENGTH, HEIGHT + 0.8), (0, HEIGHT)])
    one = taken(plain(LENGTH), body)
    assert bays(one) == pytest.approx([BAY] * 6, rel=1e-9)
    (finding,) = outside(one)
    assert finding.measured == pytest.approx(0.4 * LENGTH, rel=1e-6)


def test_a_frame_over_a_frame_keeps_the_edge_of_the_floor_and_the_band_above_apart() -> None:
    upper = shifted(plain(LENGTH), 0.0, HEIGHT + 0.3)
    one = taken([*plain(LENGTH), *upper], box(0, 0, LENGTH, 2 * HEIGHT + 0.5))
    assert bays(one) == pytest.approx([BAY] * 12, rel=1e-9)
    (finding,) = outside(one)
    assert finding.measured == pytest.approx(0.2 * LENGTH, rel=1e-9)
    assert one.balance.residual < 1e-12


def test_a_lower_frame_beside_a_higher_one_leaves_what_lies_over_it_outside() -> None:
    low = [*plates(1.8 + T), *studs([0.0, 0.6, 1.2, 1.8])]
    high = shifted([*plates(1.8, height=2.9), *studs([0.0, 0.6, 1.2, 1.8 - T], top=2.9 - T)], 1.8 + T, 0.0)
    one = taken([*low, *high], box(0, 0, LENGTH, 2.9))
    (finding,) = outside(one)
    assert finding.measured == pytest.approx(0.5 * (1.8 + T), rel=1e-9)
    assert len(bays(one)) == 6
