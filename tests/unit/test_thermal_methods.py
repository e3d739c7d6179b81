"""U-value methods, steel rules, heat flow of single cavities, and targets."""

from __future__ import annotations

import pickle

import pytest

from takeoff import thermal
from takeoff.thermal import (
    CHECK_LOCALLY,
    Assembly,
    Grade,
    HeatFlowDirection,
    MethodNotApplicableError,
    ModifiedZone,
    Part,
    PartKind,
    Patch,
    Plane,
    Rule,
    SteelStuds,
    Surroundings,
    ThermalError,
    TransmittanceMethod,
    Ventilation,
    air_gap_correction,
    air_layer_by_formula,
    air_layer_resistance,
    area_weighted,
    cavity_heat_flows,
    climate_zone,
    code_target,
    code_targets,
    combined_method,
    corrected_by_factor,
    effective_resistance,
    film_plane,
    framing_fraction,
    isothermal_planes,
    judge,
    judge_option,
    modified_zone,
    parallel_path,
    parts_from_patches,
    project_target,
    resistance_beside,
    steel_by_table,
    steel_by_zones,
    ventilation_class,
    wall_options,
    whole_wall_transmittance,
    whole_wall_transmittances,
    with_air_gaps,
    with_grade,
    zone_transmittance,
)

AROUND = (film_plane("inside", 0.13), film_plane("board", 0.05), film_plane("outside", 0.04))
PATCHES = (
    Patch("bay 1", PartKind.FILLED, 6.0, 3.8),
    Patch("narrow bay", PartKind.BATT, 1.0, 3.2),
    Patch("missed bay", PartKind.UNFILLED, 0.5, 0.18),
    Patch("framing", PartKind.WOOD, 2.0, 1.1),
    Patch("header", PartKind.HEADER, 0.5, 1.1),
)
STUDS_16 = SteelStuds(0.4064, 0.0889)


def wood_wall() -> Assembly:
    return Assembly((*AROUND, Plane("studs", parts_from_patches(PATCHES))))


def steel_wall(*parts: Part, studs: SteelStuds | None = STUDS_16) -> Assembly:
    return Assembly((*AROUND, Plane("studs", parts or (Part("fill", PartKind.FILLED, 1.0, 2.3),), studs)))


# ---------------------------------------------------------------- paths and fractions


def test_fractions_come_from_real_areas() -> None:
    plane = wood_wall().planes[-1]
    assert [part.fraction for part in plane.parts] == pytest.approx([0.6, 0.1, 0.05, 0.2, 0.05])
    assert framing_fraction(plane) == pytest.approx(0.25)


def test_parallel_path_adds_every_path_by_hand() -> None:
    by_hand = 0.6 / 4.02 + 0.1 / 3.42 + 0.05 / 0.40 + 0.25 / 1.32
    assert parallel_path(wood_wall()).u == pytest.approx(by_hand, rel=1e-12)


def test_isothermal_planes_average_the_bridged_layer_by_hand() -> None:
    by_hand = 0.22 + 1.0 / (0.6 / 3.8 + 0.1 / 3.2 + 0.05 / 0.18 + 0.25 / 1.1)
    assert isothermal_planes(wood_wall()).resistance == pytest.approx(by_hand, rel=1e-12)


def test_a_plane_must_be_covered_whole_and_by_real_figures() -> None:
    for parts in ((), (Part("a", PartKind.FILLED, 0.7, 1.0),), (Part("a", PartKind.FILLED, 1.0, -1.0),)):
        with pytest.raises(ThermalError):
            Plane("studs", parts)
    with pytest.raises(ThermalError):
        Plane("studs", (Part("a", PartKind.FILLED, float("nan"), 1.0),))


def test_patches_without_area_are_refused() -> None:
    with pytest.raises(ThermalError, match="all opening"):
        parts_from_patches([Patch("a", PartKind.FILLED, 0.0, 1.0)])
    with pytest.raises(ThermalError, match="negative"):
        parts_from_patches([Patch("a", PartKind.FILLED, -1.0, 1.0)])


def test_a_wall_without_any_resistance_is_refused() -> None:
    bare = Assembly((film_plane("nothing", 0.0),))
    for method in (parallel_path, isothermal_planes, combined_method):
        with pytest.raises(ThermalError, match="surface films"):
            method(bare)
    with pytest.raises(ThermalError):
        Assembly(())


def test_endless_paths_are_refused() -> None:
    parts = tuple(Part(str(n), PartKind.MATERIAL, 0.1, 1.0) for n in range(10))
    with pytest.raises(ThermalError, match="4096"):
        parallel_path(Assembly((Plane("a", parts), Plane("b", parts), Plane("c", parts), Plane("d", parts))))


def test_missing_layers_are_carried_into_the_answer() -> None:
    found = parallel_path(Assembly(wood_wall().planes, ("Rigid insulation",)))
    assert "Rigid insulation" in found.notes[0]


# ---------------------------------------------------------------- choice of method


def test_steel_is_refused_by_the_methods_for_wood() -> None:
    steel_part = (Part("fill", PartKind.FILLED, 0.99, 2.3), Part("stud", PartKind.STEEL, 0.01, 0.002))
    for wall in (steel_wall(), steel_wall(*steel_part, studs=None)):
        for method in (parallel_path, isothermal_planes, combined_method):
            with pytest.raises(MethodNotApplicableError, match="steel"):
                method(wall)


def test_wood_is_refused_by_the_methods_for_steel() -> None:
    for method in (steel_by_table, steel_by_zones):
        with pytest.raises(MethodNotApplicableError):
            method(wood_wall())


def test_each_rule_puts_its_own_method_first_and_says_why() -> None:
    handbook = whole_wall_transmittances(wood_wall())
    assert [answer.method for answer in handbook] == [
        TransmittanceMethod.PARALLEL_PATH,
        TransmittanceMethod.COMBINED,
        TransmittanceMethod.ISOTHERMAL_PLANES,
    ]
    assert whole_wall_transmittance(wood_wall(), Rule.ISO).method is TransmittanceMethod.COMBINED
    steel = whole_wall_transmittances(steel_wall(), Rule.ISO)
    assert [answer.method for answer in steel] == [TransmittanceMethod.STEEL_TABLE, TransmittanceMethod.STEEL_ZONES]
    assert all(answer.why and answer.source for answer in handbook + steel)


def test_steel_that_no_publication_covers_has_no_answer() -> None:
    with pytest.raises(MethodNotApplicableError, match="closer"):
        whole_wall_transmittance(steel_wall(studs=SteelStuds(0.2, 0.0889)))


def test_limits_far_apart_are_called_outside_the_combined_method() -> None:
    parts = (Part("fill", PartKind.FILLED, 0.5, 10.0), Part("bridge", PartKind.WOOD, 0.5, 0.1))
    found = combined_method(Assembly((film_plane("board", 2.0), Plane("studs", parts))))
    assert any("outside the method" in note for note in found.notes)


def test_air_gap_correction_is_added_only_where_it_counts() -> None:
    plain = combined_method(wood_wall())
    assert with_air_gaps(plain, 2.0, 0) == plain
    added = with_air_gaps(plain, plain.resistance, 2)
    assert added.u == pytest.approx(plain.u + 0.04)
    assert added.correction == pytest.approx(0.04)
    with pytest.raises(ThermalError, match="level"):
        air_gap_correction(4.0, 3.0, 3)


# ---------------------------------------------------------------- steel rules


def test_effective_resistance_between_rows_stays_on_the_safe_side() -> None:
    row = effective_resistance(STUDS_16, 2.28943239).value
    assert effective_resistance(SteelStuds(0.4064, 0.12), 2.28943239).value == pytest.approx(row)
    assert effective_resistance(SteelStuds(0.9, 0.0889), 2.28943239).value == pytest.approx(
        effective_resistance(SteelStuds(0.6096, 0.0889), 2.28943239).value
    )
    assert effective_resistance(STUDS_16, 9.0).value == pytest.approx(
        effective_resistance(STUDS_16, 2.7).value, rel=0.01
    )
    assert "capped" in effective_resistance(STUDS_16, 9.0).reason
    assert effective_resistance(STUDS_16, 0.0).value == 0.0


def test_metric_steel_studs_are_read_as_their_inch_rows() -> None:
    assert effective_resistance(SteelStuds(0.4, 0.089), 2.2).value == pytest.approx(
        effective_resistance(STUDS_16, 2.2).value
    )


def test_studs_outside_the_table_are_refused() -> None:
    with pytest.raises(MethodNotApplicableError, match="shallower"):
        effective_resistance(SteelStuds(0.4064, 0.064), 1.0)
    with pytest.raises(ThermalError, match="negative"):
        effective_resistance(STUDS_16, -1.0)
    with pytest.raises(ThermalError):
        corrected_by_factor(0.1, 1.0, 1.2)


def test_steel_without_spacing_is_asked_for_it() -> None:
    steel_part = (Part("fill", PartKind.FILLED, 0.9, 2.3), Part("stud", PartKind.STEEL, 0.1, 0.002))
    with pytest.raises(MethodNotApplicableError, match="spacing"):
        steel_by_table(steel_wall(*steel_part, studs=None))


def test_steel_share_is_reported_but_not_counted_twice() -> None:
    with_steel = steel_wall(Part("fill", PartKind.FILLED, 0.9, 2.3), Part("stud", PartKind.STEEL, 0.1, 0.002))
    assert steel_by_table(with_steel).u == pytest.approx(steel_by_table(steel_wall()).u, rel=1e-12)
    assert any("10.0%" in note for note in steel_by_table(with_steel).notes)
    with pytest.raises(ThermalError, match="all steel"):
        steel_by_table(steel_wall(Part("stud", PartKind.STEEL, 1.0, 0.002)))


def test_a_missed_bay_and_a_wood_post_between_steel_studs_lie_side_by_side() -> None:
    parts = (
        Part("fill", PartKind.FILLED, 0.8, 2.3),
        Part("missed", PartKind.UNFILLED, 0.1, 0.18),
        Part("post", PartKind.WOOD, 0.1, 0.7),
    )
    by_hand = 0.8 / (0.22 + effective_resistance(STUDS_16, 2.3).value) + 0.1 / 0.22 + 0.1 / 0.92
    assert steel_by_table(steel_wall(*parts)).u == pytest.approx(by_hand, rel=1e-12)
    full = steel_by_zones(steel_wall()).u
    assert steel_by_zones(steel_wall(*parts)).u > full


def test_zone_method_refuses_what_the_standard_does_not_cover() -> None:
    around = Surroundings(0.0, 0.4)
    for studs in (SteelStuds(0.5, 0.0889), SteelStuds(0.4064, 0.0889, thickness=0.003)):
        with pytest.raises(MethodNotApplicableError):
            zone_transmittance(studs, 2.3, around)
    with pytest.raises(ThermalError):
        zone_transmittance(STUDS_16, 0.0, around)
    with pytest.raises(ThermalError):
        zone_transmittance(STUDS_16, 2.3, Surroundings(-1.0, 0.4))
    with pytest.raises(MethodNotApplicableError, match="has 2"):
        steel_by_zones(Assembly((*AROUND, steel_wall().planes[-1], steel_wall().planes[-1])))


def test_zone_method_interpolates_between_thicknesses_only() -> None:
    around = Surroundings(0.7, 0.4)
    low, mid, high = (
        zone_transmittance(SteelStuds(0.4064, 0.0889, thickness=t), 2.3, around).zone_width
        for t in (0.0008382, 0.0009652, 0.0010922)
    )
    assert mid == pytest.approx((low + high) / 2.0, rel=1e-6)


def test_an_empty_cavity_between_steel_studs_loses_more_than_a_full_one() -> None:
    around = Surroundings(0.0, 0.4)
    assert zone_transmittance(STUDS_16, None, around).u > 2.0 * zone_transmittance(STUDS_16, 2.3, around).u


def test_modified_zone_must_fit_between_flange_and_spacing() -> None:
    wall = ModifiedZone(STUDS_16, 10.0, 0.05, 1.0, 0.1, 0.04, 48.0)
    with pytest.raises(ThermalError, match="zone of"):
        modified_zone(wall)
    with pytest.raises(ThermalError, match="positive"):
        modified_zone(ModifiedZone(STUDS_16, 1.7, 0.05, 1.0, 0.1, 0.0, 48.0))


# ---------------------------------------------------------------- heat flow


def test_cost_of_a_missed_cavity_is_what_filling_it_would_save() -> None:
    flows = {flow.name: flow for flow in cavity_heat_flows(PATCHES, 0.22, 3.8)}
    assert flows["bay 1"].excess == 0.0
    assert flows["missed bay"].excess == pytest.approx(0.5 * (1.0 / 0.40 - 1.0 / 4.02))
    assert flows["narrow bay"].excess == pytest.approx(1.0 * (1.0 / 3.42 - 1.0 / 4.02))
    assert flows["framing"].filled_u is None
    assert flows["header"].excess == 0.0


def test_heat_through_all_patches_is_the_wall_s_parallel_path_times_its_area() -> None:
    wall = wood_wall()
    beside = resistance_beside(wall, wall.planes[-1])
    assert beside == pytest.approx(0.22)
    total = sum(flow.heat_flow for flow in cavity_heat_flows(PATCHES, beside, 3.8))
    assert total == pytest.approx(parallel_path(wall).u * 10.0, rel=1e-12)


def test_heat_between_steel_studs_agrees_with_the_table_method() -> None:
    patches = (Patch("full", PartKind.FILLED, 8.0, 2.3), Patch("missed", PartKind.UNFILLED, 2.0, 0.18))
    wall = steel_wall(*parts_from_patches(patches))
    total = sum(flow.heat_flow for flow in cavity_heat_flows(patches, 0.22, 2.3, STUDS_16))
    assert total == pytest.approx(steel_by_table(wall).u * 10.0, rel=1e-12)


def test_heat_flow_refuses_steel_patches_and_walls_that_are_not_there() -> None:
    with pytest.raises(ThermalError, match="leave it out"):
        cavity_heat_flows([Patch("stud", PartKind.STEEL, 1.0, 0.1)], 0.2, 3.8)
    with pytest.raises(ThermalError, match="area"):
        cavity_heat_flows([Patch("bay", PartKind.FILLED, -1.0, 0.1)], 0.2, 3.8)
    with pytest.raises(ThermalError, match="surface films"):
        cavity_heat_flows([Patch("bay", PartKind.UNFILLED, 1.0, 0.0)], 0.0, 3.8)
    with pytest.raises(ThermalError, match="not part"):
        resistance_beside(wood_wall(), Plane("other", (Part("a", PartKind.FILLED, 1.0, 1.0),)))


def test_building_value_is_weighted_by_area_not_a_mean_of_resistances() -> None:
    found = area_weighted([(10.0, 0.2), (30.0, 0.6)])
    assert (found.area, found.u, found.heat_flow) == pytest.approx((40.0, 0.5, 20.0))
    assert found.resistance == pytest.approx(2.0)
    for bad in ([], [(0.0, 0.3)], [(1.0, -0.3)], [(float("nan"), 0.3)]):
        with pytest.raises(ThermalError):
            area_weighted(bad)


def test_grade_of_installation_moves_its_share_of_the_fill_into_voids() -> None:
    plane = wood_wall().planes[-1]
    assert with_grade(plane, Grade.I, 0.14) == plane
    graded = with_grade(plane, Grade.III, 0.14)
    assert graded.parts[-1].fraction == pytest.approx(0.05 * 0.7)
    assert graded.parts[-1].resistance == pytest.approx(0.18)
    assert framing_fraction(graded) == pytest.approx(framing_fraction(plane))
    assert parallel_path(Assembly((*AROUND, graded))).u > parallel_path(wood_wall()).u


# ---------------------------------------------------------------- air


def test_air_layers_are_interpolated_and_bounded() -> None:
    assert air_layer_resistance(0.0) == 0.0
    assert air_layer_resistance(0.02) == pytest.approx(0.175)
    assert air_layer_resistance(0.1, HeatFlowDirection.DOWN) == pytest.approx(0.22)
    for thickness in (-0.01, 0.31):
        with pytest.raises(ThermalError, match="outside"):
            air_layer_resistance(thickness)
    with pytest.raises(ThermalError, match="Emissivities"):
        air_layer_by_formula(0.05, emissivities=(0.0, 0.9))
    with pytest.raises(ThermalError, match="positive"):
        air_layer_by_formula(0.0)


def test_ventilation_classes_change_at_their_limits() -> None:
    found = [ventilation_class(area) for area in (499e-6, 500e-6, 1499e-6, 1500e-6)]
    assert found == [Ventilation.UNVENTILATED, Ventilation.SLIGHTLY, Ventilation.SLIGHTLY, Ventilation.WELL]


# ---------------------------------------------------------------- targets


@pytest.mark.parametrize(
    ("text", "zone"),
    [("5", "5"), ("5A", "5"), ("4C", "4 marine"), ("Marine 4", "4 marine"), ("Zone 4 (marine)", "4 marine"),
     ("4 except marine", "4"), ("climate zone 3c", "3"), ("0B", "0")],
)  # fmt: skip
def test_climate_zones_are_read_as_people_write_them(text: str, zone: str) -> None:
    assert climate_zone(text) == zone


@pytest.mark.parametrize("text", ["", "9", "temperate", "44", "4D"])
def test_what_is_no_climate_zone_is_refused(text: str) -> None:
    with pytest.raises(ThermalError, match="no climate zone"):
        climate_zone(text)


def test_code_target_carries_its_warning_and_says_what_is_from_memory() -> None:
    read, recalled = code_target("6"), code_target("3")
    assert read.warning == recalled.warning == CHECK_LOCALLY
    assert not read.from_memory
    assert recalled.from_memory
    assert "to be confirmed" in recalled.source
    assert "IECC 2021" in read.name


def test_places_that_changed_the_model_code_are_listed_after_it() -> None:
    found = code_targets("5")
    assert [target.u > code_target("5").u for target in found] == [False, True]
    assert "Washington" in found[1].name
    with pytest.raises(ThermalError, match="door"):
        code_targets("5", "door")
    with pytest.raises(ThermalError, match="Nowhere"):
        code_target("5", place="Nowhere")


def test_verdict_gives_margin_with_its_sign() -> None:
    target = project_target("plans", u=0.25)
    assert judge(0.25, target).passes
    better, worse = judge(0.20, target), judge(0.30, target)
    assert (better.passes, worse.passes) == (True, False)
    assert (better.margin, worse.margin) == pytest.approx((0.05, -0.05))
    assert better.margin_share == pytest.approx(0.2)
    assert project_target("plans", resistance=4.0).u == pytest.approx(0.25)
    assert target.warning == ""


def test_a_target_needs_exactly_one_figure() -> None:
    for figures in ({}, {"u": 0.2, "resistance": 5.0}, {"u": -0.2}, {"resistance": float("inf")}):
        with pytest.raises(ThermalError):
            project_target("plans", **figures)
    with pytest.raises(ThermalError):
        judge(0.0, project_target("plans", u=0.25))


def test_r_value_options_count_insulation_only() -> None:
    options = {option.published: option for option in wall_options("5A")}
    assert set(options) == {"30", "20&5ci", "13&10ci", "0&20ci"}
    assert judge_option(3.6, 0.9, options["20&5ci"]).passes
    short = judge_option(3.6, 0.8, options["20&5ci"])
    assert not short.passes
    assert short.continuous_margin < 0.0 < short.cavity_margin


# ---------------------------------------------------------------- the package


def test_public_names_are_listed_and_exist() -> None:
    assert thermal.__all__ == sorted(thermal.__all__, key=lambda name: (not name.isupper(), name[0].islower(), name))
    assert all(hasattr(thermal, name) for name in thermal.__all__)
    assert len(set(thermal.__all__)) == len(thermal.__all__)


def test_errors_survive_pickling() -> None:
    error = pickle.loads(pickle.dumps(MethodNotApplicableError("why")))
    assert isinstance(error, ThermalError)
    assert str(error) == "why"
