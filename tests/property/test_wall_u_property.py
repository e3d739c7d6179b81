"""U-values of walls from their records: between their limits, and never lower for more framing or better conductors."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from takeoff.envelope.assemblies import heat_of
from takeoff.job import Job, read_job
from takeoff.model import Balance, Cavity, LayerTakeoff, Method, WallTakeoff
from takeoff.thermal import TransmittanceMethod
from tests.records_builder import DEPTH, cavity, layer_takeoff, plain_wall

NET = 5.76 - 2.0
"""m2, stud layer of the plain wall of tests/records_builder without its door."""
NEAR = 1.0 + 1e-9
conductivities = st.floats(0.02, 0.3)
fractions = st.floats(0.02, 0.9)


def wall(filled_share: float, *, missed: float = 0.0) -> WallTakeoff:
    """The plain wall with cavities that cover a share of its net area; missed: the part of them that is not filled."""
    area = filled_share * NET

    def bay(number: int, share: float, method: Method) -> Cavity:
        return cavity(number, box(0.0, 0.0, share * area / 2.0, 2.0), "WALL-A", method=method)

    bays = tuple(
        bay(number, share, method)
        for number, share, method in ((1, 1.0 - missed, Method.BLOW), (2, missed, Method.NONE))
        if share > 0.0
    )
    taken = layer_takeoff("WALL-A")
    volume = sum(each.volume for each in bays)
    framing = NET - volume / DEPTH
    layer: LayerTakeoff = replace(
        taken, cavities=bays, framing_area=framing,
        balance=Balance(5.76 * DEPTH, 2.0 * DEPTH, framing * DEPTH, volume, 0.0),
    )  # fmt: skip
    return replace(plain_wall(), layers=(layer,))


def job(fill: float, framing: float, method: str = "handbook") -> Job:
    return read_job(
        f'[fibre]\nconductivity = "{fill!r} W/(m K)"\n[thermal]\nmethod = "{method}"\n'
        f'framing_conductivity = "{framing!r} W/(m K)"\n'
    )


def u_of(result: WallTakeoff, made: Job) -> float:
    heat = heat_of(result, result.layers, made, outside_far=True)
    assert heat.transmittances, heat.reason
    return heat.transmittances[0].u


@settings(max_examples=60, deadline=None)
@given(fractions, conductivities, st.floats(0.05, 0.5))
def test_u_lies_between_the_two_limits_whatever_the_framing(share: float, fill: float, framing: float) -> None:
    result = wall(share)
    heat = heat_of(result, result.layers, job(fill, framing, "iso_6946"), outside_far=True)
    answer = heat.transmittances[0]
    assert answer.method is TransmittanceMethod.COMBINED
    assert answer.upper is not None
    assert answer.lower is not None
    assert answer.lower <= answer.upper * NEAR
    assert 1.0 / answer.upper <= answer.u * NEAR
    assert answer.u <= NEAR / answer.lower
    by_method = {each.method: each.u for each in heat.transmittances}
    assert by_method[TransmittanceMethod.PARALLEL_PATH] == pytest.approx(1.0 / answer.upper)
    assert by_method[TransmittanceMethod.ISOTHERMAL_PLANES] == pytest.approx(1.0 / answer.lower)


@settings(max_examples=60, deadline=None)
@given(fractions, fractions, st.floats(0.02, 0.1), st.sampled_from(["handbook", "iso_6946"]))
def test_more_framing_never_lowers_u_where_wood_conducts_better(
    one: float, other: float, fill: float, way: str
) -> None:
    less, more = sorted((one, other), reverse=True)
    made = job(fill, 0.12, way)
    assert u_of(wall(less), made) <= u_of(wall(more), made) * NEAR


@settings(max_examples=60, deadline=None)
@given(fractions, conductivities, conductivities, st.sampled_from(["handbook", "iso_6946"]))
def test_a_better_conductor_never_lowers_u(share: float, one: float, other: float, way: str) -> None:
    low, high = sorted((one, other))
    assert u_of(wall(share), job(low, 0.12, way)) <= u_of(wall(share), job(high, 0.12, way)) * NEAR
    framing_low, framing_high = max(low, 0.05), max(high, 0.05)
    assert u_of(wall(share), job(0.04, framing_low, way)) <= u_of(wall(share), job(0.04, framing_high, way)) * NEAR


@settings(max_examples=60, deadline=None)
@given(fractions, st.floats(0.01, 0.99))
def test_a_missed_cavity_costs_just_what_the_wall_loses_by_it(share: float, missed: float) -> None:
    """By parallel path heat adds up over the pieces: the excess of the missed ones is the difference of the walls."""
    made = job(0.036, 0.12)
    whole, holed = wall(share), wall(share, missed=missed)
    heat = heat_of(holed, holed.layers, made, outside_far=True)
    excess = sum(row.flow.excess for row in heat.cavities)
    assert excess > 0.0
    assert (u_of(holed, made) - u_of(whole, made)) * NET == pytest.approx(excess, rel=1e-6)
