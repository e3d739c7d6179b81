"""What the price may turn out to be: the plausible range of the assumptions, simulated with a stated seed.

Each assumption is drawn from a triangular distribution over the range of the job file, independently of the others.
Spacing, plates and corner studs touch only what rests on frames laid out by rule; density, production and netting all
of it. Quantities change as the sums of the basis say, packages and days stay whole, and the price follows the same
chain as the quote, so at the assumptions of the job the simulation gives the quote itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from takeoff.job import Job
from takeoff.labour import LabourTask
from takeoff.model import Source
from takeoff.pricing import Priced, PriceGroup, PriceLine, task_hours
from takeoff.schedule import is_glued

FloatArray = NDArray[np.float64]

PERCENTILES = (5, 10, 25, 50, 75, 90, 95)
LEAST_BLOWN = 0.2
"""Part of the laid-out cavities that is left at the worst: more members than bays would be another wall."""


@dataclass(frozen=True, slots=True)
class Driver:
    """One assumption with its range and what it does to the price before tax."""

    name: str
    words: str
    low: float
    likely: float
    high: float
    price_at_low: float
    price_at_high: float
    rank_correlation: float
    """Between the drawn values and the price, -1 to 1 (Spearman); 0 where either does not vary."""

    @property
    def swing(self) -> float:
        """Price before tax from one end of the range to the other, all else as the job assumes."""
        return abs(self.price_at_high - self.price_at_low)


@dataclass(frozen=True, slots=True)
class RiskResult:
    """The range of the price before tax and what drives it; for the estimator."""

    seed: int
    runs: int
    quoted: float
    mean: float
    percentiles: tuple[tuple[int, float], ...]
    loss_share: float
    """Part of the runs in which direct cost and overhead are more than the quoted price."""
    laid_out_share: float
    """Part of the blown cavities, by volume, whose frame was laid out by rule."""
    drivers: tuple[Driver, ...]
    """Largest swing first."""


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Values of every assumption, (n,) float64 each."""

    spacing: FloatArray
    plates: FloatArray
    corner_studs: FloatArray
    density: FloatArray
    production: FloatArray
    netting: FloatArray


NAMES = ("spacing", "plates", "corner_studs", "density", "production", "netting")
WORDS = {
    "spacing": "stud spacing of laid-out frames, as a factor",
    "plates": "plates more for each laid-out wall",
    "corner_studs": "studs more for each laid-out wall",
    "density": "density reached, as a factor",
    "production": "person hours, as a factor",
    "netting": "netting used, as a factor",
}
LIKELY = {"spacing": 1.0, "plates": 0.0, "corner_studs": 0.0, "density": 1.0, "production": 1.0, "netting": 1.0}


def simulate(main: Priced) -> RiskResult | None:
    """The risk of a quote; None where it is not fixed, since a part of the price is not known."""
    if not main.price.fixed:
        return None
    settings, model = main.job.risk, _Model(main)
    drawn = _drawn(main.job, settings.runs)
    prices, costs = model.prices(drawn)
    quoted = float(main.price.before_tax)
    drivers = [_driver(name, main.job, model, drawn, prices) for name in NAMES]
    return RiskResult(
        settings.seed,
        settings.runs,
        quoted,
        float(prices.mean()),
        tuple((each, float(np.percentile(prices, each))) for each in PERCENTILES),
        float((costs > quoted + 1e-9).mean()),
        model.laid_out_share,
        tuple(sorted(drivers, key=lambda each: (-each.swing, each.name))),
    )


def _ends(name: str, job: Job) -> tuple[float, float]:
    return getattr(job.risk, f"{name}_low"), getattr(job.risk, f"{name}_high")


def _drawn(job: Job, runs: int) -> Draws:
    random = np.random.Generator(np.random.PCG64(job.risk.seed))
    values: dict[str, FloatArray] = {}
    for name in NAMES:
        low, high = _ends(name, job)
        uniform = random.random(runs)
        values[name] = _triangular(uniform, low, LIKELY[name], high)
    return Draws(**values)


def _triangular(uniform: FloatArray, low: float, likely: float, high: float) -> FloatArray:
    """Triangular values from uniform ones by the inverse of the distribution function."""
    if high <= low:
        return np.full(len(uniform), likely)
    turn = (likely - low) / (high - low)
    rising = low + np.sqrt(uniform * (high - low) * (likely - low))
    falling = high - np.sqrt((1.0 - uniform) * (high - low) * (high - likely))
    return np.where(uniform < turn, rising, falling)


def _base(n: int) -> dict[str, FloatArray]:
    return {name: np.full(n, LIKELY[name]) for name in NAMES}


def _driver(name: str, job: Job, model: _Model, drawn: Draws, prices: FloatArray) -> Driver:
    low, high = _ends(name, job)
    ends = _base(2) | {name: np.array([low, high])}
    at_low, at_high = model.prices(Draws(**ends))[0].tolist()
    correlation = _rank_correlation(getattr(drawn, name), prices)
    return Driver(name, WORDS[name], low, LIKELY[name], high, at_low, at_high, correlation)


def _rank_correlation(one: FloatArray, other: FloatArray) -> float:
    """Spearman's, with mean ranks for ties."""
    ranks = [_ranks(each) for each in (one, other)]
    spread = [each - each.mean() for each in ranks]
    scale = np.sqrt((spread[0] ** 2).sum() * (spread[1] ** 2).sum())
    return float((spread[0] * spread[1]).sum() / scale) if scale > 0.0 else 0.0


def _ranks(values: FloatArray) -> FloatArray:
    _, inverse, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    return (last - 0.5 * (counts - 1))[inverse].astype(np.float64)


# ---------------------------------------------------------------- price of many jobs at once


class _Model:
    """The sums of a quote from which its price follows under other assumptions."""

    def __init__(self, main: Priced) -> None:
        self.main = main
        basis, job = main.basis, main.job
        laid = [layer for layer in basis.layers if layer.netted and layer.source == Source.LAID_OUT]
        keys = {layer.layer_key for layer in laid}
        blown = [cavity for cavity in basis.cavities if cavity.lower_holes + cavity.upper_holes]
        own = [cavity for cavity in blown if cavity.layer_key in keys]
        volume = fsum(cavity.blown_volume for cavity in blown)
        self.laid_out_share = fsum(cavity.blown_volume for cavity in own) / volume if volume else 0.0
        holes = sum(cavity.lower_holes + cavity.upper_holes for cavity in blown)
        laid_holes = sum(cavity.lower_holes + cavity.upper_holes for cavity in own)
        self.laid_hole_share = laid_holes / holes if holes else 0.0
        self.area = fsum(cavity.area for cavity in own)
        self.thickness = job.framing.rule_sets[job.framing.wood].stud_thickness
        self.studs = sum(layer.n_stud_lines for layer in laid)
        self.stud_length = fsum(layer.stud_lines for layer in laid)
        self.layers = len(laid)
        self.height = self.stud_length / self.studs if self.studs else 0.0
        self.plates = fsum(layer.top_plate for layer in laid)
        glued = [layer for layer in laid if is_glued(layer, job)]
        self.stapled_studs = self.stud_length - fsum(layer.stud_lines for layer in glued)
        self.glued_studs = fsum(layer.stud_lines for layer in glued)

    def prices(self, drawn: Draws) -> tuple[FloatArray, FloatArray]:
        """Price before tax, and direct cost with overhead, (n,) float64 each, in the currency."""
        main = self.main
        bays, volume = 1.0 / drawn.spacing - 1.0, self._volume(drawn)
        holes = 1.0 + self.laid_hole_share * bays
        hours = self._hours(drawn, volume, holes)
        days = self._days(hours, len(drawn.spacing))
        direct = np.zeros(len(drawn.spacing))
        for line in main.price.lines:
            direct += self._amount(line, drawn, (volume, bays), hours, days)
        terms, cent = main.book.terms, float(main.book.cent)
        overhead = _to(direct * float(terms.overhead), cent)
        margin = _to((direct + overhead) * float(terms.margin), cent)
        asked = np.maximum(direct + overhead + margin, float(terms.minimum))
        return _to(_to(asked, float(terms.round_to)), cent), direct + overhead

    def _volume(self, drawn: Draws) -> FloatArray:
        """Blown volume as a factor: what members of laid-out frames take more or less."""
        if self.area <= 0.0:
            return np.ones(len(drawn.spacing))
        studs = self.stud_length * (1.0 / drawn.spacing - 1.0) + self.layers * self.height * drawn.corner_studs
        framing = self.thickness * (studs + self.plates * drawn.plates)
        laid = np.maximum(1.0 - framing / self.area, LEAST_BLOWN)
        return 1.0 - self.laid_out_share + self.laid_out_share * laid

    def _hours(self, drawn: Draws, volume: FloatArray, holes: FloatArray) -> dict[str, FloatArray]:
        """Person-hours by task."""
        job, items = self.main.job, self.main.items
        found: dict[str, FloatArray] = {}
        for task, hours in task_hours(items, self.main.days).items():
            own = [item for item in items if item.task is task]
            if task in (LabourTask.LOWER_PASS, LabourTask.UPPER_PASS):
                more = job.labour.upper_factor - 1.0
                counted = sum(item.holes + more * item.ladder_holes for item in own)
                cutting = counted * job.labour.minutes_per_hole / 60.0
                found[str(task)] = drawn.production * ((hours - cutting) * volume * drawn.density + cutting * holes)
            elif task is not LabourTask.SET_UP:
                found[str(task)] = drawn.production * hours
        return found  # fmt: skip

    def _days(self, hours: dict[str, FloatArray], count: int) -> FloatArray:
        """Whole days, (count,): those of the quote, and more or fewer as the hours of the main visit are."""
        labour = self.main.job.labour
        room = labour.crew_size * (labour.hours_per_day - labour.set_up_minutes / 60.0)
        worked = sum(each for task, each in hours.items() if task != LabourTask.BEFORE_SHEATHING)
        base = sum(item.person_hours for item in self.main.items if item.release)
        more = np.ceil(np.asarray(worked) / room - 1e-9) - np.ceil(base / room - 1e-9)
        return np.maximum(len(self.main.days) + more, 1.0) * np.ones(count)

    def _amount(
        self,
        line: PriceLine,
        drawn: Draws,
        change: tuple[FloatArray, FloatArray],
        hours: dict[str, FloatArray],
        days: FloatArray,
    ) -> FloatArray:
        price, quantity = float(line.unit_price or 0), float(line.quantity or 0)
        before, cent = len(self.main.days), float(self.main.book.cent)
        if line.group is PriceGroup.LABOUR:
            crew = self.main.job.labour.crew_size * self.main.job.labour.set_up_minutes / 60.0
            own = hours.get(line.code, days * crew)
            return _to(_to(own, 0.01) * price, cent)
        if line.group is PriceGroup.MATERIAL:
            return _to(self._packages(line, drawn, change, days) * price, cent)
        if line.unit == "job":
            return np.full(len(days), float(line.amount or 0))
        if line.unit == "person hour":
            return _to(_to(quantity * days / before, 0.01) * price, cent)
        return _to(np.maximum(quantity + days - before, 0.0) * price, cent)

    def _packages(
        self, line: PriceLine, drawn: Draws, change: tuple[FloatArray, FloatArray], days: FloatArray
    ) -> FloatArray:
        """Whole packages of a material."""
        found = self.main.schedule.line(line.code)
        if found is None or not found.size or found.packages is None:
            return np.full(len(days), float(line.quantity or 0))
        volume, bays = change
        gross = np.full(len(days), found.gross)
        if line.code == "fibre":
            gross = gross * volume * drawn.density
        elif line.code.startswith("netting"):
            gross = gross * drawn.netting
        elif line.code == "staples":
            job = self.main.job
            gross = gross + self.stapled_studs * bays / job.netting.staple_spacing * (1.0 + job.waste.staples)
        elif line.code == "adhesive":
            gross = gross + self.glued_studs * bays * (1.0 + self.main.job.waste.adhesive)
        elif found.modelled + found.laid_out == 0.0 and line.code != "goggles":
            gross = gross * days / len(self.main.days)
        # A layout of rolls may need more of them than its area: what lies over comes on top of the quote's own.
        spare = np.ceil(found.gross / found.size - 1e-9)
        return np.maximum(found.packages + np.ceil(gross / found.size - 1e-9) - spare, 0.0)


def _to(amount: FloatArray, step: float) -> FloatArray:
    """Rounded to a multiple of a step, halves up, as decimal money is."""
    return np.floor(amount / step + 0.5 + 1e-9) * step
