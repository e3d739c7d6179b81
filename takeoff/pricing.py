"""From schedule, hours and price book to one price, in decimal money; every step is rounded to the cent, halves up."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from takeoff.job import Job
from takeoff.labour import BLOWING, TASK_WORDS, LabourItem, LabourTask
from takeoff.labour_days import Day, work_plan
from takeoff.price_book import PriceBook
from takeoff.schedule import Schedule, ScheduleLine
from takeoff.schedule_basis import Basis

HUNDREDTH = Decimal("0.01")


class PriceGroup(StrEnum):
    """What a line of the price is for."""

    MATERIAL = "material"
    LABOUR = "labour"
    EQUIPMENT = "equipment"
    TRAVEL = "travel"


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One quantity at one price."""

    group: PriceGroup
    code: str
    description: str
    quantity: Decimal | None
    """Packages, person hours, days, trips; None where the price book has no package."""
    unit: str
    unit_price: Decimal | None
    amount: Decimal | None
    """None where the line is not priced."""

    @property
    def priced(self) -> bool:
        """Whether it has an amount."""
        return self.amount is not None


@dataclass(frozen=True, slots=True)
class Price:
    """The whole price. Where a line has no price the sums hold the others only, and nothing is fixed; nor is it where
    the price book does not hold on the date of the quote."""

    lines: tuple[PriceLine, ...]
    direct: Decimal
    """Sum of all lines."""
    overhead: Decimal
    margin: Decimal
    raised: Decimal
    """What the minimum charge adds."""
    rounded: Decimal
    """What rounding adds or takes."""
    before_tax: Decimal
    tax: Decimal
    total: Decimal
    holds: bool = True
    """False where the quote is dated outside the validity of the price book."""

    @property
    def unpriced(self) -> tuple[PriceLine, ...]:
        """Lines without a price."""
        return tuple(line for line in self.lines if not line.priced)

    @property
    def fixed(self) -> bool:
        """True where every line is priced, the prices hold, and there is something to do."""
        return bool(self.lines) and not self.unpriced and self.holds


@dataclass(frozen=True, slots=True, eq=False)
class Priced:
    """A basis with everything that was worked out for it under one job and price book."""

    basis: Basis
    job: Job
    book: PriceBook
    schedule: Schedule
    items: tuple[LabourItem, ...]
    days: tuple[Day, ...]
    price: Price


def priced(basis: Basis, job: Job, book: PriceBook) -> Priced:
    """Schedule, hours, days and price of a basis."""
    plan = work_plan(basis, job, book)
    schedule, items, days = plan.schedule, plan.items, plan.days
    lines = [
        *(_material(line, book) for line in schedule.lines),
        *_labour(items, days, book),
        *_equipment(days, book),
        *_travel(days, job, book),
    ]
    price = replace(price_of(lines if days else [], book), holds=book.book.holds_on(job.quote.date))
    return Priced(basis, job, book, schedule, items, days, price)


def cents(amount: Decimal, book: PriceBook) -> Decimal:
    """An amount rounded to the smallest one of the currency, halves up."""
    return amount.quantize(book.cent, ROUND_HALF_UP)


def rounded_to(amount: Decimal, step: Decimal) -> Decimal:
    """An amount rounded to a multiple of a step, halves up.

    >>> rounded_to(Decimal("1012.50"), Decimal(5)), rounded_to(Decimal("1012.49"), Decimal(5))
    (Decimal('1015'), Decimal('1010'))
    """
    return (amount / step).quantize(Decimal(1), ROUND_HALF_UP) * step


def price_of(lines: Iterable[PriceLine], book: PriceBook) -> Price:
    """From lines to the price: overhead, margin, minimum charge, rounding, tax."""
    rows, terms = tuple(lines), book.terms
    direct = cents(sum((line.amount for line in rows if line.amount is not None), Decimal(0)), book)
    overhead = cents(direct * terms.overhead, book)
    margin = cents((direct + overhead) * terms.margin, book)
    asked = direct + overhead + margin
    raised = cents(max(Decimal(0), terms.minimum - asked) if rows else Decimal(0), book)
    before_tax = cents(rounded_to(asked + raised, terms.round_to), book)
    tax = cents(before_tax * terms.tax, book)
    return Price(
        rows, direct, overhead, margin, raised, before_tax - asked - raised, before_tax, tax, before_tax + tax
    )  # fmt: skip


# ---------------------------------------------------------------- lines


def _line(
    group: PriceGroup, code: str, words: str, quantity: Decimal, per: tuple[str, Decimal | None], book: PriceBook
) -> PriceLine:
    unit, price = per
    return PriceLine(
        group, code, words, quantity, unit, price, None if price is None else cents(quantity * price, book)
    )


def _material(line: ScheduleLine, book: PriceBook) -> PriceLine:
    if line.packages is None or line.product is None:
        return PriceLine(PriceGroup.MATERIAL, line.code, line.description, None, line.package, None, None)
    per = (line.package, line.product.price)
    return _line(PriceGroup.MATERIAL, line.code, line.description, Decimal(line.packages), per, book)


def hundredths(hours: float) -> Decimal:
    """Hours as they are priced: to a hundredth, halves up."""
    return Decimal(repr(round(hours, 9))).quantize(HUNDREDTH, ROUND_HALF_UP)


def task_hours(items: Sequence[LabourItem], days: Sequence[Day]) -> dict[LabourTask, float]:
    """Person-hours of each task of the whole job, in the order of the work."""
    hours = dict.fromkeys(LabourTask, 0.0)
    for item in items:
        hours[item.task] += item.person_hours
    hours[LabourTask.SET_UP] = sum(day.set_up_hours for day in days)
    return {task: each for task, each in hours.items() if each > 0.0}


def _labour(items: Sequence[LabourItem], days: Sequence[Day], book: PriceBook) -> list[PriceLine]:
    per = ("person hour", book.rates.hour)
    return [
        _line(PriceGroup.LABOUR, str(task), TASK_WORDS[task], hundredths(hours), per, book)
        for task, hours in task_hours(items, days).items()
    ]


def _equipment(days: Sequence[Day], book: PriceBook) -> list[PriceLine]:
    """What the book has; where it has none at all and something is blown, the machine, not priced."""
    if not book.equipment and blowing_days(days):
        words = "blowing machine and hose"
        return [PriceLine(PriceGroup.EQUIPMENT, "equipment", words, None, "blowing day", None, None)]
    counts = {"day": len(days), "blowing_day": blowing_days(days), "job": 1}
    return [
        _line(
            PriceGroup.EQUIPMENT, f"equipment_{number}", each.name,
            Decimal(counts[each.per]), (each.per.replace("_", " "), each.price), book,
        )
        for number, each in enumerate(book.equipment, start=1)
        if counts[each.per]
    ]  # fmt: skip


def blowing_days(days: Sequence[Day]) -> int:
    """Days on which the machine is needed: those on which something is blown."""
    return sum(any(part.item.task in BLOWING for part in day.parts) for day in days)


def _travel(days: Sequence[Day], job: Job, book: PriceBook) -> list[PriceLine]:
    rates, trips = book.rates, len(days)
    lines = [_line(PriceGroup.TRAVEL, "trips", "truck, there and back", Decimal(trips), ("trip", rates.trip), book)]
    if rates.travel_minutes:
        hours = hundredths(trips * job.labour.crew_size * rates.travel_minutes / 60.0)
        price = rates.travel_hour if rates.travel_hour is not None else rates.hour
        lines.append(_line(PriceGroup.TRAVEL, "road", "crew on the road", hours, ("person hour", price), book))
    return lines
