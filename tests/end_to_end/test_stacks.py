"""How stud layers that were taken off become the planes of an assembly: steel, two rows, frames without layers."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest

from takeoff.building import Model
from takeoff.envelope.stack import framing_facts, steel_studs
from takeoff.envelope.walls import WallPart, envelope_of
from takeoff.job import default_job, read_job
from takeoff.pipeline import take_off_model
from takeoff.reading import read_model
from takeoff.result import Takeoff
from takeoff.thermal import Transmittance, TransmittanceMethod
from tests.ifc_builder import Builder

SAMPLES = Path(__file__).resolve().parents[2] / "sample_models"
INCH = 0.0254
R_US = 0.17611018368230584
"""m2 K/W in one h ft2 F/Btu (international table Btu)"""
INSIDE, OUTSIDE = 0.68 * R_US, 0.17 * R_US
"""m2 K/W; surface films of the ASHRAE Handbook and 90.1 Appendix A (read in transcriptions), winter."""


def parts_of(model: Builder, tmp_path: Path, job_text: str = "") -> tuple[WallPart, ...]:
    read = read_model(model.save(tmp_path / "model.ifc"))
    job = read_job(job_text)
    return envelope_of(read, take_off_model(read, job).results, job).parts


def answer(part: WallPart, method: TransmittanceMethod) -> Transmittance:
    return next(each for each in part.heat.transmittances if each.method is method)


def steel_wall() -> tuple[Model, Takeoff]:
    model = read_model(SAMPLES / "steel_wall.ifc")
    return model, take_off_model(model, default_job())


def test_modelled_steel_studs_are_known_by_their_thin_walls_and_measured() -> None:
    """Wall A of the sample is drawn with 6 in studs of 1-5/8 in flange at 16 in, wall B with 3-5/8 in studs of 1-3/8 in
    at 24 in (sample_models/steel_wall.py)."""
    _, takeoff = steel_wall()
    found = {}
    for result in takeoff.results:
        (taken,) = result.layers
        assert framing_facts(result, taken, takeoff.job).steel
        studs = steel_studs(taken, takeoff.job)
        assert studs is not None
        found[result.wall.name] = (studs.depth, studs.flange, studs.spacing)
    assert found["Wall A"] == pytest.approx((6 * INCH, 1.625 * INCH, 16 * INCH))
    assert found["Wall B"][:2] == pytest.approx((3.625 * INCH, 1.375 * INCH))
    assert found["Wall B"][2] == pytest.approx(24 * INCH)


def test_laid_out_steel_studs_have_the_section_of_their_rules(tmp_path: Path) -> None:
    model = Builder()
    model.wall("Wall", layers=[("Gypsum board", 0.0125), ("Steel stud", 0.0889), ("Gypsum board", 0.0125)],
               thickness=0.1139)  # fmt: skip
    read = read_model(model.save(tmp_path / "wall.ifc"))
    job = read_job('[framing]\nsteel = "steel-24in"\n')
    (result,) = take_off_model(read, job).results
    studs = steel_studs(result.layers[0], job)
    assert studs is not None
    assert (studs.spacing, studs.depth, studs.flange) == pytest.approx((24 * INCH, 0.0889, 1.625 * INCH))
    assert studs.thickness == pytest.approx(0.043 * INCH)


def test_two_rows_of_studs_make_four_paths_whose_fractions_multiply(tmp_path: Path) -> None:
    """By hand: each row is fill or wood by its own areas, and the two rows know nothing of each other."""
    model = Builder()
    layers = [("Gypsum board", 0.0125), ("Timber stud", 0.089), ("Air gap", 0.05), ("Timber stud", 0.14),
              ("OSB sheathing", 0.0125)]  # fmt: skip
    wall = model.wall("Wall", layers=layers, thickness=0.304)
    model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    (part,) = parts_of(model, tmp_path)
    assert len(part.layers) == 2
    assert part.gross == pytest.approx(10.0)
    fill, wood = 1 / 0.0355, 1 / 0.13
    rows = []
    for taken in part.layers:
        voids = sum(cavity.area for cavity in taken.cavities)
        share = voids / (taken.gross_area - taken.opening_area)
        depth = taken.frame.layer.depth
        rows.append([(share, depth * fill), (1.0 - share, depth * wood)])
    rest = INSIDE + OUTSIDE + 0.18 + sum(row.resistance for row in part.heat.layers if row.conductivity)
    by_hand = sum(a * b / (rest + one + other) for (a, one), (b, other) in product(*rows))
    assert answer(part, TransmittanceMethod.PARALLEL_PATH).u == pytest.approx(by_hand, rel=1e-9)
    assert part.heat.fill_resistance == pytest.approx((0.089 + 0.14) * fill)


def test_a_stud_layer_that_the_job_leaves_out_is_judged_by_its_material(tmp_path: Path) -> None:
    model = Builder()
    layers = [("Gypsum board", 0.0125), ("Timber stud", 0.14), ("Timber stud", 0.089), ("OSB sheathing", 0.0125)]
    model.wall("Wall", layers=layers, thickness=0.254)
    (part,) = parts_of(model, tmp_path, "[[wall]]\nname = 'Wall'\nstud_layer = 2\n")
    assert len(part.layers) == 1
    assert len(part.heat.layers) == 3
    assert part.governing is not None


def test_a_frame_without_layers_counts_its_studs_and_films_and_says_so(tmp_path: Path) -> None:
    model = Builder()
    wall = model.element("IfcWall", name="Frame only")
    model.frame(wall)
    (part,) = parts_of(model, tmp_path)
    assert part.heat.layers == ()
    assert part.governing is not None
    assert any("no layers" in note for note in part.governing.notes)
    fill, wood = 0.14 / 0.0355, 0.14 / 0.13
    share = part.framing / part.net
    films = INSIDE + OUTSIDE
    by_hand = (1.0 - share) / (films + fill) + share / (films + wood)
    assert part.governing.u == pytest.approx(by_hand, rel=1e-6)


def test_a_well_ventilated_layer_ends_the_wall(tmp_path: Path) -> None:
    """BR 443 (2019) 4.7.3: the layer and all beyond it drop out, and the outer film becomes an inner one."""
    model = Builder()
    wall = model.wall("Wall", thickness=0.2275)
    layers = model.layer_set([("Gypsum board", 0.0125), ("Timber stud", 0.14), ("Air gap", 0.05), ("Siding", 0.025)])
    layers.MaterialLayers[2].IsVentilated = True
    model.layer_usage([wall], layers)
    model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    (part,) = parts_of(model, tmp_path)
    share = part.framing / part.net
    rest = 2 * INSIDE + 0.0125 / 0.25
    by_hand = (1.0 - share) / (rest + 0.14 / 0.0355) + share / (rest + 0.14 / 0.13)
    assert answer(part, TransmittanceMethod.PARALLEL_PATH).u == pytest.approx(by_hand, rel=1e-6)
