"""Material names, design values, fibre, and the layers of a wall."""

from __future__ import annotations

import pytest

from takeoff.model import Layer, LayerRole
from takeoff.thermal import (
    Fibre,
    FilmRule,
    Part,
    PartKind,
    Plane,
    ResistanceSettings,
    ThermalError,
    Ventilation,
    design_value,
    design_value_by_key,
    fibre_named,
    fibre_resistance,
    fibre_table,
    framing_resistance,
    layers_to_resistances,
    names_metal,
)
from takeoff.thermal.conductivities import PLAUSIBLE, fold
from takeoff.thermal.tables import table, table_names

STUDS = Plane("studs", (Part("fill", PartKind.FILLED, 0.8, 3.8), Part("wood", PartKind.WOOD, 0.2, 1.1)))


def layer(material: str, thickness: float, y: float, role: LayerRole = LayerRole.OTHER, **more: float) -> Layer:
    return Layer(material, "", thickness, role, "built for a test", y, y + thickness, **more)


def wall(*outer: Layer) -> tuple[Layer, ...]:
    inner = layer("Gypsum wallboard", 0.0125, -0.0125, LayerRole.LINING)
    return (layer("Wood studs", 0.14, 0.0, LayerRole.STUD), *outer, inner)


# ---------------------------------------------------------------- names of materials


@pytest.mark.parametrize(
    "name",
    ["Plasterboard 12.5", "GypsumWallBoard", "GYPSUM_WALL_BOARD", "Gipskartonplatte", "Plaque de plâtre", "Cartongesso",
     "Placa de yeso laminado", "Gipsskiva 13", "Gipsplaat", "Kipsilevy", "Płyta gipsowo-kartonowa", "Drywall",
     "Sádrokartonová deska", "Gesso cartonado"],
)  # fmt: skip
def test_plasterboard_is_known_in_many_languages(name: str) -> None:
    assert design_value(name).key == "plasterboard"


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Laine de verre", "glass_wool"),
        ("Steinwolle", "rock_wool"),
        ("Stone wool", "rock_wool"),
        ("Stone", "stone"),
        ("Wood - Sheathing - plywood", "plywood"),
        ("OSB/3 15 mm", "osb"),
        ("Mauerziegel", "brick"),
        ("Hormigón armado", "reinforced_concrete"),
        ("Betong", "concrete"),
        ("Holz", "wood"),
        ("Fichtenholz C24", "softwood"),
        ("Expanded polystyrene", "eps"),
    ],
)
def test_the_more_telling_word_decides(name: str, key: str) -> None:
    assert design_value(name).key == key


@pytest.mark.parametrize(
    "name",
    ["Rigid insulation", "Dämmung", "Isolation", "Metal Stud Layer", "Default Wall", "X", "Massiv", "Polystyrene",
     "Lightweight concrete", "Sandwich panel", "Panel", "Block", "Air", "Staircase", "Epsilon", "Airport stone-look"],
)  # fmt: skip
def test_a_name_that_tells_too_little_is_not_guessed_to_insulate(name: str) -> None:
    found = design_value(name)
    assert found.conductivity is None or found.conductivity >= 1.0
    assert found.reason


@pytest.mark.parametrize(
    "name",
    ["EPS concrete", "Glass fibre reinforced concrete", "Cork render", "Mineral wool on steel deck", "EPS brick"],
)
def test_insulation_mixed_with_a_hard_material_is_left_open(name: str) -> None:
    assert design_value(name).conductivity is None


def test_a_conductivity_in_the_name_comes_before_the_table() -> None:
    assert design_value("Mineralwolle WLG 035").conductivity == pytest.approx(0.035)
    assert design_value("Dämmplatte λ = 0,032 W/(m·K)").conductivity == pytest.approx(0.032)
    assert design_value("Foam 0.022 W/mK").insulation
    assert design_value("Board 99999.5 W/mK").conductivity is None


def test_category_helps_only_where_the_name_tells_nothing() -> None:
    assert design_value("Type 7", "concrete").key == "concrete"
    assert design_value("Plywood", "concrete").key == "plywood"
    assert design_value("", " ").conductivity is None


def test_a_family_without_a_grade_takes_its_highest_conductivity() -> None:
    for generic, members in {
        "wood": ("softwood", "hardwood"),
        "stone": ("granite", "marble", "limestone", "sandstone", "slate"),
        "mineral_wool": ("glass_wool", "rock_wool"),
        "metal": ("steel", "aluminium", "copper", "zinc"),
        "plaster": ("gypsum_plaster", "lime_plaster", "cement_render"),
    }.items():
        own = design_value_by_key(generic).conductivity
        assert own is not None
        assert all(own >= (design_value_by_key(member).conductivity or 0.0) for member in members)


def test_every_row_of_every_table_names_its_source_or_says_what_to_ask_for() -> None:
    assert set(table_names()) >= {"films", "air_layers", "design_conductivities", "loose_fill_fibre", "code_minimums"}
    for name in table_names():
        if name == "material_words":
            continue
        for row in table(name):
            refused = name == "design_conductivities" and not row["conductivity_w_mk"] and not row["resistance_m2k_w"]
            assert row["note"] if refused else row["source"] and row["status"], (name, dict(row))


def test_design_values_are_plausible_and_every_one_can_be_reached_by_a_word() -> None:
    reached = {row["key"] for row in table("material_words")}
    for row in table("design_conductivities"):
        assert row["key"] in reached
        if row["conductivity_w_mk"]:
            assert PLAUSIBLE[0] <= float(row["conductivity_w_mk"]) <= PLAUSIBLE[1]


def test_words_are_folded_so_that_a_folded_name_can_match_them() -> None:
    for row in table("material_words"):
        assert fold(row["words"].replace("*", "")) == row["words"].replace("*", ""), row["words"]


def test_metal_is_heard_in_the_name_of_a_stud() -> None:
    assert names_metal("Metallständer CW 75") or names_metal("Steel stud")
    assert not names_metal("Timber stud")
    with pytest.raises(ThermalError, match="steel method"):
        framing_resistance(0.09, "Metal Stud Layer")


def test_an_unknown_table_or_key_is_refused_by_name() -> None:
    with pytest.raises(ThermalError, match="no thermal table named 'nothing'"):
        table("nothing")
    with pytest.raises(ThermalError, match="'nothing'"):
        design_value_by_key("nothing")


# ---------------------------------------------------------------- fibre


def test_fibre_out_of_its_density_range_has_no_resistance() -> None:
    fibre = fibre_named("glass_closed_cavity_2021")
    assert fibre_resistance(fibre, 0.14, 33.0).value == pytest.approx(0.14 / 0.036)
    for density in (20.0, 45.0):
        found = fibre_resistance(fibre, 0.14, density)
        assert found.value is None
        assert "outside" in found.reason


def test_a_chart_is_interpolated_inside_and_silent_outside() -> None:
    chart = Fibre("label", None, None, None, None, "an invented label", ((0.1, 2.5), (0.2, 5.1)))
    assert fibre_resistance(chart, 0.15).value == pytest.approx(3.8)
    assert "interpolated" in fibre_resistance(chart, 0.15).reason
    assert fibre_resistance(chart, 0.25).value is None


def test_a_fibre_without_figures_or_with_a_falling_chart_is_refused() -> None:
    with pytest.raises(ThermalError, match="neither"):
        Fibre("empty", None, None, None, None, "")
    with pytest.raises(ThermalError, match="rise"):
        Fibre("falling", None, None, None, None, "", ((0.2, 5.0), (0.1, 2.5)))
    with pytest.raises(ThermalError, match="positive"):
        fibre_resistance(fibre_named("cellulose_nbc_2020"), 0.0)
    with pytest.raises(ThermalError, match="known:"):
        fibre_named("unheard of")


def test_every_fibre_of_the_table_gives_a_resistance_at_a_wall_s_depth() -> None:
    for fibre in fibre_table():
        depth = fibre.chart[0][0] if fibre.chart else 0.14
        found = fibre_resistance(fibre, depth, fibre.density_min)
        assert found.value is not None
        assert found.source


# ---------------------------------------------------------------- layers of a wall


def test_layers_run_from_inside_air_to_outside_air_with_the_stud_plane_in_place() -> None:
    found = layers_to_resistances(wall(layer("OSB", 0.013, 0.14)), [STUDS])
    names = [plane.name for plane in found.assembly.planes]
    assert names == ["inside surface film", "Gypsum wallboard", "studs", "OSB", "outside surface film"]
    by_hand = [0.13, 0.0125 / 0.25, None, 0.013 / 0.13, 0.04]
    for plane, expected in zip(found.assembly.planes, by_hand, strict=True):
        if expected is not None:
            assert plane.parts[0].resistance == pytest.approx(expected)
    assert found.findings == ()


def test_the_model_s_own_conductivity_comes_first_unless_it_is_impossible() -> None:
    good = layers_to_resistances(wall(layer("OSB", 0.02, 0.14, conductivity=0.1)), [STUDS])
    assert good.layers[1].source == "the model"
    assert good.layers[1].resistance == pytest.approx(0.2)
    bad = layers_to_resistances(wall(layer("OSB", 0.02, 0.14, conductivity=0.0)), [STUDS])
    assert [finding.code for finding in bad.findings] == ["layer-conductivity-implausible"]
    assert bad.layers[1].resistance == pytest.approx(0.02 / 0.13)


def test_an_unknown_layer_counts_as_nothing_and_says_so() -> None:
    found = layers_to_resistances(wall(layer("Rigid insulation", 0.05, 0.14)), [STUDS])
    assert found.assembly.missing == ("Rigid insulation",)
    assert [finding.code for finding in found.findings] == ["layer-conductivity-unknown"]
    assert found.layers[1].resistance == 0.0


def test_an_unknown_membrane_is_nothing_without_a_warning() -> None:
    found = layers_to_resistances(wall(layer("Membrane Q", 0.0002, 0.14)), [STUDS])
    assert found.findings == ()
    assert found.assembly.missing == ()


def test_insulation_outside_the_studs_is_marked_continuous() -> None:
    found = layers_to_resistances(wall(layer("EPS", 0.05, 0.14), layer("Brick", 0.1, 0.19)), [STUDS])
    assert {plane.name: plane.continuous_insulation for plane in found.assembly.planes}["EPS"]
    assert not {plane.name: plane.continuous_insulation for plane in found.assembly.planes}["Brick"]


def test_a_ventilated_air_layer_drops_out_with_all_beyond_it() -> None:
    outer = (layer("Plywood", 0.012, 0.14), layer("Air", 0.05, 0.152, LayerRole.AIR), layer("Brick", 0.1, 0.202))
    closed = layers_to_resistances(wall(*outer), [STUDS])
    vented = layers_to_resistances(wall(*outer), [STUDS], ResistanceSettings(air=Ventilation.WELL))
    assert [plane.name for plane in closed.assembly.planes][-3:] == ["Air", "Brick", "outside surface film"]
    assert [plane.name for plane in vented.assembly.planes][-2:] == ["Plywood", "outside surface film"]
    assert vented.assembly.planes[-1].parts[0].resistance == 0.13
    slight = layers_to_resistances(wall(*outer), [STUDS], ResistanceSettings(air=Ventilation.SLIGHTLY))
    assert slight.assembly == vented.assembly


def test_a_wall_between_rooms_has_an_inside_film_on_both_faces() -> None:
    found = layers_to_resistances(wall(), [STUDS], ResistanceSettings(external=False))
    assert [found.assembly.planes[n].parts[0].resistance for n in (0, -1)] == [0.13, 0.13]


def test_a_wall_filled_from_outside_is_read_the_other_way_round() -> None:
    near_is_outside = ResistanceSettings(outside_far=False, films=FilmRule.HANDBOOK)
    found = layers_to_resistances(wall(layer("OSB", 0.013, 0.14)), [STUDS], near_is_outside)
    assert [plane.name for plane in found.assembly.planes][1:4] == ["OSB", "studs", "Gypsum wallboard"]


def test_an_air_layer_deeper_than_the_table_is_a_finding() -> None:
    found = layers_to_resistances(wall(layer("Air", 0.6, 0.14, LayerRole.AIR)), [STUDS])
    assert [finding.code for finding in found.findings] == ["air-layer-too-deep"]
    assert found.layers[1].resistance == pytest.approx(0.18)


def test_two_stud_layers_need_two_planes() -> None:
    second = layer("Wood studs", 0.09, 0.14, LayerRole.STUD)
    with pytest.raises(ThermalError, match="2 stud layers but 1"):
        layers_to_resistances(wall(second), [STUDS])
    found = layers_to_resistances(wall(second), [STUDS, STUDS])
    assert sum(plane.bridged for plane in found.assembly.planes) == 2


def test_plain_wood_framing_is_taken_as_softwood() -> None:
    for name in ("Holz", "Timber", "unknown words", "Wood stud"):
        assert framing_resistance(0.13, name).resistance == pytest.approx(1.0)
    assert framing_resistance(0.18, "oak").resistance == pytest.approx(1.0)
