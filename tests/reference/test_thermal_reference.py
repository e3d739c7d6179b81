"""U-values, resistances and tables against published figures.

The figures lie in data/thermal_check_values.json, one case a row, each with its source, how far it may be trusted
('source read', 'from memory', 'own arithmetic') and its tolerance. No worked example was read in the primary document
itself, and the tolerances were set after the differences were seen; cases of 'own arithmetic' guard against
regressions and confirm nothing published. Units are converted by pint, a general-purpose library, not by our own code.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pint
import pytest

from takeoff.thermal import (
    Assembly,
    FilmRule,
    HeatFlowDirection,
    ModifiedZone,
    Part,
    PartKind,
    Patch,
    Plane,
    SteelStuds,
    Surroundings,
    air_gap_correction,
    air_layer_by_formula,
    air_layer_resistance,
    combined_method,
    corrected_by_factor,
    design_value_by_key,
    effective_resistance,
    fibre_named,
    fibre_resistance,
    film_plane,
    framing_fraction,
    isothermal_planes,
    judge,
    modified_zone,
    parallel_path,
    parts_from_patches,
    plane_resistance,
    project_target,
    reported_u,
    steel_by_table,
    steel_by_zones,
    surface_film,
    wall_options,
    with_air_gaps,
    zone_transmittance,
)
from takeoff.thermal.tables import table

HERE = Path(__file__).parent
CHECKS: list[dict[str, Any]] = json.loads((HERE / "data" / "thermal_check_values.json").read_text("utf-8"))["checks"]
SHARED = HERE.parents[2] / "shared" / "check_values.json"
UNITS = pint.UnitRegistry()
R_IP = float(UNITS.Quantity(1.0, "hour * foot**2 * delta_degF / Btu_it").to("m**2 * kelvin / watt").magnitude)
U_IP = 1.0 / R_IP
INCH = float(UNITS.Quantity(1.0, "inch").to("m").magnitude)
K_IP = float(UNITS.Quantity(1.0, "Btu_it * inch / (hour * foot**2 * delta_degF)").to("W / (m * kelvin)").magnitude)


def named(prefix: str, *suffixes: str) -> list[Any]:
    """Cases whose id starts and ends so, as pytest parameters named by their id."""
    chosen = [c for c in CHECKS if c["id"].startswith(prefix) and (not suffixes or c["id"].endswith(suffixes))]
    assert chosen, prefix
    return [pytest.param(case, id=case["id"]) for case in chosen]


def one(case_id: str) -> dict[str, Any]:
    return next(case for case in CHECKS if case["id"] == case_id)


def agrees(case: dict[str, Any], found: dict[str, float]) -> None:
    """Every expected value of the case was found within the case's tolerance (or is not exceeded by it)."""
    assert set(found) == set(case["expected"]), case["id"]
    for name, expected in case["expected"].items():
        tolerance = case["tolerance"][name] + 1e-12
        if case["compare"] == "not above":
            assert found[name] <= expected + tolerance, (case["id"], name, found[name])
        else:
            assert abs(found[name] - expected) <= tolerance, (case["id"], name, found[name])


def plane_of(layer: dict[str, Any]) -> Plane:
    def resistance(thing: dict[str, Any]) -> float:
        return thing["R_m2K_W"] if "R_m2K_W" in thing else thing["thickness_m"] / thing["conductivity_W_mK"]

    if "parts" not in layer:
        return film_plane(layer["name"], resistance(layer))
    parts = tuple(Part(p["name"], PartKind.MATERIAL, p["fraction"], resistance(p)) for p in layer["parts"])
    return Plane(layer["name"], parts)


def ip_wall(others: dict[str, float], cavity: float, stud: float, framing: float) -> Assembly:
    """A framed wall from resistances in any one unit system."""
    parts = (Part("cavity", PartKind.FILLED, 1.0 - framing, cavity), Part("framing", PartKind.WOOD, framing, stud))
    return Assembly((*(film_plane(name, r) for name, r in others.items()), Plane("studs", parts)))


def test_the_copied_figures_are_those_of_the_shared_file() -> None:
    if not SHARED.is_file():
        pytest.skip("the shared folder with check_values.json is absent")
    shared = {case["id"]: case for case in json.loads(SHARED.read_text("utf-8"))["checks"]}
    for case in CHECKS:
        for field in ("inputs", "expected", "tolerance", "source", "status", "compare"):
            assert case[field] == shared[case["id"]][field], (case["id"], field)


def test_every_copied_case_is_used_by_a_test_here() -> None:
    prefixes = ("iso6946-", "br443-airgap", "ashrae-f27-", "ashrae901-", "aisi-", "iecc2021-", "nbc-", "hof-", "lf-")
    prefixes += ("ashrae-ip-",)
    unused = [case["id"] for case in CHECKS if not case["id"].startswith(prefixes)]
    assert unused == ["br443-stud-fraction"]  # tested below by name
    assert Counter(case["status"] for case in CHECKS)["source read"] == 58


# ---------------------------------------------------------------- ISO 6946


@pytest.mark.parametrize("case", named("iso6946-", "6B2", "6B3", "-A1", "-A2", "-A3"))
def test_combined_method_reproduces_published_worked_examples(case: dict[str, Any]) -> None:
    found = combined_method(Assembly(tuple(plane_of(layer) for layer in case["inputs"]["layers"])))
    assert found.upper is not None
    assert found.lower is not None
    values = {
        "R_upper": found.upper,
        "R_lower": found.lower,
        "R_total": found.resistance,
        "U": found.u,
        "U_reported": reported_u(found.u),
    }
    agrees(case, {name: values[name] for name in case["expected"]})


def test_limits_of_a_homogeneous_wall_coincide() -> None:
    case = one("iso6946-tgdl2022-A1")
    found = combined_method(Assembly(tuple(plane_of(layer) for layer in case["inputs"]["layers"])))
    assert found.upper == pytest.approx(found.lower, rel=1e-12)
    assert found.max_error == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("case", named("iso6946-", "-max-error"))
def test_maximum_error_of_the_combined_method(case: dict[str, Any]) -> None:
    """Formula from memory, to be confirmed; the expected value is own arithmetic."""
    layers = one(case["id"].removesuffix("-max-error"))["inputs"]["layers"]
    found = combined_method(Assembly(tuple(plane_of(layer) for layer in layers)))
    assert found.max_error is not None
    agrees(case, {"e_percent": 100.0 * found.max_error})


def test_surface_films_are_the_rounded_sums_of_their_coefficients() -> None:
    case = one("iso6946-surface-resistances")
    inputs = case["inputs"]
    tabulated = {
        f"Rsi_{way}": surface_film(FilmRule.ISO, inside=True, direction=way).resistance for way in HeatFlowDirection
    }
    tabulated["Rse"] = surface_film(FilmRule.ISO, inside=False).resistance
    assert tabulated == case["expected"]
    computed = {f"Rsi_{way}": 1.0 / (inputs["h_ri"] + inputs[f"h_ci_{way}"]) for way in HeatFlowDirection}
    computed["Rse"] = 1.0 / (inputs["h_re"] + inputs["h_ce"])
    agrees(case, computed)


def test_air_layer_table_and_formula_agree_with_every_published_cell() -> None:
    case = one("iso6946-air-layers")
    for way in HeatFlowDirection:
        for thickness_mm in case["inputs"]["thicknesses_mm"]:
            expected = case["expected"][f"{way}_{thickness_mm}mm"]
            assert air_layer_resistance(thickness_mm / 1000.0, way) == pytest.approx(expected, rel=1e-12)
            assert round(air_layer_by_formula(thickness_mm / 1000.0, way), 2) == expected


def test_foil_faced_wall_cavity_is_worth_what_the_irish_guidance_gives() -> None:
    """TGD L (Ireland) 2022, Example A1: 0.44 for a low-emissivity cavity of 50 mm. The emissivity of 0.2 that it
    stands for is from memory, to be confirmed; 0.01 covers the printed rounding."""
    assert air_layer_by_formula(0.05, emissivities=(0.9, 0.2)) == pytest.approx(0.44, abs=0.01)


def test_air_gap_correction_and_its_three_percent_rule() -> None:
    case = one("br443-airgap-correction")
    inputs = case["inputs"]
    plain = combined_method(Assembly((film_plane("all", inputs["R_total"]),)))
    found = with_air_gaps(plain, inputs["R_insulation"], inputs["level"])
    addition = air_gap_correction(inputs["R_total"], inputs["R_insulation"], inputs["level"])
    agrees(case, {"dU": addition, "applied": float(found.u != plain.u)})
    kept = with_air_gaps(plain, inputs["R_insulation"], inputs["level"], leave_out_small=False)
    assert kept.u == pytest.approx(plain.u + addition, rel=1e-12)


def test_stud_fraction_by_width_and_spacing_matches_the_british_convention() -> None:
    """BR 443 (2019) 4.5: width over spacing plus 0.01; studs alone, by their real areas, give that less the 0.01."""
    case = one("br443-stud-fraction")
    for (width, spacing), name in zip(case["inputs"]["cases"], ("case1", "case2"), strict=True):
        bay = Patch("bay", PartKind.FILLED, (spacing - width) * 2.4, 3.5)
        plane = Plane("studs", parts_from_patches((bay, Patch("stud", PartKind.WOOD, width * 2.4, 1.1))))
        assert framing_fraction(plane) + 0.01 == pytest.approx(case["expected"][name], abs=case["tolerance"][name])


# ---------------------------------------------------------------- handbook, wood


def test_handbook_wood_stud_wall_by_parallel_path() -> None:
    case = one("ashrae-f27-ex3-parallel")
    found = parallel_path(_example_3(case["inputs"]))
    by_name = {path.name: path.resistance for path in found.paths}
    agrees(case, {"R2_framing_path": by_name["headers"], "U": found.u})


def test_handbook_wood_stud_wall_by_isothermal_planes() -> None:
    case = one("ashrae-f27-ex3-isothermal")
    wall = _example_3(case["inputs"])
    found = isothermal_planes(wall)
    agrees(case, {"R_avs": plane_resistance(wall.planes[-1]), "R_assembly": found.resistance, "U": found.u})


def _example_3(inputs: dict[str, float]) -> Assembly:
    others = ("R_outdoor_film", "R_siding", "R_sheathing", "R_gypsum", "R_indoor_film")
    parts = (
        Part("cavity", PartKind.FILLED, inputs["fraction_cavity"], inputs["R_cavity"]),
        Part("studs, plates, sills", PartKind.WOOD, inputs["fraction_studs_plates_sills"], inputs["R_stud"]),
        Part("headers", PartKind.HEADER, inputs["fraction_headers"], inputs["R_stud"]),
    )
    return Assembly((*(film_plane(name, inputs[name]) for name in others), Plane("studs", parts)))


@pytest.mark.parametrize("case", named("ashrae-ip-2x4-"))
def test_handbook_stud_wall_of_earlier_editions(case: dict[str, Any]) -> None:
    """Case from memory, to be confirmed: weak evidence."""
    inputs = case["inputs"]
    others = {name: r * R_IP for name, r in inputs["R_other_layers"].items()}
    wall = ip_wall(others, inputs["R_cavity"] * R_IP, inputs["R_stud"] * R_IP, inputs["fraction_framing"])
    if case["id"].endswith("parallel"):
        found = parallel_path(wall)
        by_name = {path.name: path.resistance / R_IP for path in found.paths}
        agrees(case, {"R1": by_name["cavity"], "R2": by_name["framing"], "U": found.u / U_IP})
    else:
        found = isothermal_planes(wall)
        agrees(case, {"R_total": found.resistance / R_IP, "U": found.u / U_IP})


def test_handbook_two_core_block_by_isothermal_planes() -> None:
    """ASHRAE Handbook-Fundamentals (SI) 2021, chapter 27, Example 4: the printed U of 1.64 is missed by 0.005, more
    than half a unit of its last digit (the tolerance in the case says so)."""
    case = one("ashrae-f27-ex4-block")
    i = case["inputs"]
    parts = (Part("web", PartKind.MATERIAL, i["a_w"], i["R_w"]), Part("core", PartKind.MATERIAL, i["a_c"], i["R_c"]))
    shells = (film_plane("inside", i["R_i"]), film_plane("outside", i["R_o"]), film_plane("faces", i["R_f"]))
    wall = Assembly((*shells, Plane("webs and cores", parts)))
    found = isothermal_planes(wall)
    average = plane_resistance(wall.planes[-1])
    agrees(case, {"U_avs": 1.0 / average, "R_avs": average, "R_assembly": found.resistance, "U": found.u})


@pytest.mark.parametrize("case", named("nbc-"))
def test_canadian_effective_resistance_of_a_2x6_wall(case: dict[str, Any]) -> None:
    """The published 2.36 was read only in a sheet that uses the same formula: circular, from memory."""
    i = case["inputs"]
    parts = (
        Part("cavity", PartKind.FILLED, i["cavity_percent"] / 100.0, i["RSI_cavity"]),
        Part("framing", PartKind.WOOD, i["framing_percent"] / 100.0, i["RSI_framing"]),
    )
    agrees(case, {"RSI": plane_resistance(Plane("studs", parts))})


# ---------------------------------------------------------------- steel


def test_handbook_correction_factor_for_metal_framing() -> None:
    case = one("ashrae-f27-correction-factor")
    i = case["inputs"]
    agrees(case, {"R": corrected_by_factor(i["R_face_outer"] + i["R_face_inner"], i["R_insulation"], i["F_c"])})


def test_factor_of_the_table_for_the_handbook_s_stud_is_the_handbook_s_factor() -> None:
    """Two sources: the handbook gives F_c 0.50 for 3.5 in studs at 16 in, the 90.1 table 5.5 of 11."""
    found = effective_resistance(SteelStuds(16 * INCH, 3.5 * INCH), 11 * R_IP)
    assert found.factor == pytest.approx(one("ashrae-f27-correction-factor")["inputs"]["F_c"], abs=1e-6)


@pytest.mark.parametrize("case", named("ashrae901-steel-"))
def test_steel_stud_wall_by_the_effective_resistance_table(case: dict[str, Any]) -> None:
    i = case["inputs"]
    studs = SteelStuds(i["spacing_in"] * INCH, i["depth_in"] * INCH)
    rated = i["rated_cavity_R"] * R_IP
    assert effective_resistance(studs, rated).value / R_IP == pytest.approx(i["effective_cavity_R"], abs=1e-6)
    plane = Plane("studs", (Part("filled", PartKind.FILLED, 1.0, rated),), studs)
    base = (film_plane(name, r * R_IP) for name, r in i["R_base"].items())
    agrees(case, {"U": steel_by_table(Assembly((*base, plane))).u / U_IP})


@pytest.mark.parametrize("case", named("ashrae901-wood-"))
def test_wood_stud_wall_of_the_same_standard(case: dict[str, Any]) -> None:
    i = case["inputs"]
    wall = ip_wall({"base": i["R_base"] * R_IP}, i["R_cavity"] * R_IP, i["R_stud"] * R_IP, i["framing"])
    agrees(case, {"U": parallel_path(wall).u / U_IP})


@pytest.mark.parametrize("case", named("aisi-s250-"))
def test_steel_stud_wall_by_the_overall_thermal_zone_method(case: dict[str, Any]) -> None:
    """40 published cells. Coefficients and U come from the same library: a shared slip of transcription is possible."""
    i = case["inputs"]
    mil = i["thickness_mil"] / 1000.0 * INCH
    studs = SteelStuds(i["spacing_in"] * INCH, i["web_depth_in"] * INCH, i["flange_in"] * INCH, mil)
    names = ("R_cladding", "R_ext_sheathing", "R_int_sheathing", "R_out_film", "R_in_film")
    planes = [film_plane(name, i[name] * R_IP) for name in names]
    planes.append(Plane("foam", (Part("foam", PartKind.MATERIAL, 1.0, i["R_ci"] * R_IP),), None, True))
    planes.append(Plane("studs", (Part("filled", PartKind.FILLED, 1.0, i["R_cavity"] * R_IP),), studs))
    found = steel_by_zones(Assembly(tuple(planes)))
    agrees(case, {"U": found.u / U_IP})
    around = Surroundings(i["R_ci"] * R_IP, sum(i[name] for name in names) * R_IP)
    assert zone_transmittance(studs, i["R_cavity"] * R_IP, around).u == pytest.approx(found.u, rel=1e-9)


def test_stud_path_of_the_zone_method_worked_by_hand_in_inches() -> None:
    """Own arithmetic after AISI S250-21 B3.1.1 to B3.1.6 for R-13 in 3.5 in studs of 43 mil at 16 in, 1.625 in flange:
    zone 2.3769 + 0.04037 x 13 - 0.001195 x 169 = 2.69976 in; web share 0.043/1.625 = 0.0264615; at the stud
    1/((1 - 0.0264615)/13 + 0.0264615/(3.5/495)) = 0.261965; path 0.17 + 0.07 + 0.56 + 0.261965 + 0.56 + 0.68."""
    studs = SteelStuds(16 * INCH, 3.5 * INCH, 1.625 * INCH, 0.043 * INCH)
    found = zone_transmittance(studs, 13 * R_IP, Surroundings(0.0, 2.04 * R_IP))
    assert found.zone_width / INCH == pytest.approx(2.699755, abs=1e-6)
    assert found.stud_path / R_IP == pytest.approx(2.04 + 0.261965, abs=1e-6)


def test_forty_cells_of_the_zone_method_are_covered() -> None:
    assert len(named("aisi-s250-")) == 40


def test_handbook_steel_stud_wall_by_the_modified_zone_method() -> None:
    """Five printed values are missed by more than half a unit of the last digit: the example rounds as it goes."""
    case = one("ashrae-f27-ex5-modified-zone")
    i = case["inputs"]
    steel = i["flange_thickness"]
    studs = SteelStuds(i["stud_spacing"], i["depth_between_flanges"] + 2.0 * steel, i["flange"], i["web_thickness"])
    found = modified_zone(
        ModifiedZone(
            studs,
            i["zone_factor"],
            i["exterior_material_thickness"],
            i["R_A_exterior"],
            i["R_B_interior"],
            1.0 / i["resistivity_insulation"],
            1.0 / i["resistivity_steel"],
        )
    )
    agrees(
        case,
        {
            "W": found.zone_width,
            "R_I_web": found.web,
            "R_cavity": found.cavity_path,
            "R_W": found.zone_path,
            "R_assembly": 1.0 / found.u,
            "U": found.u,
        },
    )


# ---------------------------------------------------------------- code minimums


@pytest.mark.parametrize("case", named("iecc2021-"))
def test_r_value_option_meets_the_u_value_of_the_same_code(case: dict[str, Any]) -> None:
    """IECC 2021 Tables R402.1.2 and R402.1.3 agree, with 25 % framing and layers of our own choosing. Agreement of the
    two tables does not prove that either was recalled rightly."""
    i = case["inputs"]
    others = {name: r * R_IP for name, r in i["R_other_layers"].items()} | {"foam": i["R_ci"] * R_IP}
    found = parallel_path(ip_wall(others, i["R_cavity"] * R_IP, i["R_stud"] * R_IP, i["framing"]))
    agrees(case, {"U": found.u / U_IP})
    target = project_target("the table", u=(case["expected"]["U"] + case["tolerance"]["U"]) * U_IP)
    assert judge(found.u, target).passes


def test_every_r_value_option_of_the_code_was_among_those_cases() -> None:
    checked = {
        case["id"].removeprefix("iecc2021-wall-R").removesuffix("-2x8") for case in CHECKS if "iecc" in case["id"]
    }
    listed = {option.published.replace("&", "+") for zone in "012345678" for option in wall_options(zone)}
    assert listed == checked


# ---------------------------------------------------------------- fibre


@pytest.mark.parametrize(
    ("case_id", "key"),
    [
        ("hof-R35-glass-fibre", "glass_closed_cavity_2021"),
        ("hof-R35-cellulose", "cellulose_dense_packed_2021"),
        ("hof-R35-rock-and-slag-wool", "rock_wool_closed_cavity_2021"),
    ],
)
def test_fibre_in_a_2x4_wall_is_worth_the_lower_r_of_the_handbook_range(case_id: str, key: str) -> None:
    case = one(case_id)
    fibre = fibre_named(key)
    assert [fibre.conductivity_min, fibre.conductivity_max] == case["inputs"]["k_W_mK"]
    found = fibre_resistance(fibre, case["inputs"]["depth_m"])
    assert found.value is not None
    best = case["inputs"]["depth_m"] / case["inputs"]["k_W_mK"][0]
    agrees(case, {"R_low": found.value / R_IP, "R_high": best / R_IP})


@pytest.mark.parametrize(
    ("case_id", "key"),
    [
        ("lf-per-inch-glass", "glass_closed_cavity_2021"),
        ("lf-per-inch-rock", "rock_wool_closed_cavity_2021"),
        ("lf-per-inch-cellulose", "cellulose_dense_packed_2021"),
    ],
)
def test_fibre_table_carries_the_handbook_s_densities_and_conductivities(case_id: str, key: str) -> None:
    case = one(case_id)
    fibre = fibre_named(key)
    assert [fibre.density_min, fibre.density_max] == case["inputs"]["density_kg_m3"]
    found = fibre_resistance(fibre, INCH)
    assert found.value is not None
    agrees(case, {"R_in_low": found.value / R_IP, "R_in_high": INCH / case["inputs"]["k_W_mK"][0] / R_IP})


@pytest.mark.parametrize(("depth", "expected"), [(0.089, 2.55), (0.140, 4.05), (0.152, 4.23)])
def test_canadian_chart_gives_its_printed_resistances(depth: float, expected: float) -> None:
    """National Building Code of Canada 2020, Table A-9.36.2.4.(1)-D: loose-fill glass fibre in walls."""
    assert fibre_resistance(fibre_named("glass_wall_nbc_2020"), depth).value == pytest.approx(expected, rel=1e-12)


def test_handbook_and_canadian_code_agree_on_glass_fibre_within_four_percent() -> None:
    """Two codes, one material: RSI 2.55 at 89 mm against 89 mm over 0.036 W/(m K)."""
    handbook = fibre_resistance(fibre_named("glass_closed_cavity_2021"), 0.089).value
    canadian = fibre_resistance(fibre_named("glass_wall_nbc_2020"), 0.089).value
    assert handbook == pytest.approx(canadian, rel=0.04)
    assert handbook is not None
    assert canadian is not None
    assert handbook < canadian


# ---------------------------------------------------------------- tables


@pytest.mark.parametrize(
    ("name", "column", "published", "factor"),
    [
        ("steel_effective_resistance", "spacing_m", "published_spacing_in", INCH),
        ("steel_effective_resistance", "depth_m", "published_depth_in", INCH),
        ("steel_effective_resistance", "rated_m2k_w", "published_rated_ip", R_IP),
        ("steel_effective_resistance", "effective_m2k_w", "published_effective_ip", R_IP),
        ("steel_zone_coefficients", "spacing_m", "published_spacing_in", INCH),
        ("steel_zone_coefficients", "thickness_m", "published_thickness_mil", INCH / 1000.0),
        ("steel_zone_coefficients", "conductivity_w_mk", "published_conductivity_ip", K_IP),
        ("steel_zone_coefficients", "c0_si", "published_c0", INCH),
        ("steel_zone_coefficients", "c1_si", "published_c1", INCH / R_IP),
        ("steel_zone_coefficients", "c2_si", "published_c2", INCH / R_IP),
        ("steel_zone_coefficients", "c3_si", "published_c3", INCH / R_IP**2),
        ("steel_zone_coefficients", "c4_si", "published_c4", INCH / R_IP**2),
        ("steel_zone_coefficients", "c5_si", "published_c5", INCH / R_IP**2),
        ("code_minimums", "u_w_m2k", "published_u_ip", U_IP),
    ],
)
def test_si_columns_are_the_published_columns_converted(name: str, column: str, published: str, factor: float) -> None:
    """1e-7 is the digits that the files keep (nine) and the difference of unit libraries' constants."""
    for row in table(name):
        assert float(row[column]) == pytest.approx(float(row[published]) * factor, rel=1e-7), dict(row)


def test_published_films_and_wall_options_are_converted_rightly() -> None:
    for row in table("films"):
        factor = 1.0 if row["published_unit"] == "m2 K/W" else R_IP
        assert float(row["resistance_m2k_w"]) == pytest.approx(float(row["published"]) * factor, rel=1e-7)
    for row in table("code_wall_options"):
        figures = [float(text.removesuffix("ci")) for text in row["published_option"].split("&")] + [0.0]
        assert float(row["cavity_m2k_w"]) == pytest.approx(figures[0] * R_IP, rel=1e-7)
        assert float(row["continuous_m2k_w"]) == pytest.approx(figures[1] * R_IP, rel=1e-7)


@pytest.mark.parametrize("case", named("aisi-s250-", "R13-ci0"))
def test_zone_coefficients_are_those_of_the_published_cases(case: dict[str, Any]) -> None:
    for row in table("steel_zone_coefficients"):
        if (row["published_spacing_in"], row["published_thickness_mil"]) == (str(case["inputs"]["spacing_in"]), "43"):
            assert [float(row[f"published_c{n}"]) for n in range(6)] == case["inputs"]["otz_coefficients"]
            assert float(row["published_conductivity_ip"]) == case["inputs"]["k_steel"]
            return
    pytest.fail("no row for the spacing")


def test_softwood_and_plasterboard_have_the_european_design_values() -> None:
    """EN ISO 10456: softwood 0.13 at 500 kg/m3 (read); plasterboard 0.25 at 900 kg/m3 (read in EN 12524 by way of a
    general-purpose heat-transfer library)."""
    assert design_value_by_key("softwood").conductivity == 0.13
    assert design_value_by_key("plasterboard").conductivity == 0.25
