"""Tables of schedule, labour, price and scope: what `bayfill quote` writes as CSV, SI and in the units of the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from takeoff.columns import Table, count, number, text, truth
from takeoff.labour import LabourItem
from takeoff.labour_days import Day, Load
from takeoff.netting_layout import NettingLayout
from takeoff.netting_strips import Strip
from takeoff.pricing import Price, Priced, PriceLine
from takeoff.pricing_scope import AlternatePrice, ScopeRow
from takeoff.risk import RiskResult
from takeoff.schedule import Schedule, ScheduleLine, Share
from takeoff.units import UnitSystem, in_units


@dataclass(frozen=True, slots=True, eq=False)
class LineRow:
    """A line of the schedule in the units of the report."""

    line: ScheduleLine
    system: UnitSystem

    def shown(self, value: float | None) -> float | None:
        """A quantity of the line in the units of the report."""
        return None if value is None else in_units(value, self.line.unit, self.system)[0]

    @property
    def unit_shown(self) -> str:
        """Its unit there."""
        return in_units(0.0, self.line.unit, self.system)[1]


SCHEDULE: Table[LineRow] = Table(
    "schedule",
    "One material to buy.",
    "fibre, netting, what holds it, batts, sealant, pieces, protective equipment",
    (
        text("code", "code of the line, which all files of the quote share", lambda r: r.line.code),
        text("description", "as the price book names it", lambda r: r.line.description),
        text("unit", "unit of the quantities: kg, m2, m or piece", lambda r: r.line.unit),
        number("net", "", "what the basis adds up to", lambda r: r.line.net),
        number("waste", "", "gross less net", lambda r: r.line.waste),
        number("gross", "", "what is used up", lambda r: r.line.gross),
        text("package", "what is bought at once; empty where the price book has none", lambda r: r.line.package),
        number("package_size", "", "of one package, in the same unit", lambda r: r.line.size),
        count("packages", "whole packages to order", lambda r: r.line.packages),
        text("basis", "which cavities or lengths it comes from; schedule_shares.csv has each", lambda r: r.line.basis),
        number("modelled_share", "1", "part that rests on modelled frames", lambda r: r.line.modelled),
        number("laid_out_share", "1", "part that rests on frames laid out by rule", lambda r: r.line.laid_out),
        number("net_shown", "", "net quantity in the units of the job", lambda r: r.shown(r.line.net)),
        number("waste_shown", "", "waste in the units of the job", lambda r: r.shown(r.line.waste)),
        number("gross_shown", "", "gross quantity in the units of the job", lambda r: r.shown(r.line.gross)),
        number("package_size_shown", "", "package in the units of the job", lambda r: r.shown(r.line.size)),
        text("unit_shown", "unit of the last four", lambda r: r.unit_shown),
    ),
)

SHARES: Table[tuple[Share, str]] = Table(
    "schedule_shares",
    "What one cavity, one part of one or one stud layer in one room adds to a line of the schedule.",
    "as schedule.csv, then as cavities.csv",
    (
        text("code", "line of the schedule", lambda r: r[0].code),
        text("layer_key", "stud layer", lambda r: r[0].layer_key),
        text("cavity_id", "cavity; empty for what belongs to the whole stud layer", lambda r: r[0].cavity_id),
        text("storey", "name of the storey", lambda r: r[0].storey),
        text("room", "room on the fill side", lambda r: r[0].room),
        text("framing_source", "modelled or laid_out", lambda r: r[0].source),
        number("net", "", "net quantity", lambda r: r[0].net),
        text("unit", "its unit", lambda r: r[1]),
        truth("before_sheathing", "put in before the walls are sheathed", lambda r: r[0].early),
    ),
)


@dataclass(frozen=True, slots=True)
class RoomRow:
    """A line of the schedule in one room."""

    code: str
    unit: str
    storey: str
    room: str
    net: float


ROOMS: Table[RoomRow] = Table(
    "schedule_rooms",
    "One line of the schedule in one room.",
    "as schedule.csv, then as the rooms are first met",
    (
        text("code", "line of the schedule", lambda r: r.code),
        text("storey", "name of the storey", lambda r: r.storey),
        text("room", "room on the fill side; of netting, shared out by area of the blown cavities", lambda r: r.room),
        number("net", "", "net quantity", lambda r: r.net),
        text("unit", "its unit", lambda r: r.unit),
    ),
)

PIECES: Table[tuple[Strip, NettingLayout]] = Table(
    "netting_pieces",
    "One piece of netting to cut.",
    "wall by wall, runs from the floor up, then drops along the wall",
    (
        text("layer_key", "stud layer", lambda r: r[0].key),
        text("way", "run (along the wall) or drop (from the top)", lambda r: r[0].way),
        number("low_m", "m", "lower or left seam in wall axes", lambda r: r[0].low),
        number("high_m", "m", "upper or right seam in wall axes", lambda r: r[0].high),
        number("from_m", "m", "where it begins the other way", lambda r: r[0].start),
        number("to_m", "m", "where it ends the other way", lambda r: r[0].stop),
        text("roll", "kind of roll", lambda r: r[1].rolls[r[0].roll].name),
        count("roll_number", "which roll of its kind, from 1", lambda r: r[0].roll_number + 1),
        count("cut", "which cut of its kind, from 1; a cut may hold several pieces", lambda r: r[0].place.cut + 1),
        number("across_m", "m", "where it begins across the cut", lambda r: r[0].place.across),
        number("along_m", "m", "where it begins along the cut", lambda r: r[0].place.along),
        truth("turned", "its length lies across the cut", lambda r: r[0].place.turned),
        number("width_m", "m", "width that it needs, laps and edges included", lambda r: r[0].width),
        number("length_m", "m", "length that is cut, laps and edges included", lambda r: r[0].length),
        number("net_m2", "m2", "wall that it covers, openings cut out, laps once", lambda r: r[0].net),
    ),
)

LABOUR: Table[LabourItem] = Table(
    "labour",
    "One task in one room.",
    "in the order of work",
    (
        count("release", "rooms of one release are worked together; 0 is before sheathing", lambda r: r.release),
        text("storey", "name of the storey", lambda r: r.storey),
        text("room", "room on the fill side", lambda r: r.room),
        text("task", "what is done", lambda r: r.task),
        number("quantity", "", "how much of it", lambda r: r.quantity),
        text("unit", "piece, m, m2, m3 or crew", lambda r: r.unit),
        count("holes", "holes of a pass", lambda r: r.holes),
        number(
            "ladder_quantity", "", "of the quantity of a pass, from a ladder or stilts", lambda r: r.ladder_quantity
        ),
        count("ladder_holes", "of the holes, above standing reach", lambda r: r.ladder_holes),
        number("person_hours", "h", "by the rates of the job file", lambda r: r.person_hours),
    ),
)

DAYS: Table[Day] = Table(
    "days",
    "One day of the crew.",
    "in the order of work",
    (
        count("day", "number of the day", lambda r: r.number),
        truth("before_sheathing", "a visit of its own, before the walls are sheathed", lambda r: r.before_sheathing),
        text("rooms", "storeys and rooms in which something is done", lambda r: "; ".join(r.rooms)),
        number("person_hours", "h", "of all tasks and of setting up", lambda r: r.person_hours),
        number("set_up_hours", "h", "person hours of setting up among them", lambda r: r.set_up_hours),
        text("ended_by", "hours, truck, or end of the visit", lambda r: r.ended_by),
        number("load_kg", "kg", "what the truck brings, as far as the price book tells", lambda r: r.mass),
        number("load_m3", "m3", "room that it takes, as far as the price book tells", lambda r: r.volume),
    ),
)

LOADS: Table[tuple[Day, Load]] = Table(
    "loads",
    "One material on the truck of one day.",
    "as days.csv, then as schedule.csv",
    (
        count("day", "number of the day", lambda r: r[0].number),
        text("code", "line of the schedule", lambda r: r[1].code),
        text("description", "as the price book names it", lambda r: r[1].description),
        number("need", "", "gross quantity that the day uses", lambda r: r[1].need),
        text("unit", "its unit", lambda r: r[1].unit),
        count("packages", "whole packages to bring; what is left over comes back or stays", lambda r: r[1].packages),
        text("package", "word for one", lambda r: r[1].package),
        number("mass_kg", "kg", "of these packages", lambda r: r[1].mass),
        number("volume_m3", "m3", "of these packages on the truck", lambda r: r[1].volume),
    ),
)


@dataclass(frozen=True, slots=True)
class MoneyRow:
    """A line of the price, or a step from cost to price."""

    group: str
    code: str
    description: str
    quantity: Decimal | None
    unit: str
    unit_price: Decimal | None
    amount: Decimal | None
    currency: str


def _money(value: Decimal | None) -> str:
    return "" if value is None else str(value)


PRICE: Table[MoneyRow] = Table(
    "price",
    "One quantity at one price, or one step from cost to price.",
    "materials, labour, equipment, travel, then the steps (group sum)",
    (
        text("group", "material, labour, equipment, travel, or sum", lambda r: r.group),
        text("code", "code of the line", lambda r: r.code),
        text("description", "what it is", lambda r: r.description),
        text("quantity", "packages, person hours, days or trips, decimal", lambda r: _money(r.quantity)),
        text("unit", "its unit", lambda r: r.unit),
        text("unit_price", "decimal; empty: not priced", lambda r: _money(r.unit_price)),
        text("amount", "decimal, rounded to the cent; empty: not priced", lambda r: _money(r.amount)),
        text("currency", "ISO 4217", lambda r: r.currency),
    ),
)


@dataclass(frozen=True, slots=True, eq=False)
class ScopeLine:
    """A row of the scope in the units of the report."""

    row: ScopeRow
    system: UnitSystem

    def area(self, value: float) -> float:
        """An area in the units of the report."""
        return in_units(value, "m2", self.system)[0]


SCOPE: Table[ScopeLine] = Table(
    "scope",
    "Insulated walls of one type and depth on one storey.",
    "as walls.csv",
    (
        text("storey", "name of the storey", lambda r: r.row.storey),
        text("type", "name of the wall type", lambda r: r.row.type_name),
        number("depth_m", "m", "depth of the stud layers", lambda r: r.row.depth),
        count("walls", "number of walls", lambda r: r.row.walls),
        number("gross_area_m2", "m2", "openings not deducted", lambda r: r.row.gross_area),
        number("opening_area_m2", "m2", "openings", lambda r: r.row.opening_area),
        number("insulated_area_m2", "m2", "openings deducted, framing included", lambda r: r.row.net_area),
        number("billed_area_m2", "m2", "by the measurement rule of the job", lambda r: r.row.billed_area),
        count("cavities", "filled, by any method", lambda r: r.row.cavities),
        number("fill_volume_m3", "m3", "volume of these", lambda r: r.row.fill_volume),
        number("fibre_kg", "kg", "net, in the blown ones", lambda r: r.row.fibre_mass),
        number("resistance_m2K_W", "m2 K/W", "of the fibre at this depth", lambda r: r.row.resistance),
        number("modelled_share", "1", "part of the insulated area with a modelled frame", lambda r: r.row.modelled),
        number("insulated_area_shown", "", "in the units of the job", lambda r: r.area(r.row.net_area)),
        number("billed_area_shown", "", "in the units of the job", lambda r: r.area(r.row.billed_area)),
        text("area_unit_shown", "unit of the last two", lambda r: in_units(0.0, "m2", r.system)[1]),
    ),
)

ALTERNATES: Table[AlternatePrice] = Table(
    "alternates",
    "One alternate of the job, priced as the main offer is.",
    "as in the job file",
    (
        text("name", "name in the job file", lambda r: r.alternate.name),
        text("fibre", "fibre", lambda r: r.priced.job.fibre.name),
        number("density_kg_m3", "kg/m3", "design density", lambda r: r.priced.job.fibre.density),
        number("depth_m", "m", "depth of all stud layers, empty where it stays", lambda r: r.alternate.depth),
        text(
            "fixed",
            "yes, or why not: how many lines are not priced, or the date",
            lambda r: fixed_words(r.priced.price),
        ),
        text("before_tax", "decimal", lambda r: str(r.priced.price.before_tax)),
        text("total", "with tax, decimal", lambda r: str(r.priced.price.total)),
        text("currency", "ISO 4217", lambda r: r.priced.book.book.currency),
    ),
)


def _total_words(price: Price) -> str:
    if price.fixed:
        return "fixed price"
    why = "lines are missing" if price.unpriced or not price.lines else "the prices do not hold on that date"
    return f"not a fixed price: {why}"


def fixed_words(price: Price) -> str:
    """'yes', or how many lines are missing a price."""
    if price.lines and not price.holds:
        return "no: the price book does not hold on the date of the quote"
    return "yes" if price.fixed else f"no: {len(price.unpriced)} not priced"


@dataclass(frozen=True, slots=True)
class RiskRow:
    """One figure of the simulation."""

    kind: str
    name: str
    low: float | None
    likely: float | None
    high: float | None
    price_low: float | None
    price_high: float | None
    value: float | None


RISK: Table[RiskRow] = Table(
    "risk",
    "One figure of the simulated price before tax: for the estimator.",
    "settings, results, percentiles, then drivers by swing",
    (
        text("kind", "setting, result, percentile or driver", lambda r: r.kind),
        text("name", "which", lambda r: r.name),
        number("low", "", "of a driver: low end of its range", lambda r: r.low),
        number("likely", "", "likeliest value", lambda r: r.likely),
        number("high", "", "high end of its range", lambda r: r.high),
        number("price_at_low", "", "price before tax there, all else as the job assumes", lambda r: r.price_low),
        number("price_at_high", "", "the same at the high end", lambda r: r.price_high),
        number("value", "", "the figure; of a driver its rank correlation with the price", lambda r: r.value),
    ),
)

FIGURES: Table[tuple[str, str]] = Table(
    "quote",
    "One figure that quote.pdf prints outside its tables of walls and alternates.",
    "as first printed",
    (
        text("item", "what it is", lambda r: r[0]),
        text("value", "as printed", lambda r: r[1]),
    ),
)

QUOTE_TABLES: tuple[Table[Any], ...] = (
    FIGURES, SCHEDULE, SHARES, ROOMS, PIECES, LABOUR, DAYS, LOADS, PRICE, SCOPE, ALTERNATES, RISK,
)  # fmt: skip
"""Every table that `bayfill quote` writes, in the order of the README."""


# ---------------------------------------------------------------- rows


def share_rows(schedule: Schedule) -> list[tuple[Share, str]]:
    """Shares with the unit of their line."""
    units = {line.code: line.unit for line in schedule.lines}
    return [(share, units[share.code]) for share in schedule.shares]


def room_rows(schedule: Schedule) -> list[RoomRow]:
    """The schedule split by storey and room."""
    units = {line.code: line.unit for line in schedule.lines}
    sums: dict[tuple[str, str, str], float] = {}
    for share in schedule.shares:
        key = (share.code, share.storey, share.room)
        sums[key] = sums.get(key, 0.0) + share.net
    return [RoomRow(code, units[code], storey, room, net) for (code, storey, room), net in sums.items()]


def load_rows(days: Sequence[Day]) -> list[tuple[Day, Load]]:
    """What every day's truck brings."""
    return [(day, load) for day in days for load in day.loads]


def money_rows(priced: Priced) -> list[MoneyRow]:
    """The price line by line, then the steps to the total."""
    book, price = priced.book, priced.price
    currency, terms = book.book.currency, book.terms

    def line(row: PriceLine) -> MoneyRow:
        return MoneyRow(
            str(row.group), row.code, row.description, row.quantity, row.unit, row.unit_price, row.amount, currency
        )

    def step(code: str, words: str, amount: Decimal, part: Decimal | None = None) -> MoneyRow:
        return MoneyRow("sum", code, words, part, "" if part is None else "share", None, amount, currency)

    return [
        *(line(row) for row in price.lines),
        step("direct", "sum of all priced lines" if price.unpriced else "direct cost", price.direct),
        step("overhead", "overhead on direct cost", price.overhead, terms.overhead),
        step("margin", "margin on direct cost and overhead", price.margin, terms.margin),
        step("raised", "raised to the minimum charge", price.raised),
        step("rounded", f"rounded to {terms.round_to}", price.rounded),
        step("before_tax", "price before tax", price.before_tax),
        step("tax", terms.tax_name, price.tax, terms.tax),
        step(
            "total",
            _total_words(price),
            price.total,
        ),
    ]


def risk_rows(risk: RiskResult | None) -> list[RiskRow]:
    """The simulation as rows; none where there is none."""
    if risk is None:
        return []

    def figure(kind: str, name: str, value: float) -> RiskRow:
        return RiskRow(kind, name, None, None, None, None, None, value)

    return [
        figure("setting", "seed", risk.seed),
        figure("setting", "runs", risk.runs),
        figure("result", "quoted price before tax", risk.quoted),
        figure("result", "mean of the simulated prices", risk.mean),
        figure("result", "part of the runs in which cost is above the quoted price", risk.loss_share),
        figure("result", "part of the blown volume in laid-out frames", risk.laid_out_share),
        *(figure("percentile", str(each), value) for each, value in risk.percentiles),
        *(
            RiskRow(
                "driver", each.words, each.low, each.likely, each.high, each.price_at_low, each.price_at_high,
                each.rank_correlation,
            )
            for each in risk.drivers
        ),
    ]  # fmt: skip
