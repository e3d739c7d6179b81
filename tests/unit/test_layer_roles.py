"""Layers of a wall are understood by their names; the names are of the kind found in models of many offices.

Source of the names: common practice, no published source.
"""

from __future__ import annotations

import pytest

from takeoff.building import ModelLayer
from takeoff.job import default_job, read_job
from takeoff.layer_roles import LayerPlace, LayerSetFacts, layer_role, roles_of, stud_material
from takeoff.layer_words import ROLE_GROUPS, built_in
from takeoff.model import LayerRole

STUD, SHEATHING, LINING, CLADDING, AIR, OTHER = (
    LayerRole.STUD,
    LayerRole.SHEATHING,
    LayerRole.LINING,
    LayerRole.CLADDING,
    LayerRole.AIR,
    LayerRole.OTHER,
)


def layer(material: str, thickness_mm: float = 100.0, name: str = "", category: str = "") -> ModelLayer:
    return ModelLayer(material=material, category=category, thickness=thickness_mm / 1000, name=name)


STUD_NAMES = [
    # English
    ("Metal - Stud Layer", "steel"),
    ("CC_METAL STUD LAYER", "steel"),
    ("Metal Stud Layer", "steel"),
    ("Wood Stud", "wood"),
    ("Wood studs, mineral wool between", "wood"),
    ("Insulation between studs", "unknown"),
    ("stud / insulation", "unknown"),
    ("Studs / Cavity", "unknown"),
    ("Timber Frame", "wood"),
    ("Timber framing with insulation", "wood"),
    ("Light gauge steel framing", "steel"),
    ("Cold-formed steel framing", "steel"),
    ("C-Stud 92mm", "steel"),
    ("Steel C Section 100", "steel"),
    ("framing", "unknown"),
    ("MetalStudLayer", "steel"),
    ('Wood 2x4 @ 16" O.C.', "wood"),
    ("2x6 w/ batt insulation", "wood"),
    ("Wood - Dimensional Lumber", "wood"),
    ("Structure, Wood Joist/Rafter Layer", "wood"),
    ("Metal Furring", "steel"),
    ("Timber / mineral wool", "wood"),
    ("Wood 45x100 c/c 600", "wood"),
    ("Timber, 90x45 studwork", "wood"),
    ("SLS 38x100", "wood"),
    ("FRAMING: STEEL STUDS - 92.1 MM", "steel"),
    ("48x100 c/c 600", "unknown"),
    ("Mineral wool c/c 600", "unknown"),
    # German
    ("Holzständer 60/160 + Dämmung", "wood"),
    ("Holzstaenderwerk", "wood"),
    ("Holzrahmenbau mit Zellulose", "wood"),
    ("CW-Profil 75", "steel"),
    ("CW 100 + Mineralwolle", "steel"),
    ("Ständerwerk Metall", "steel"),
    ("Holzriegel/Dämmung", "wood"),
    ("Gefachdämmung", "unknown"),
    ("Holz + Mineralwolle", "wood"),
    ("KVH 60/100", "wood"),
    ("Lattung + Dämmung", "unknown"),
    ("Holzkonstruktion gedämmt", "wood"),
    ("Mineralwolle, a = 625", "unknown"),
    # French
    ("Ossature bois", "wood"),
    ("Ossature métallique 48 mm + laine de verre", "steel"),
    ("Montants métalliques M48", "steel"),
    ("Laine de bois entre montants", "unknown"),
    ("Bois et isolant", "wood"),
    # Spanish, Portuguese, Italian
    ("Entramado ligero de madera", "wood"),
    ("Montantes de acero galvanizado", "steel"),
    ("Estructura metálica + lana mineral", "steel"),
    ("Pie derecho pino 2x4", "wood"),
    ("Montantes metálicos 70", "steel"),
    ("Estrutura em madeira com lã de rocha", "wood"),
    ("Telaio in legno", "wood"),
    ("Montanti in acciaio", "steel"),
    ("Orditura metallica", "steel"),
    # Dutch
    ("Stijl- en regelwerk", "unknown"),
    ("Houten stijlen met isolatie", "wood"),
    ("Houtskeletbouw", "wood"),
    ("HSB 38x184 isolatie", "wood"),
    # Swedish, Norwegian, Danish, Finnish
    ("Träreglar 45x145 + mineralull", "wood"),
    ("Stålregel 70", "steel"),
    ("Regelverk", "unknown"),
    ("Stenderverk 48x148", "unknown"),
    ("Bindingsverk av tre", "wood"),
    ("Stålstender 75 mm", "steel"),
    ("Træskelet 45x145", "wood"),
    ("Stålstolper", "steel"),
    ("Rankarunko", "unknown"),
    ("Puurunko 48x148 + mineraalivilla", "wood"),
    ("Teräsranka 66", "steel"),
    # Polish, Czech, Slovak, Hungarian, Romanian
    ("Konstrukcja drewniana + wełna mineralna", "wood"),
    ("Profil CW 75", "steel"),
    ("Szkielet drewniany", "wood"),
    ("Dřevěný rám s izolací", "wood"),
    ("Sloupky KVH 60/140", "wood"),
    ("Dřevený rošt", "wood"),
    ("Favázas szerkezet", "wood"),
    ("Montanți metalici", "steel"),
    # Croatian, Estonian, Lithuanian, Russian, Turkish, Greek
    ("Metalna konstrukcija", "steel"),
    ("Puitkarkass", "wood"),
    ("Medinis karkasas", "wood"),
    ("Деревянный каркас", "wood"),
    ("Стойка металлическая 75", "steel"),
    ("Ahşap karkas", "wood"),
    ("Μεταλλικός σκελετός", "steel"),
    # Japanese, Chinese, Korean
    ("木製間柱", "wood"),
    ("軽量鉄骨下地", "steel"),
    ("轻钢龙骨", "steel"),
    ("경량철골", "steel"),
]

OTHER_NAMES = [
    # not framed, though wood or steel, or with a word of studs inside another
    ("Holz", 250, OTHER),
    ("Wood", 100, OTHER),
    ("Timber", 140, OTHER),
    ("Bois massif", 100, OTHER),
    ("CLT 100", 100, OTHER),
    ("Brettsperrholz", 120, OTHER),
    ("Massivholz", 200, OTHER),
    ("Studio wall finish", 100, LINING),
    ("Staircase lining", 100, LINING),
    ("Hair felt", 50, OTHER),
    ("Concrete frame", 200, OTHER),
    ("Betonrahmen", 200, OTHER),
    ("Betongstomme", 200, OTHER),
    ("Window frame", 60, OTHER),
    ("Door - Frame/Mullion", 60, OTHER),
    ("Shear studs", 60, OTHER),
    ("Standard wall", 100, OTHER),
    ("Default Wall", 200, OTHER),
    ("Bestandswand", 200, OTHER),
    ("Steel plate", 40, OTHER),
    ("Structural insulated panel", 150, OTHER),
    ("Insulated metal panel", 100, OTHER),
    # insulation alone
    ("Rigid insulation", 80, OTHER),
    ("EPS", 100, OTHER),
    ("Mineral wool board", 100, OTHER),
    ("Wood fibre insulation", 100, OTHER),
    ("Holzfaserdämmplatte", 60, OTHER),
    ("Laine de bois", 60, OTHER),
    ("Stone wool", 100, OTHER),
    ("Cavity insulation", 100, OTHER),
    ("Mineral wool @ 35 kg/m3", 100, OTHER),
    ("Mineral wool @ 100 kg/m3", 100, OTHER),
    ("EPS 50x100", 100, OTHER),
    ("Insulation / Thermal Barriers - Metal faced", 100, OTHER),
    ("Type A wood insulation", 100, OTHER),
    ("Holz-Faserdämmplatte", 60, OTHER),
    ("Fiberglass Batt", 90, OTHER),
    # masonry and concrete
    ("Concrete - Cast In Situ", 200, OTHER),
    ("Masonry - Concrete Block", 193, OTHER),
    ("Beton, tragend", 250, OTHER),
    ("Kalksandstein", 175, OTHER),
    ("Parpaing creux", 200, OTHER),
    ("Mattoni forati", 120, OTHER),
    # lining and sheathing
    ("Plasterboard", 12.5, LINING),
    ("Gypsum Wall Board", 12.7, LINING),
    ("CC_SUBSTRATE GYPSUM WALL BOARD", 15.9, LINING),
    ("Gipskartonplatte", 12.5, LINING),
    ("Plaque de plâtre BA13", 13, LINING),
    ("Cartongesso", 12.5, LINING),
    ("Gipsskiva", 13, LINING),
    ("Kipsilevy", 13, LINING),
    ("Sádrokarton", 12.5, LINING),
    ("Płyta G-K", 12.5, LINING),
    ("GWB on metal studs", 16, LINING),
    ("石膏ボード", 12.5, LINING),
    ("Exterior gypsum sheathing", 12.7, SHEATHING),
    ("CC_WOOD SHEATHING", 15.9, SHEATHING),
    ("OSB3", 15, SHEATHING),
    ("Plywood", 12, SHEATHING),
    ("OSB-Platte", 15, SHEATHING),
    ("Spanplatte", 16, SHEATHING),
    ("Contreplaqué", 12, SHEATHING),
    ("Vindgips", 9, SHEATHING),
    ("Tuulensuojalevy", 9, SHEATHING),
    # cladding
    ("Brick veneer", 90, CLADDING),
    ("Fiber cement siding", 8, CLADDING),
    ("Stucco", 22, CLADDING),
    ("Board and batten siding", 40, CLADDING),
    ("Bardage bois", 22, CLADDING),
    ("Außenputz", 15, CLADDING),
    ("Ytterpanel", 22, CLADDING),
    ("Gevelbekleding hout", 20, CLADDING),
    # air and membranes
    ("Misc. Air Layers - Air Space", 50, AIR),
    ("Air", 40, AIR),
    ("Luftschicht", 40, AIR),
    ("Lame d'air", 40, AIR),
    ("Cámara de aire", 40, AIR),
    ("Spouw", 40, AIR),
    ("Konterlattung", 40, AIR),
    ("Vapour barrier", 0.2, OTHER),
    ("Air barrier", 0.2, OTHER),
    ("Dampfbremse", 0.2, OTHER),
    ("Pare-vapeur", 0.2, OTHER),
]


@pytest.mark.parametrize(("name", "material"), STUD_NAMES)
def test_a_name_that_says_studs_is_a_stud_layer_of_the_right_material(name: str, material: str) -> None:
    given = layer(name, 184 if "38x184" in name else 160 if "60/160" in name else 100)
    role, reason = layer_role(given, default_job())
    assert role is STUD, reason
    assert stud_material(given) == material


@pytest.mark.parametrize(("name", "thickness_mm", "expected"), OTHER_NAMES)
def test_a_name_that_says_something_else_is_no_stud_layer(name: str, thickness_mm: float, expected: LayerRole) -> None:
    role, reason = layer_role(layer(name, thickness_mm), default_job())
    assert role is expected, reason
    assert len(reason) > 10


def test_the_table_of_names_is_wide() -> None:
    assert len(STUD_NAMES) + len(OTHER_NAMES) >= 150


def roles(*layers: ModelLayer, **facts: object) -> list[LayerRole]:
    return [role for role, _ in roles_of(layers, default_job(), LayerSetFacts(**facts))]  # type: ignore[arg-type]


def test_the_category_goes_before_the_name() -> None:
    assert layer_role(layer("Type A", category="framing"), default_job())[0] is STUD
    assert layer_role(layer("Stud brick", 102, category="brick"), default_job())[0] is OTHER
    assert layer_role(layer("X", 12.7, category="Gypsum"), default_job())[0] is LINING


def test_a_word_for_studs_goes_before_the_category_of_what_lies_between_them() -> None:
    assert layer_role(layer("Insulation between studs", category="Insulation"), default_job())[0] is STUD


def test_wood_as_category_does_not_make_a_frame() -> None:
    assert layer_role(layer("Oak", category="wood"), default_job())[0] is OTHER


def test_a_stud_layer_has_a_plausible_depth_or_the_reason_names_the_limit() -> None:
    for depth, word in ((22, "less"), (600, "more")):
        role, reason = layer_role(layer("Metal stud", depth), default_job())
        assert role is OTHER
        assert word in reason
        assert "depth" in reason
    assert layer_role(layer("Metal stud", 38), default_job())[0] is STUD


def test_words_of_the_job_file_go_before_all_others() -> None:
    job = read_job('[layers]\nstud_layer = ["kernlage*"]\nother = ["stud"]\nair = "lege ruimte"\n')
    assert layer_role(layer("Kernlage 20", 20), job)[0] is STUD
    assert layer_role(layer("Metal stud"), job)[0] is OTHER
    role, reason = layer_role(layer("LEGE_RUIMTE"), job)
    assert role is AIR
    assert "job file" in reason


def test_the_name_of_a_layer_counts_where_it_has_no_material() -> None:
    given = (layer("", 12.7, "Panel Forward"), layer("", 88.9, "Frame"), layer("", 12.7, "Panel Reverse"))
    assert roles(*given) == [OTHER, STUD, OTHER]
    assert roles(layer("", 12.7, "Face"), layer("", 140, "Structure"), layer("", 12.7, "Face"))[1] is STUD


def test_layers_without_any_name_are_studs_only_where_the_model_has_a_frame() -> None:
    given = (layer("", 12.7), layer("", 88.9), layer("", 12.7))
    assert roles(*given) == [OTHER, OTHER, OTHER]
    assert roles(*given, has_frame=True) == [OTHER, STUD, OTHER]
    odd = (layer("", 12.7), layer("", 111.3), layer("", 12.7))
    assert roles(*odd, has_frame=True) == [OTHER, OTHER, OTHER]


def test_the_name_of_the_set_points_to_the_one_layer_that_can_hold_studs() -> None:
    given = (layer("Gipskarton", 12.5), layer("Mineralwolle", 160), layer("OSB", 15))
    assert roles(*given) == [LINING, OTHER, SHEATHING]
    assert roles(*given, set_name="Holzständerwand 190") == [LINING, STUD, SHEATHING]
    siding = (layer("Siding", 15), layer("Plywood", 12), layer("Softwood, Lumber", 140), layer("Gypsum", 13))
    assert roles(*siding, set_name="Exterior - Wood siding on wood stud")[2] is STUD


def test_the_name_of_the_set_does_not_make_masonry_or_an_unclear_pair_a_stud_layer() -> None:
    assert roles(layer("Concrete", 200), set_name="Stud wall") == [OTHER]
    pair = (layer("Mineral wool", 100), layer("Polystyrene", 90))
    assert roles(*pair, set_name="Stud wall") == [OTHER, OTHER]


def test_insulation_between_boards_is_not_assumed_but_the_reason_says_what_to_do() -> None:
    given = (layer("Gypsum board", 12.5), layer("Mineral wool", 70), layer("Gypsum board", 12.5))
    judged = roles_of(given, default_job())
    assert judged[1][0] is OTHER
    assert "job file" in judged[1][1]


def test_two_stud_layers_with_a_space_between_them_are_both_found() -> None:
    given = [
        layer(each, 100) for each in ("Metal - Aluminum", "METAL STUD LAYER", "Air Space", "METAL STUD LAYER", "GWB")
    ]
    assert roles(*given) == [CLADDING, STUD, AIR, STUD, LINING]


def test_a_thin_leaf_of_brick_outside_studs_is_a_veneer_and_a_thick_one_is_masonry() -> None:
    rest = (layer("Air Space", 25), layer("Wood stud", 140), layer("Gypsum", 13))
    assert roles(layer("Brick, Common", 90), *rest)[0] is CLADDING
    assert roles(layer("Brick, Common", 215), *rest)[0] is OTHER


def test_a_coat_is_cladding_on_the_side_away_from_the_lining() -> None:
    assert roles(layer("Putz", 15), layer("Holzständer", 160), layer("Gipskarton", 13)) == [CLADDING, STUD, LINING]


def test_a_stated_stud_layer_goes_before_the_words() -> None:
    given = (layer("Gypsum", 13), layer("Metal stud", 100), layer("Kern", 160), layer("Gypsum", 13))
    assert roles(*given, chosen=(3,)) == [LINING, OTHER, STUD, LINING]
    assert roles(*given, chosen="ker*") == [LINING, OTHER, STUD, LINING]


def test_a_stated_stud_layer_that_the_set_does_not_have_is_said() -> None:
    for judged in (
        roles_of((layer("Metal stud"),), default_job(), LayerSetFacts(chosen=each)) for each in ((3,), "x*")
    ):
        assert judged[0][0] is OTHER
        assert "none of these 1 layers" in judged[0][1]


def test_the_material_of_studs_is_the_one_next_to_the_word() -> None:
    assert stud_material(layer("Wood studs with metal clips")) == "wood"
    assert stud_material(layer("Stud", category="steel")) == "steel"
    assert stud_material(layer("Frame"), set_name="Interior - 2x4 partition") == "wood"
    assert stud_material(layer("Stud layer")) == "unknown"


@pytest.mark.parametrize("text", ["", " ", "\x00\n\t", "?", "½", "*" * 400, "stud" * 5000, "\ud800stud", "İ ﬀ ǅ"])
def test_any_text_gets_a_role_and_a_reason(text: str) -> None:
    role, reason = layer_role(layer(text, name=text, category=text), default_job(), LayerPlace(2, 5))
    assert isinstance(role, LayerRole)
    assert reason
    assert len(reason) < 600


def test_accents_capitals_and_two_letter_umlauts_make_no_difference() -> None:
    for name in ("HOLZSTÄNDER", "holzstaender", "Holzständer", "HolzStänder_100", "HOLZSTA\u0308NDER"):
        assert layer_role(layer(name), default_job())[0] is STUD, name


def test_no_word_for_studs_means_something_else_too() -> None:
    by_group = {
        group: {entry.tokens for entries in built_in((group,)).whole.values() for entry in entries}
        | {entry.tokens for entry in (*built_in((group,)).parts, *built_in((group,)).phrases)}
        for group in ROLE_GROUPS
    }
    for group in ROLE_GROUPS:
        if group not in ("stud", "weak_stud"):
            assert not by_group["stud"] & by_group[group], group
