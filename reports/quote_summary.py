"""What `bayfill quote` prints: for the estimator, the risk of the price with it."""

from __future__ import annotations

from decimal import Decimal

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reports.cautions import FIRST
from reports.quote import QuoteWork, money
from takeoff.risk import RiskResult
from takeoff.schedule import plural
from takeoff.schedule_tables import fixed_words
from takeoff.units import format_area, in_units


def quote_summary(work: QuoteWork) -> Group:
    """The quote in short, as rich blocks to be printed without markup."""
    blocks: list[RenderableType] = [Text(f"{work.main.basis.model}: {_headline(work)}"), Text("")]
    blocks += _titled("Areas", Group(*(Text(line) for line in _areas(work))))
    if work.main.schedule.lines:
        blocks += _titled("Material", _materials(work))
    blocks += _titled("Price", Group(*(Text(line) for line in _price(work))))
    if work.alternates:
        blocks += _titled("Alternates", Group(*(Text(line) for line in _alternates(work))))
    if work.risk is not None:
        blocks += _titled("Risk, for you and not for the builder", Group(*_risk(work, work.risk)))
    blocks += _titled("Mind", Text(FIRST))
    return Group(*blocks)


def _titled(title: str, block: RenderableType) -> list[RenderableType]:
    return [Text(title, style="bold"), Padding(block, (0, 0, 1, 2), expand=False)]


def _headline(work: QuoteWork) -> str:
    days = plural(len(work.main.days), "day")
    invented = ", with an invented price book" if work.main.book.book.invented else ""
    return f"{plural(work.sums.walls, 'wall')} to fill, {days} of work{invented}"


def _areas(work: QuoteWork) -> list[str]:
    sums, rule = work.sums, work.main.job.quote.billed_area.replace("_", " ")
    net, billed = format_area(sums.net_area, work.system), format_area(sums.billed_area, work.system)
    lines = [f"insulated area  {net} (openings deducted, framing included)", f"billed area     {billed} (rule: {rule})"]
    if sums.net_area > 0.0:
        share = 100.0 * sums.modelled_area / sums.net_area
        lines.append(f"frames          {share:.0f} % of that area modelled, {100.0 - share:.0f} % laid out by rule")
    layout = work.main.schedule.layout
    if layout.strips:
        schedule, system = work.main.schedule, work.system
        waste = 100.0 * work.main.job.netting.plain_waste
        lines.append(f"netting         {format_area(layout.used_area, system)} cut from rolls")
        if schedule.plain is not None:
            whole = format_area(schedule.plain.used_area, system)
            lines.append(f"                {whole} by the plain method: whole courses of one roll, nothing used again")
        thumb = format_area(schedule.netting_allowance, system)
        lines.append(f"                {thumb} by the rule of thumb: area of the walls and {waste:.0f} %")
    return lines


def _materials(work: QuoteWork) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name, side in (("material", "left"), ("net", "right"), ("gross", "right"), ("unit", "left"), ("order", "left")):
        table.add_column(name, justify="right" if side == "right" else "left", no_wrap=True)
    for line in work.main.schedule.lines:
        (net, unit), (gross, _) = (in_units(each, line.unit, work.system) for each in (line.net, line.gross))
        order = "not in the price book" if line.packages is None else plural(line.packages, line.package)
        table.add_row(line.description, f"{net:g}", f"{gross:g}", unit, order)
    return table


def _price(work: QuoteWork) -> list[str]:
    price, book = work.main.price, work.main.book
    lines = [
        f"direct cost {money(price.direct, book)}, overhead {money(price.overhead, book)}, "
        f"margin {money(price.margin, book)}",
        f"before tax  {money(price.before_tax, book)}",
    ]
    if price.fixed:
        return [*lines, f"fixed price {money(price.total, book)} with tax"]
    if not price.lines:
        return ["nothing is filled, so there is no price"]
    if not price.unpriced:
        return [*lines, "no fixed price: the price book does not hold on the date of the quote"]
    return [*lines, f"no fixed price: {plural(len(price.unpriced), 'line')} not priced; the sums hold the others only"]


def _alternates(work: QuoteWork) -> list[str]:
    book = work.main.book
    return [
        f"{each.alternate.name}: {money(each.priced.price.total, book)} with tax"
        + ("" if each.priced.price.fixed else f", {fixed_words(each.priced.price).removeprefix('no: ')}")
        for each in work.alternates
    ]


def _risk(work: QuoteWork, risk: RiskResult) -> list[RenderableType]:
    book, found = work.main.book, dict(risk.percentiles)

    def whole(value: float) -> str:
        return money(Decimal(f"{value:.0f}"), book)

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name, side in (
        ("driver", "left"),
        ("range", "left"),
        ("price from", "right"),
        ("to", "right"),
        ("rank", "right"),
    ):
        table.add_column(name, justify="right" if side == "right" else "left", no_wrap=True)
    for each in risk.drivers:
        low, high = sorted((each.price_at_low, each.price_at_high))
        table.add_row(
            each.words, f"{each.low:g} to {each.high:g}", whole(low), whole(high), f"{each.rank_correlation:+.2f}"
        )
    return [
        Text(f"{100.0 * risk.laid_out_share:.0f} % of the blown volume rests on frames laid out by rule"),
        Text(
            f"simulated price before tax: {whole(found[5])} to {whole(found[95])} in nine of ten of {risk.runs} jobs, "
            f"middle {whole(found[50])} (seed {risk.seed})"
        ),
        Text(f"cost and overhead exceed the quoted price in {100.0 * risk.loss_share:.1f} % of them"),
        Text(""),
        table,
    ]
