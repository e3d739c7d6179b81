"""Fibre of the schedule against the coverage relation of loose-fill labels.

Source: 16 CFR 460.12(b)(2) (read in a copy of the code; check-values.md, section 3): the label chart gives for each
R-value the installed thickness, the bags per 1,000 ft2 and the minimum weight per ft2. All three hang together: weight
per ft2 = thickness x density, bags per 1,000 ft2 = 1,000 x weight per ft2 / weight of a bag, and the coverage of a bag
is its weight / weight per ft2. Densities: ASHRAE Handbook of Fundamentals (SI) 2021, chapter 26, Table 1, glass
fibre in a closed wall cavity, 29 to 37 kg/m3, 1.81 to 2.31 lb/ft3 (source read, transcription).
"""

from __future__ import annotations

from pathlib import Path

import pytest

import takeoff
from takeoff.job import read_job
from takeoff.pricing_scope import offered_resistance
from takeoff.schedule import material_schedule
from takeoff.units import CUBIC_FOOT, INCH, POUND, R_US, SQUARE_FOOT
from tests.price_book_builder import round_book

STUDIO = Path(__file__).resolve().parents[2] / "sample_models" / "garden_studio.ifc"
BAY = 14.5 * 92.625 / 144.0
"""ft2: the plain bay of the back wall of the garden studio (sample_models/README.md)."""


def studio_schedule(density: str):
    job = read_job(f'[fibre]\ndensity = "{density}"')
    basis = takeoff.take_off(STUDIO, job).schedule_basis()
    return basis, material_schedule(basis, job, round_book())


@pytest.mark.parametrize(("density", "weight"), [("1.81 lb/ft3", 7.74), ("2.31 lb/ft3", 9.87)])
def test_a_bay_of_2x6_takes_the_mass_that_the_handbook_density_gives(density, weight):
    # Own arithmetic of check-values.md, section 5: 5.5 x 14.5 x 92.625 in = 4.2748 ft3, 7.74 to 9.87 lb.
    basis, schedule = studio_schedule(density)
    bays = [c for c in basis.cavities if abs(c.volume / CUBIC_FOOT - 4.2748) < 1e-3 and c.method == "blow"]
    assert bays
    mass = {share.cavity_id: share.net for share in schedule.shares if share.code == "fibre"}
    for bay in bays:
        assert mass[bay.cavity_id] / POUND == pytest.approx(weight, abs=0.006)


def test_weight_per_area_is_thickness_times_density_in_every_plain_bay():
    density = 1.81 * POUND / CUBIC_FOOT
    basis, schedule = studio_schedule("1.81 lb/ft3")
    mass = {share.cavity_id: share.net for share in schedule.shares if share.code == "fibre"}
    plain = [c for c in basis.cavities if c.cavity_id in mass and c.blown_volume == pytest.approx(c.volume)]
    assert len(plain) > 20
    for cavity in plain:
        per_area = mass[cavity.cavity_id] / cavity.area
        assert per_area == pytest.approx(cavity.depth * density)
    # 5.5 in at 1.81 lb/ft3: a minimum weight of 0.8296 lb/ft2 on a label.
    full = [c for c in plain if c.depth == pytest.approx(5.5 * INCH)]
    assert full
    least = mass[full[0].cavity_id] / full[0].area * SQUARE_FOOT / POUND
    assert least == pytest.approx(1.81 * 5.5 / 12.0)


def test_bags_follow_from_bags_per_thousand_square_feet():
    # Filled area of the studio by the chart: bags per 1,000 ft2 of cavity at its mean depth, times area / 1,000.
    basis, schedule = studio_schedule("1.81 lb/ft3")
    bag = 10.0 / POUND  # lb, the round book's
    bags = 0.0
    for cavity in basis.cavities:
        if cavity.lower_holes + cavity.upper_holes:
            thickness = cavity.blown_volume / cavity.area / INCH / 12.0  # ft
            per_thousand = 1000.0 * thickness * 1.81 / bag
            bags += per_thousand * cavity.area / SQUARE_FOOT / 1000.0
    fibre = schedule.line("fibre")
    assert fibre is not None
    assert fibre.net / 10.0 == pytest.approx(bags)
    assert fibre.packages == -(-1.03 * bags // 1.0)


def test_the_resistance_offered_lies_where_the_handbook_puts_it():
    # check-values.md, section 3, own arithmetic from the table: R 22.0 to 22.7 at 5.5 in, 14.0 to 14.4 at 3.5 in.
    job = read_job("")
    for depth, low, high in ((5.5, 22.0, 22.7), (3.5, 14.0, 14.4)):
        value = offered_resistance(job, depth * INCH)
        assert value is not None
        assert low <= value / R_US <= high
