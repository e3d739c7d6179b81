"""What must hold for every wall: bounds, monotony, and no dependence on how the input is ordered."""

from __future__ import annotations

from math import prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from takeoff.thermal import (
    Assembly,
    Grade,
    MethodNotApplicableError,
    Part,
    PartKind,
    Patch,
    Plane,
    SteelStuds,
    Surroundings,
    area_weighted,
    cavity_heat_flows,
    combined_method,
    design_value,
    effective_resistance,
    film_plane,
    heat_paths,
    isothermal_planes,
    parallel_path,
    parts_from_patches,
    resistance_beside,
    whole_wall_transmittances,
    with_grade,
    zone_transmittance,
)

resistances = st.floats(0.01, 12.0)
areas = st.floats(0.01, 50.0)
fractions = st.floats(0.0, 1.0)


@st.composite
def planes(draw: st.DrawFn) -> Plane:
    kinds = [PartKind.FILLED, PartKind.BATT, PartKind.UNFILLED, PartKind.WOOD, PartKind.HEADER]
    patches = [
        Patch(str(n), draw(st.sampled_from(kinds)), draw(areas), draw(resistances))
        for n in range(draw(st.integers(1, 4)))
    ]
    return Plane("plane", parts_from_patches(patches))


@st.composite
def walls(draw: st.DrawFn) -> Assembly:
    return Assembly((film_plane("inside", 0.13), *draw(st.lists(planes(), min_size=1, max_size=4))))


def framed(fraction: float, cavity: float, stud: float, beside: float) -> Assembly:
    parts = (Part("cavity", PartKind.FILLED, 1.0 - fraction, cavity), Part("wood", PartKind.WOOD, fraction, stud))
    return Assembly((film_plane("beside", beside), Plane("studs", parts)))


@given(walls())
def test_combined_method_lies_between_its_limits_and_upper_is_never_below_lower(wall: Assembly) -> None:
    found = combined_method(wall)
    assert found.upper is not None
    assert found.lower is not None
    assert found.upper >= found.lower * (1.0 - 1e-12)
    assert found.lower * (1.0 - 1e-12) <= found.resistance <= found.upper * (1.0 + 1e-12)
    assert parallel_path(wall).u <= found.u * (1.0 + 1e-12)
    assert found.u <= isothermal_planes(wall).u * (1.0 + 1e-12)


@given(walls())
def test_u_lies_between_that_of_its_best_and_its_worst_path(wall: Assembly) -> None:
    paths = heat_paths(wall)
    best, worst = max(path.resistance for path in paths), min(path.resistance for path in paths)
    for answer in whole_wall_transmittances(wall):
        assert 1.0 / best * (1.0 - 1e-9) <= answer.u <= 1.0 / worst * (1.0 + 1e-9)


@given(walls())
def test_fractions_of_all_paths_add_up_to_one(wall: Assembly) -> None:
    assert sum(path.fraction for path in heat_paths(wall)) == pytest.approx(1.0, abs=1e-9)
    assert len(heat_paths(wall)) == prod(len(plane.parts) for plane in wall.planes)


@given(walls(), st.randoms(use_true_random=False))
def test_order_of_layers_and_of_parts_changes_nothing(wall: Assembly, random) -> None:
    shuffled = []
    for plane in wall.planes:
        parts = list(plane.parts)
        random.shuffle(parts)
        shuffled.append(Plane(plane.name, tuple(parts)))
    random.shuffle(shuffled)
    again = Assembly(tuple(shuffled))
    for method in (parallel_path, isothermal_planes, combined_method):
        assert method(again).u == pytest.approx(method(wall).u, rel=1e-12)


@given(fractions, fractions, st.floats(1.5, 10.0), st.floats(0.1, 1.5), resistances)
def test_more_framing_never_lowers_u(a: float, b: float, cavity: float, stud: float, beside: float) -> None:
    less, more = sorted((a, b))
    for method in (parallel_path, isothermal_planes, combined_method):
        low, high = (method(framed(fraction, cavity, stud, beside)).u for fraction in (less, more))
        assert low <= high * (1.0 + 1e-12)


@given(st.floats(0.015, 3.0), st.floats(0.015, 3.0), fractions, st.floats(0.02, 0.4), resistances)
def test_a_better_conductor_never_lowers_u(a: float, b: float, fraction: float, depth: float, beside: float) -> None:
    low, high = sorted((a, b))
    for method in (parallel_path, isothermal_planes, combined_method):
        better = method(framed(fraction, depth / low, depth / 0.13, beside)).u
        worse = method(framed(fraction, depth / high, depth / 0.13, beside)).u
        assert better <= worse * (1.0 + 1e-12)


@given(walls(), resistances)
def test_one_more_layer_never_raises_u(wall: Assembly, extra: float) -> None:
    thicker = Assembly((*wall.planes, film_plane("extra", extra)))
    for method in (parallel_path, isothermal_planes, combined_method):
        assert method(thicker).u < method(wall).u


@given(planes(), st.floats(0.02, 0.3))
def test_a_worse_grade_never_lowers_u_where_the_fill_beats_air(plane: Plane, depth: float) -> None:
    fills = (PartKind.FILLED, PartKind.BATT)
    if any(part.kind in fills and part.resistance < 0.2 for part in plane.parts):
        return
    by_grade = [
        parallel_path(Assembly((film_plane("films", 0.17), with_grade(plane, grade, depth)))).u
        for grade in (Grade.I, Grade.II, Grade.III)
    ]
    assert by_grade == sorted(by_grade)


@given(st.lists(st.tuples(areas, resistances), min_size=1, max_size=6), resistances, resistances)
def test_heat_of_the_cavities_is_the_heat_of_the_wall(
    rows: list[tuple[float, float]], beside: float, filled: float
) -> None:
    patches = [Patch(str(n), PartKind.UNFILLED, area, r) for n, (area, r) in enumerate(rows)]
    plane = Plane("studs", parts_from_patches(patches))
    wall = Assembly((film_plane("beside", beside), plane))
    flows = cavity_heat_flows(patches, resistance_beside(wall, plane), filled)
    total = sum(area for area, _ in rows)
    assert sum(flow.heat_flow for flow in flows) == pytest.approx(parallel_path(wall).u * total, rel=1e-9)
    if_filled = total / (beside + filled)
    assert sum(flow.excess for flow in flows) == pytest.approx(
        parallel_path(wall).u * total - if_filled, abs=1e-9 * total
    )


@given(st.lists(st.tuples(areas, st.floats(0.05, 5.0)), min_size=1, max_size=8))
def test_building_value_lies_between_its_walls(walls_: list[tuple[float, float]]) -> None:
    found = area_weighted(walls_)
    values = [u for _, u in walls_]
    assert min(values) * (1.0 - 1e-9) <= found.u <= max(values) * (1.0 + 1e-9)


@given(st.floats(0.4, 1.0), st.floats(0.0885, 0.3), st.floats(0.0, 8.0), st.floats(0.0, 8.0))
def test_effective_resistance_rises_with_the_rating_and_never_exceeds_it(
    spacing: float, depth: float, a: float, b: float
) -> None:
    low, high = sorted((a, b))
    studs = SteelStuds(spacing, depth)
    assert effective_resistance(studs, low).value <= effective_resistance(studs, high).value + 1e-12
    assert effective_resistance(studs, high).value <= high + 1e-12


@given(st.floats(0.5, 4.5), st.floats(0.0, 1.5), st.floats(0.3, 1.0), st.sampled_from([0.4064, 0.6096]))
def test_zone_method_lies_between_its_two_paths(cavity: float, foam: float, others: float, spacing: float) -> None:
    found = zone_transmittance(SteelStuds(spacing, 0.0889), cavity, Surroundings(foam, others))
    assert 0.0 <= found.stud_share <= 1.0
    assert 1.0 / found.cavity_path * (1 - 1e-9) <= found.u <= 1.0 / found.stud_path * (1 + 1e-9)


@given(planes())
def test_steel_never_gets_a_parallel_path(plane: Plane) -> None:
    steel = Plane("studs", plane.parts, SteelStuds(0.4064, 0.0889))
    with pytest.raises(MethodNotApplicableError):
        parallel_path(Assembly((film_plane("films", 0.17), steel)))


@given(st.text(max_size=300), st.text(max_size=40))
def test_any_material_name_is_answered_with_a_reason(name: str, category: str) -> None:
    found = design_value(name, category)
    assert found.reason
    assert found.conductivity is None or found.conductivity > 0.0
