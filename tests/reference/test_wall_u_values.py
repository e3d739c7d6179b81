"""U-values of whole walls that go through IFC, against published worked examples.

The figures are cases of data/thermal_check_values.json (copied from the shared check values; each with source and
tolerance): no example was read in its primary document, but in transcriptions. Each wall is drawn as IFC with its
layers and, where the example gives a framing fraction, with members that cover just that part of its elevation; then
it takes the whole road: reading, frame, cavities, layers, method.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import pint
import pytest

from takeoff import take_off
from takeoff.envelope.walls import WallPart, envelope_of
from takeoff.job import read_job
from takeoff.reading import read_model
from takeoff.thermal import Transmittance, TransmittanceMethod
from tests.ifc_builder import Builder

CHECKS = {
    case["id"]: case
    for case in json.loads((Path(__file__).parent / "data" / "thermal_check_values.json").read_text(encoding="utf-8"))[
        "checks"
    ]
}
UNITS = pint.UnitRegistry()
R_IP = float(UNITS.Quantity(1.0, "hour * foot**2 * delta_degF / Btu_it").to("m**2 * kelvin / watt").magnitude)
INCH = 0.0254
LENGTH, HEIGHT = 2.0, 2.5
PLATE = 0.05

Layers = Sequence[tuple[str, float, float | None]]
"""(material, thickness m, conductivity W/(m K)), from inside to outside; the stud layer has no conductivity."""
UNSTATED = 0.0
"""Conductivity of a layer that the model states none for."""


def agrees(case_id: str, name: str, found: float) -> None:
    case = CHECKS[case_id]
    assert found == pytest.approx(case["expected"][name], abs=case["tolerance"][name] + 1e-12), (case_id, name)


def drawn(path: Path, layers: Layers, framing: float | None, *, studs: int = 4) -> Path:
    """One outside wall as an IFC file; framing: part of the elevation that its members cover, None for no members."""
    model = Builder("IFC4", "MILLIMETRE")
    total = sum(thickness for _, thickness, _ in layers)
    place = next(number for number, layer in enumerate(layers) if layer[2] is None)
    wall = model.wall("Wall", length=LENGTH, height=HEIGHT, thickness=total)
    materials = model.layer_set([(name, thickness) for name, thickness, _ in layers])
    model.layer_usage([wall], materials)
    for layer, (_, _, conductivity) in zip(materials.MaterialLayers, layers, strict=True):
        if conductivity:
            value = model.value("IfcThermalConductivityMeasure", conductivity)
            model.file.create_entity(
                "IfcMaterialProperties",
                Name="Pset_MaterialThermal",
                Properties=[
                    model.file.create_entity("IfcPropertySingleValue", Name="ThermalConductivity", NominalValue=value)
                ],
                Material=layer.Material,
            )
    model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    if framing is not None:
        depth = layers[place][1]
        y = sum(thickness for _, thickness, _ in layers[:place])
        upright = (framing * LENGTH * HEIGHT - 2 * PLATE * LENGTH) / (HEIGHT - 2 * PLATE) / studs
        model.member(wall, size=(LENGTH, depth, PLATE), at=(0.0, y, 0.0), name="Bottom plate")
        model.member(wall, size=(LENGTH, depth, PLATE), at=(0.0, y, HEIGHT - PLATE), name="Top plate")
        for number in range(studs):
            x = number * (LENGTH - upright) / (studs - 1)
            model.member(wall, size=(upright, depth, HEIGHT - 2 * PLATE), at=(x, y, PLATE), name="Stud")
    return model.save(path)


def worked_out(path: Path, job_text: str) -> WallPart:
    job = read_job(job_text)
    result = take_off(path, job)
    (part,) = envelope_of(read_model(path), result.results, job).parts
    assert not part.heat.reason
    assert not part.heat.missing
    return part


def answers(part: WallPart) -> Mapping[TransmittanceMethod, Transmittance]:
    return {answer.method: answer for answer in part.heat.transmittances}


def iso_job(fill: float, framing: float) -> str:
    return f"""
[fibre]
conductivity = "{fill} W/(m K)"
[thermal]
method = "iso_6946"
framing_conductivity = "{framing} W/(m K)"
"""


# ---------------------------------------------------------------- ISO 6946


@pytest.mark.parametrize("studs", [4, 7])
def test_the_timber_wall_of_the_scottish_guidance_comes_out_of_its_ifc(tmp_path: Path, studs: int) -> None:
    """Case iso6946-scot-6B2: brick 102/0.77, cavity R 0.18 (50 mm), sheathing 9/0.13, 140 mm wool 0.04 with 15 % studs
    0.12, plasterboard 12.5/0.21."""
    layers = (
        ("Plasterboard", 0.0125, 0.21), ("Timber stud", 0.140, None), ("OSB sheathing", 0.009, 0.13),
        ("Air gap", 0.050, UNSTATED), ("Brick", 0.102, 0.77),
    )  # fmt: skip
    part = worked_out(drawn(tmp_path / "wall.ifc", layers, 0.15, studs=studs), iso_job(0.04, 0.12))
    assert part.framing / part.net == pytest.approx(0.15, rel=1e-9)
    answer = answers(part)[TransmittanceMethod.COMBINED]
    assert part.governing is answer
    assert answer.upper is not None
    assert answer.lower is not None
    agrees("iso6946-scot-6B2", "R_upper", answer.upper)
    agrees("iso6946-scot-6B2", "R_lower", answer.lower)
    agrees("iso6946-scot-6B2", "U", answer.u)


def test_the_timber_wall_of_the_irish_guidance_comes_out_of_its_ifc(tmp_path: Path) -> None:
    """Case iso6946-tgdl2011-A2: brick 102/0.77, cavity R 0.18, ply 12/0.13, 150 mm foam 0.023 with 15 % studs 0.12,
    plasterboard 13/0.25. What fills the bays is foam there; the arithmetic is the same."""
    layers = (
        ("Plasterboard", 0.013, 0.25), ("Timber stud", 0.150, None), ("Plywood", 0.012, 0.13),
        ("Air gap", 0.050, UNSTATED), ("Brick", 0.102, 0.77),
    )  # fmt: skip
    part = worked_out(drawn(tmp_path / "wall.ifc", layers, 0.15), iso_job(0.023, 0.12))
    answer = answers(part)[TransmittanceMethod.COMBINED]
    assert answer.upper is not None
    assert answer.lower is not None
    agrees("iso6946-tgdl2011-A2", "R_upper", answer.upper)
    agrees("iso6946-tgdl2011-A2", "R_lower", answer.lower)
    agrees("iso6946-tgdl2011-A2", "R_total", answer.resistance)


# ---------------------------------------------------------------- handbook, wood


def test_the_handbook_wall_comes_out_of_its_ifc_by_both_methods(tmp_path: Path) -> None:
    """Cases ashrae-f27-ex3: siding 0.11, sheathing 0.70, cavity 2.30, stud 0.77, gypsum 0.08, films 0.12 and 0.03;
    a quarter is framing. The resistances are drawn as thicknesses over conductivities."""
    depth = 0.089
    layers = (
        ("Gypsum board", 0.012, 0.012 / 0.08), ("Wood stud", depth, None), ("Board sheathing", 0.035, 0.035 / 0.70),
        ("Wood siding", 0.011, 0.011 / 0.11),
    )  # fmt: skip
    job = f"""
[fibre]
conductivity = "{depth / 2.30!r} W/(m K)"
[thermal]
method = "handbook"
framing_conductivity = "{depth / 0.77!r} W/(m K)"
"""
    part = worked_out(drawn(tmp_path / "wall.ifc", layers, 0.25), job)
    assert part.framing / part.net == pytest.approx(0.25, rel=1e-9)
    found = answers(part)
    assert part.governing is found[TransmittanceMethod.PARALLEL_PATH]
    agrees("ashrae-f27-ex3-parallel", "U", found[TransmittanceMethod.PARALLEL_PATH].u)
    framed = [path for path in found[TransmittanceMethod.PARALLEL_PATH].paths if path.fraction < 0.5]
    agrees("ashrae-f27-ex3-parallel", "R2_framing_path", framed[0].resistance)
    agrees("ashrae-f27-ex3-isothermal", "U", found[TransmittanceMethod.ISOTHERMAL_PLANES].u)
    agrees("ashrae-f27-ex3-isothermal", "R_assembly", found[TransmittanceMethod.ISOTHERMAL_PLANES].resistance)


# ---------------------------------------------------------------- steel


@pytest.mark.parametrize(
    ("case_id", "depth_in", "rated", "spacing"),
    [
        ("ashrae901-steel-16oc-3.5in-R13", 3.5, 13.0, 16),
        ("ashrae901-steel-16oc-6in-R19", 6.0, 19.0, 16),
        ("ashrae901-steel-24oc-6in-R21", 6.0, 21.0, 24),
    ],
)
def test_the_steel_wall_of_the_table_comes_out_of_its_ifc(
    tmp_path: Path, case_id: str, depth_in: float, rated: float, spacing: int
) -> None:
    """Cases ashrae901-steel: stucco 0.08 and gypsum 0.56 on both sides (h ft2 F/Btu), films 0.17 and 0.68; the rest of
    the wall is laid out by the steel preset. The U of R-19 at 16 in was read, those of the others are from memory."""
    depth = depth_in * INCH
    layers = (
        ("Gypsum board", 0.0159, 0.0159 / (0.56 * R_IP)), ("Steel stud", depth, None),
        ("Gypsum sheathing", 0.0159, 0.0159 / (0.56 * R_IP)), ("Stucco", 0.01, 0.01 / (0.08 * R_IP)),
    )  # fmt: skip
    job = f"""
[framing]
steel = "steel-{spacing}in"
[fibre]
conductivity = "{depth / (rated * R_IP)!r} W/(m K)"
"""
    part = worked_out(drawn(tmp_path / "wall.ifc", layers, None), job)
    assert part.heat.steel
    assert part.governing is not None
    assert part.governing.method is TransmittanceMethod.STEEL_TABLE
    assert set(answers(part)) <= {TransmittanceMethod.STEEL_TABLE, TransmittanceMethod.STEEL_ZONES}
    agrees(case_id, "U", part.governing.u * R_IP)
