"""The simulated price: the quote itself at the job's assumptions, the same figures for the same seed, sane drivers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from takeoff.job import read_job
from takeoff.model import Source
from takeoff.risk import NAMES, Draws, _base, _Model, _rank_correlation, _triangular, simulate
from tests.price_book_builder import priced_walls, round_book, sample_book
from tests.records_builder import double_wall, plain_wall

WALLS = (*(plain_wall(f"WALL-{n}") for n in range(8)), double_wall())


@pytest.mark.parametrize(
    "job",
    ["", '[netting]\nfastening = "glue"', "[labour]\nhours_per_day = 3.0", "[netting]\nclose_holes = true\n"],
)
def test_at_the_assumptions_of_the_job_the_simulation_gives_the_quote(job):
    main = priced_walls(*WALLS, job=read_job(job), book=sample_book())
    prices, costs = _Model(main).prices(Draws(**_base(1)))
    assert prices[0] == pytest.approx(float(main.price.before_tax), abs=0.005)
    assert costs[0] == pytest.approx(float(main.price.direct + main.price.overhead), abs=0.005)


def test_the_same_seed_gives_the_same_figures_and_another_seed_others():
    one, same = (simulate(priced_walls(*WALLS)) for _ in range(2))
    other = simulate(priced_walls(*WALLS, job=read_job("[risk]\nseed = 2")))
    assert one == same
    assert one is not None
    assert other is not None
    assert one.mean != other.mean


def test_more_density_and_more_hours_never_make_it_cheaper():
    found = simulate(priced_walls(*WALLS))
    assert found is not None
    for driver in found.drivers:
        if driver.name in ("density", "production", "netting"):
            assert driver.price_at_low <= found.quoted <= driver.price_at_high, driver.name
    assert [driver.swing for driver in found.drivers] == sorted((d.swing for d in found.drivers), reverse=True)


def test_percentiles_rise_and_hold_the_mean():
    found = simulate(priced_walls(*WALLS))
    assert found is not None
    values = [value for _, value in found.percentiles]
    assert values == sorted(values)
    assert values[0] <= found.mean <= values[-1]


def test_what_rests_on_modelled_frames_does_not_move_with_spacing_or_plates():
    walls = tuple(plain_wall(f"WALL-{n}", source=Source.MODELLED) for n in range(8))
    found = simulate(priced_walls(*walls))
    assert found is not None
    assert found.laid_out_share == 0.0
    assert {d.name for d in found.drivers if d.swing == 0.0} >= {"spacing", "plates", "corner_studs"}


def test_more_members_leave_less_to_fill():
    main = priced_walls(*(plain_wall(f"WALL-{n}") for n in range(40)))
    model = _Model(main)
    more = replace(Draws(**_base(2)), plates=np.array([0.0, 1.0]))
    volume = model._volume(more)
    assert volume[0] == 1.0
    # One plate more along 2.4 m of top: 1.5 in x 2.4 m of the 3.4435 m2 of cavities.
    assert volume[1] == pytest.approx(1.0 - 0.0381 * 2.4 / 3.4435)


def test_a_price_that_is_not_fixed_is_not_simulated():
    assert simulate(priced_walls(book=round_book(("price = 1.50\n", "\n")))) is None


def test_rank_correlation_is_that_of_an_outside_library():
    random = np.random.default_rng(5)
    one = random.random(300).round(1)  # with ties
    other = one + random.random(300)
    assert _rank_correlation(one, other) == pytest.approx(stats.spearmanr(one, other).statistic)
    assert _rank_correlation(np.ones(5), np.arange(5.0)) == 0.0


def test_triangular_draws_are_those_of_an_outside_library():
    uniform = np.linspace(0.001, 0.999, 50)
    low, likely, high = 0.9, 1.0, 1.3
    expected = stats.triang.ppf(uniform, (likely - low) / (high - low), loc=low, scale=high - low)
    assert _triangular(uniform, low, likely, high) == pytest.approx(expected)
    assert _triangular(uniform, 1.0, 1.0, 1.0) == pytest.approx(1.0)


def test_every_assumption_of_the_job_file_is_drawn():
    fields = {name.removesuffix("_low").removesuffix("_high") for name in type(read_job("").risk).model_fields}
    assert fields - {"seed", "runs"} == set(NAMES)
