"""Rule sets: every default with unit and source, and refusals that say what to write instead."""

from __future__ import annotations

import math
import pickle
from dataclasses import replace

import pytest

from takeoff.errors import TakeoffError
from takeoff.framing.rules import (
    CHOICES,
    PRESETS,
    RuleError,
    preset,
    rule_fields,
    source_of,
    with_changes,
)

NAMED = {"wood-16in", "wood-24in-advanced", "wood-600mm", "wood-400mm", "steel-16in", "steel-24in", "double-stud"}


def test_every_rule_has_a_unit_and_a_source() -> None:
    for rule in rule_fields():
        assert rule.metadata["source"], rule.name
        assert "unit" in rule.metadata, rule.name


def test_presets_are_named_by_what_they_are_and_carry_their_name() -> None:
    assert set(PRESETS) >= NAMED
    assert all(rules.name == name for name, rules in PRESETS.items())


def test_spacings_of_presets_are_those_of_their_names() -> None:
    spacings = {name: PRESETS[name].spacing for name in NAMED}
    assert spacings["wood-16in"] == spacings["steel-16in"] == pytest.approx(0.4064)
    assert spacings["wood-24in-advanced"] == spacings["steel-24in"] == pytest.approx(0.6096)
    assert (spacings["wood-600mm"], spacings["wood-400mm"]) == (0.6, 0.4)


def test_steel_has_one_track_each_side_and_studs_as_wide_as_their_flange() -> None:
    for name in ("steel-16in", "steel-24in"):
        rules = preset(name)
        assert (rules.bottom_plates, rules.top_plates) == (1, 1)
        assert rules.stud_thickness == rules.flange == pytest.approx(1.625 * 0.0254)
        assert math.isinf(rules.blocking_above)


def test_unknown_preset_names_those_that_exist() -> None:
    with pytest.raises(RuleError, match="wood-16in") as caught:
        preset("wood-19in")
    assert isinstance(caught.value, TakeoffError)


def test_unknown_rule_is_refused_by_name() -> None:
    with pytest.raises(RuleError, match="'stud_spacing'"):
        with_changes(preset("wood-16in"), stud_spacing=0.4)


@pytest.mark.parametrize("name", sorted(CHOICES))
def test_choice_that_does_not_exist_is_refused_with_the_words_allowed(name: str) -> None:
    with pytest.raises(RuleError, match=CHOICES[name][0]):
        with_changes(preset("wood-16in"), **{name: "sideways"})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("spacing", 0.0),
        ("spacing", -0.4),
        ("spacing", math.nan),
        ("spacing", math.inf),
        ("spacing", 0.05),
        ("stud_thickness", 0.0),
        ("bottom_plates", -1),
        ("top_plates", 7),
        ("rows", 3),
        ("blocking_above", 0.1),
        ("blocking_heights", (math.nan,)),
        ("header_depth_limit", 0.0),
    ],
)
def test_value_that_cannot_be_framed_is_refused(name: str, value: float) -> None:
    with pytest.raises(RuleError, match=name):
        with_changes(preset("wood-16in"), **{name: value})


def test_source_tells_default_preset_and_job_file_apart() -> None:
    advanced = preset("wood-24in-advanced")
    assert "IRC" in source_of(advanced, "header_carries")
    assert "advanced" in source_of(advanced, "top_plates")
    assert source_of(with_changes(advanced, spacing=0.5), "spacing") == "stated in the job file"
    with pytest.raises(RuleError):
        source_of(advanced, "colour")


def test_rules_are_plain_data_that_survive_pickling() -> None:
    rules = preset("double-stud")
    assert pickle.loads(pickle.dumps(rules)) == rules
    assert replace(rules) == rules
