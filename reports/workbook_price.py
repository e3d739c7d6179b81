"""Schedule, labour, days and price in the workbook: inputs, and formulas from them to the total."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from reports.quote import QuoteWork
from reports.workbook_style import Formula, Sheet, Styles, counted_in
from takeoff.job import Job
from takeoff.labour import TASK_WORDS, LabourItem, LabourTask
from takeoff.pricing import PriceGroup, PriceLine, blowing_days, hundredths, task_hours
from takeoff.schedule import ScheduleLine
from takeoff.units import UnitSystem, prose_in_units, unit_of_report

LABOUR_HEAD = 2
"""Row of the heads of sheet Labour, from 1."""


@dataclass(frozen=True, slots=True)
class PriceSheets:
    """Cells of the price that the summary shows."""

    before_tax: Formula
    total: Formula


def write_price_sheets(book: Any, work: QuoteWork, styles: Styles) -> PriceSheets:
    """The sheets Schedule, Rates, Labour, Days and Price, in this order."""
    packages = _schedule(Sheet(book, "Schedule", styles), work)
    rates, hours = _rates(Sheet(book, "Rates", styles), work)
    _labour(Sheet(book, "Labour", styles), work, rates)
    _days(Sheet(book, "Days", styles), work)
    return _price(Sheet(book, "Price", styles), work, _Sources(packages, rates, hours))


# ---------------------------------------------------------------- schedule


def _schedule(sheet: Sheet, work: QuoteWork) -> dict[str, str]:
    """Returns the cell of the packages of each line by code."""
    sheet.title("Material schedule")
    sheet.header(
        [
            "code", "material", "net", "waste, part of net", "gross", "unit", "package", "package holds",
            "packages", "on modelled frames", "on laid-out frames", "basis",
        ]
    )  # fmt: skip
    cells: dict[str, str] = {}
    for line in work.main.schedule.lines:
        cells[line.code] = _schedule_line(sheet, line, work.system)
    sheet.finish()
    return cells


def _schedule_line(sheet: Sheet, line: ScheduleLine, system: UnitSystem) -> str:
    factor, unit = unit_of_report(line.unit, system)
    row = sheet.next_row + 1
    waste = line.waste / line.net if line.net > 0.0 else 0.0
    net, gross, pieces = line.net / factor, line.gross / factor, counted_in(line.unit)
    # Rolls come from the layout and not from an area, so their number is an input.
    counted = line.code.startswith("netting")
    packages: Any = line.packages
    if line.packages is not None and not counted:
        packages = Formula(f"=ROUNDUP(E{row}/H{row}-0.000000001,0)", line.packages)
    sheet.row(
        [
            (line.code, "text"),
            (line.description, "text"),
            (net, "count" if pieces else "two"),
            (waste, "input_share"),
            (Formula(f"=C{row}*(1+D{row})", gross), "count" if pieces else "two"),
            (unit, "text"),
            (line.package, "text"),
            (None if line.size is None else line.size / factor, "input_count" if pieces else "input"),
            (packages, "input_count" if counted and packages is not None else "count"),
            (line.modelled, "share"),
            (line.laid_out, "share"),
            (prose_in_units(line.basis, system), "text"),
        ]
    )
    return f"Schedule!$I${row}"


# ---------------------------------------------------------------- labour


def _rates(sheet: Sheet, work: QuoteWork) -> tuple[dict[str, str], dict[str, str]]:
    """Production rates as inputs and the hours of each task; returns the cells of the rates and of the hours."""
    main = work.main
    sheet.title("Production rates, and person hours by task as priced")
    sheet.header(["kind", "code", "what", "value", "unit"])
    cells: dict[str, str] = {}
    for name, words, value, unit in _rate_rows(main.job, work.system, len(main.days)):
        style = "input_count" if name in ("crew_size", "days") else "input"
        row = sheet.row([("rate", "text"), (name, "text"), (words, "text"), (value, style), (unit, "text")])
        cells[name] = f"Rates!$D${row + 1}"
    hours_of: dict[str, str] = {}
    first, last = LABOUR_HEAD + 1, LABOUR_HEAD + max(len(main.items), 1)
    for task, each in task_hours(main.items, main.days).items():
        row = sheet.next_row + 1
        text = f"=ROUND(SUMIF(Labour!$D${first}:$D${last},B{row},Labour!$H${first}:$H${last}),2)"
        if task is LabourTask.SET_UP:
            text = f"=ROUND({cells['days']}*{cells['crew_size']}*{cells['set_up_minutes']}/60,2)".replace("Rates!", "")
        hours = Formula(text, float(hundredths(each)))
        sheet.row(
            [
                ("hours", "text"), (str(task), "text"), (TASK_WORDS[task], "text"), (hours, "two"),
                ("person hours", "text"),
            ]
        )  # fmt: skip
        hours_of[str(task)] = f"Rates!$D${row}"
    sheet.finish()
    return cells, hours_of


def _rate_rows(job: Job, system: UnitSystem, days: int) -> list[tuple[str, str, float, str]]:
    labour = job.labour
    area, area_unit = unit_of_report("m2", system)
    volume, volume_unit = unit_of_report("m3", system)
    length, length_unit = unit_of_report("m", system)
    return [
        ("crew_size", "people", labour.crew_size, ""),
        ("days", "days, as laid out on sheet Days", days, ""),
        ("set_up_minutes", "set up and clear up, the crew, each day", labour.set_up_minutes, "min"),
        ("netting", "netting hung in a person hour", labour.netting_area_per_hour / area, area_unit),
        ("volume", "blown in a person hour", labour.blown_volume_per_hour / volume, volume_unit),
        ("hole", "for a hole", labour.minutes_per_hole, "min"),
        ("upper", "from a ladder or stilts, factor", labour.upper_factor, ""),
        ("hand", "for a place filled by hand", labour.minutes_per_hand_fill, "min"),
        ("seal", f"for one {length_unit} of sealant", labour.minutes_per_sealed_metre * length, "min"),
        ("piece", "for a blocker or eave baffle", labour.minutes_per_piece, "min"),
        ("patch", "for a patch", labour.minutes_per_patch, "min"),
        ("check", "for a density check", labour.minutes_per_check, "min"),
        ("move", "to move into a room, the crew", labour.move_minutes, "min"),
    ]


def _labour(sheet: Sheet, work: QuoteWork, rates: Mapping[str, str]) -> None:
    sheet.title("Labour by room, in the order of work")
    heads = ["release", "storey", "room", "task", "quantity", "unit", "holes", "person hours"]
    sheet.header([*heads, "quantity from a ladder", "holes from a ladder"])
    for item in work.main.items:
        _labour_item(sheet, item, rates, work.system)
    sheet.finish()


def _labour_item(sheet: Sheet, item: LabourItem, rates: Mapping[str, str], system: UnitSystem) -> None:
    row = sheet.next_row + 1
    factor, unit = unit_of_report(item.unit, system)
    style = "count" if counted_in(item.unit) else "three"
    quantity, holes = f"E{row}", f"G{row}"
    blown = f"{quantity}/{rates['volume']}+{holes}*{rates['hole']}/60"
    by_task: dict[LabourTask, str] = {
        LabourTask.BEFORE_SHEATHING: f"{quantity}*{rates['hand']}/60",
        LabourTask.MOVE: f"{quantity}*{rates['crew_size']}*{rates['move']}/60",
        LabourTask.HAND_FILL: f"{quantity}*{rates['hand']}/60",
        LabourTask.SEAL: f"{quantity}*{rates['seal']}/60",
        LabourTask.PIECES: f"{quantity}*{rates['piece']}/60",
        LabourTask.NETTING: f"{quantity}/{rates['netting']}",
        LabourTask.LOWER_PASS: blown,
        LabourTask.UPPER_PASS: f"{blown}+({rates['upper']}-1)*(I{row}/{rates['volume']}+J{row}*{rates['hole']}/60)",
        LabourTask.PATCH: f"{quantity}*{rates['patch']}/60",
        LabourTask.CHECK: f"{quantity}*{rates['check']}/60",
    }
    sheet.row(
        [
            (item.release, "count"),
            (item.storey, "text"),
            (item.room, "text"),
            (str(item.task), "text"),
            (item.quantity / factor, style),
            (unit, "text"),
            (item.holes, "count"),
            (Formula(f"={by_task[item.task]}", item.person_hours), "three"),
            (item.ladder_quantity / factor, style),
            (item.ladder_holes, "count"),
        ]
    )


# ---------------------------------------------------------------- days


def _days(sheet: Sheet, work: QuoteWork) -> None:
    mass, mass_unit = unit_of_report("kg", work.system)
    volume, volume_unit = unit_of_report("m3", work.system)
    sheet.title("Days, and what the truck brings on each: no second trip")
    sheet.header(
        [
            "day", "visit", "rooms", "material", "packages", "package", "mass" f" ({mass_unit})",
            f"volume ({volume_unit})", "person hours of the day", "ended by",
        ]
    )  # fmt: skip
    for day in work.main.days:
        visit = "before sheathing" if day.before_sheathing else "main"
        rooms = "; ".join(day.rooms)
        sheet.row(
            [
                (day.number, "count"), (visit, "text"), (rooms, "text"), ("all", "strong"), (None, "count"),
                ("", "text"), (day.mass / mass, "one"), (day.volume / volume, "two"), (day.person_hours, "two"),
                (day.ended_by, "text"),
            ]
        )  # fmt: skip
        for load in day.loads:
            if load.packages == 0:
                continue
            sheet.row(
                [
                    (day.number, "count"), (visit, "text"), ("", "text"), (load.description, "text"),
                    (load.packages, "count"), (load.package, "text"),
                    (None if load.mass is None else load.mass / mass, "one"),
                    (None if load.volume is None else load.volume / volume, "two"), (None, "two"), ("", "text"),
                ]
            )  # fmt: skip
    sheet.finish()


# ---------------------------------------------------------------- price


@dataclass(frozen=True, slots=True)
class _Sources:
    """Cells that quantities of the price come from."""

    packages: Mapping[str, str]
    """By code of the line."""
    rates: Mapping[str, str]
    hours: Mapping[str, str]
    """By code of the task."""


def _price(sheet: Sheet, work: QuoteWork, sources: _Sources) -> PriceSheets:
    main, price, terms = work.main, work.main.price, work.main.book.terms
    cents, currency = main.book.book.decimals, main.book.book.currency
    sheet.title("Price")
    if not price.fixed:
        why = (
            "lines without a price are in no sum" if price.holds else "the prices do not hold on the date of the quote"
        )
        sheet.note(f"NOT A FIXED PRICE: {why}.", style="strong")
    sheet.header(["group", "code", "what", "quantity", "unit", f"price of one ({currency})", f"amount ({currency})"])
    first = sheet.next_row + 1
    for line in price.lines:
        _price_line(sheet, line, work, sources)
    last = max(sheet.next_row, first)
    step = sheet.next_row + 1

    def total(words: str, part: float | None, formula: Callable[[int], str], value: Any, strong: bool = False) -> None:
        row = sheet.next_row + 1
        money, text = ("money_strong", "text_strong") if strong else ("money", "text")
        sheet.row(
            [
                ("sum", text), ("", text), (words, text), (part, "input_share" if part is not None else text),
                ("", text), (None, text), (Formula(formula(row), float(value)), money),
            ]
        )  # fmt: skip

    nothing = "" if price.lines else "*0"
    total("direct cost", None, lambda _: f"=ROUND(SUM(G{first}:G{last}),{cents})", price.direct, True)
    total("overhead", float(terms.overhead), lambda r: f"=ROUND(G{step}*D{r},{cents})", price.overhead)
    total("margin", float(terms.margin), lambda r: f"=ROUND((G{step}+G{step + 1})*D{r},{cents})", price.margin)
    asked = f"G{step}+G{step + 1}+G{step + 2}"
    minimum = float(terms.minimum)
    total(
        "raised to the minimum charge",
        None,
        lambda _: f"=ROUND(MAX(0,{minimum!r}-({asked})){nothing},{cents})",
        price.raised,
    )
    unit = float(terms.round_to)
    total("rounded", None, lambda r: f"=G{r + 1}-({asked}+G{r - 1})", price.rounded)
    total(
        "price before tax",
        None,
        lambda r: f"=ROUND(ROUND(({asked}+G{r - 2})/{unit!r},0)*{unit!r},{cents})",
        price.before_tax,
        True,
    )
    total(terms.tax_name, float(terms.tax), lambda r: f"=ROUND(G{r - 1}*D{r},{cents})", price.tax)
    words = "fixed price" if price.fixed else "not a fixed price"
    total(words, None, lambda r: f"=G{r - 2}+G{r - 1}", price.total, True)
    sheet.finish(pages=(1, 1))
    return PriceSheets(
        Formula(f"=Price!G{step + 5}", float(price.before_tax)), Formula(f"=Price!G{step + 7}", float(price.total))
    )


def _price_line(sheet: Sheet, line: PriceLine, work: QuoteWork, sources: _Sources) -> None:
    row, cents = sheet.next_row + 1, work.main.book.book.decimals
    quantity: Any = None if line.quantity is None else _quantity(line, work, sources)
    price = None if line.unit_price is None else float(line.unit_price)
    amount: Any = "not priced"
    if line.quantity is not None:
        text = f'=IF(ISNUMBER(F{row}),ROUND(D{row}*F{row},{cents}),"not priced")'
        amount = Formula(text, "not priced" if line.amount is None else float(line.amount))
    sheet.row(
        [
            (str(line.group), "text"),
            (line.code, "text"),
            (line.description, "text"),
            (quantity, "two"),
            (line.unit, "text"),
            (price, "input_money"),
            (amount, "money"),
        ]
    )


def _quantity(line: PriceLine, work: QuoteWork, sources: _Sources) -> Formula:
    """Where the quantity of a line comes from."""
    value = float(line.quantity or 0)
    if line.group is PriceGroup.MATERIAL:
        return Formula(f"={sources.packages[line.code]}", value)
    if line.group is PriceGroup.LABOUR:
        return Formula(f"={sources.hours[line.code]}", value)
    if line.code == "road":
        minutes = work.main.book.rates.travel_minutes
        return Formula(f"=ROUND({sources.rates['days']}*{sources.rates['crew_size']}*{minutes}/60,2)", value)
    if line.unit == "job":
        return Formula("=1", value)
    other = len(work.main.days) - blowing_days(work.main.days)
    days = sources.rates["days"]
    return Formula(f"={days}-{other}" if line.unit == "blowing day" else f"={days}", value)
