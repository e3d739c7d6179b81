"""The survey groups walls by what they are made of and says how each type was understood."""

from __future__ import annotations

import io

import numpy as np
from rich.console import Console

from reports.survey import survey_blocks
from takeoff.building import Model, ModelLayer, ModelLayers, ModelWall
from takeoff.job import default_job, read_job
from takeoff.job_writer import commented_job
from takeoff.wall_types import wall_types
from tests.records_builder import DEPTH, failed_wall, left_out_wall, plain_wall, takeoff_of

FRAMED = (
    ModelLayer("gypsum board", "gypsum", 0.0125),
    ModelLayer("studs", "wood", DEPTH),
    ModelLayer("board", "", 0.012),
)
CONCRETE = (ModelLayer("Concrete", "concrete", 0.2),)


def model_wall(wall_id: str, type_name: str, layers: tuple[ModelLayer, ...], set_name: str = "") -> ModelWall:
    return ModelWall(
        global_id=wall_id,
        ifc_class="IfcWall",
        name=wall_id,
        type_name=type_name,
        storey="Ground floor",
        storey_elevation=0.0,
        placement=np.eye(4),
        body=(),
        layers=ModelLayers(layers, None, None, set_name) if layers else None,
        materials=(),
        openings=(),
        parts=(),
        external=True,
        acoustic_rating="",
        thermal_transmittance=None,
        quantities=(),
        space_ids=(),
    )


def model_of(*walls: ModelWall) -> Model:
    return Model("house.ifc", "IFC4", "METRE", 1.0, (0.0, 1.0), "", walls, (), (), (), (), ())


MODEL = model_of(
    model_wall("A", "W1 outside", FRAMED, "W1"),
    model_wall("B", "W1 outside", FRAMED[::-1], "W1"),
    model_wall("C", "W9 concrete", CONCRETE),
    model_wall("D", "W1 outside", FRAMED, "W1"),
    model_wall("E", "", ()),
)
TAKEOFF = takeoff_of((plain_wall("A"), plain_wall("B"), left_out_wall("C"), plain_wall("D"), failed_wall("E")))


def test_walls_that_share_type_and_layers_are_one_type():
    rows = wall_types(MODEL, TAKEOFF)
    assert [(row.type_name, row.count) for row in rows] == [
        ("W1 outside", 2),
        ("W1 outside", 1),
        ("W9 concrete", 1),
        ("", 1),
    ]


def test_layers_are_listed_in_the_order_of_the_model_with_role_and_reason():
    first, reversed_, concrete, _ = wall_types(MODEL, TAKEOFF)
    assert first.layers[0] == "gypsum board, 12.5 mm: lining (by its category)"
    assert first.layers[::-1] == reversed_.layers
    assert "other" in concrete.layers[0]


def test_the_stud_layer_is_named_with_its_number_and_why():
    first, reversed_, concrete, nothing = wall_types(MODEL, TAKEOFF)
    assert first.stud_layer == reversed_.stud_layer == "2. studs, 0.1 m"
    assert first.reason == "by its name"
    assert (concrete.stud_layer, concrete.reason) == ("none", "no stud layer among its layers")
    assert nothing.stud_layer == "none"
    assert nothing.framing == "failed"


def test_area_and_framing_and_filling_are_told():
    first = wall_types(MODEL, TAKEOFF)[0]
    assert first.area == 2 * 5.76
    assert first.framing == "laid out by wood-16in"
    assert first.insulated == "yes: outside wall"
    assert first.examples == ("A", "D")


def test_the_survey_prints_every_type_and_fits_the_width():
    out = io.StringIO()
    console = Console(file=out, width=100, markup=False, highlight=False)
    console.print(survey_blocks(TAKEOFF, wall_types(MODEL, TAKEOFF), "metric"))
    words = out.getvalue()
    assert "5 walls of 4 types" in words
    assert "W1 outside: 2 walls, 11.52 m2" in words
    assert "(walls without a type): 1 wall, area unknown" in words
    assert "2. studs, 0.1 m: by its name" in words
    assert max(len(line) for line in words.splitlines()) <= 100


def test_the_job_file_of_a_survey_reads_back_as_the_same_job():
    text = commented_job(default_job(), wall_types(MODEL, TAKEOFF))
    assert read_job(text) == default_job()
    assert "W9 concrete" in text
