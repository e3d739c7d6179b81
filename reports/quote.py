"""The quote as a PDF for the builder: scope, price, alternates, what is in it and what is not, signature."""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from pathlib import Path

from reports.cautions import CAUTIONS, FIRST
from reports.crew_rows import shown
from reports.drawing_text import FONT_FOLDER, is_covered
from reports.quote_words import THIN, Figures, assumed, excluded, included, shortened, unpriced_words
from takeoff.errors import TakeoffError
from takeoff.job import Job
from takeoff.labour_days import load_notes
from takeoff.price_book import FibrePackage, PriceBook
from takeoff.pricing import Priced, priced
from takeoff.pricing_scope import (
    AlternatePrice,
    ScopeRow,
    ScopeTotals,
    alternate_prices,
    offered_resistance,
    scope_rows,
    scope_totals,
)
from takeoff.risk import RiskResult, simulate
from takeoff.schedule import plural
from takeoff.schedule_stored import StoredTakeoff
from takeoff.units import UnitSystem, format_area, format_density, format_length, format_mass, format_resistance

TEMPLATE = Path(__file__).parent / "data" / "quote.typ"
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""mm"""
MOST_SCOPE_ROWS = 16
"""Rows of walls that the quote lists; the rest stands in one."""
LONGEST_NAME = 40
"""Letters of a storey or wall type."""


class QuoteError(TakeoffError):
    """The quote could not be made."""


@dataclass(frozen=True, slots=True, eq=False)
class QuoteWork:
    """A stored takeoff with everything that was worked out for its quote."""

    stored: StoredTakeoff
    main: Priced
    scope: tuple[ScopeRow, ...]
    sums: ScopeTotals
    alternates: tuple[AlternatePrice, ...]
    risk: RiskResult | None

    @property
    def system(self) -> UnitSystem:
        """Units of the report."""
        return self.main.job.report.units


def quote_work(stored: StoredTakeoff, book: PriceBook) -> QuoteWork:
    """Prices a stored takeoff with its job and a price book."""
    main = priced(stored.basis, stored.job, book)
    scope = scope_rows(stored.basis, stored.job)
    return QuoteWork(
        stored, main, scope, scope_totals(stored.basis, scope), alternate_prices(main), simulate(main)
    )  # fmt: skip


def money(amount: Decimal, book: PriceBook) -> str:
    """An amount with its currency as printed."""
    return f"{amount:,}".replace(",", THIN) + f" {book.book.currency}"


def quote_notes(work: QuoteWork) -> list[str]:
    """What the estimator has to know before the quote goes out."""
    notes = [*work.main.schedule.notes, *load_notes(work.main.days, work.main.job)]
    if not work.main.price.holds:
        notes.append(out_of_date(work.main))
    offered = {each.alternate.name for each in work.alternates}
    notes += [
        f"Alternate {each.name!r} changes nothing here, so it is left out."
        for each in work.main.job.quote.alternates
        if each.name not in offered
    ]
    notes += [f"Not priced: {words}." for words in unpriced_words(work.main)]
    return notes


def out_of_date(main: Priced) -> str:
    """That the prices do not hold on the date of the quote, in a sentence."""
    facts = main.book.book
    ends = [f"{word} {day}" for word, day in (("from", facts.valid_from), ("to", facts.valid_to)) if day]
    return (
        f"The price book holds {' '.join(ends)}, and not on {main.job.quote.date}, the date of the quote: there is no "
        "fixed price."
    )


# ---------------------------------------------------------------- the page


def quote_pdf(work: QuoteWork, *, show_risk: bool = False) -> tuple[bytes, tuple[tuple[str, str], ...]]:
    """The PDF, and every figure that it prints outside its tables. Raises QuoteError."""
    figures = Figures(work.system)
    data = quote_data(work, figures)
    if show_risk:
        data["risk"] = _risk(work, figures)
    return _pdf(data), tuple(figures.rows)


def quote_data(work: QuoteWork, figures: Figures) -> dict[str, object]:
    """Everything that the template shows."""
    main, job, book = work.main, work.main.job, work.main.book
    return {
        "paper": PAPERS[paper_of(job)],
        "subject": _subject(work.sums),
        "invented": book.book.invented,
        "contractor": [book.contractor.name, *_lines(book.contractor.address), *_lines(book.contractor.contact)],
        "client": _lines(job.quote.client) or ["to be filled in"],
        "site": _lines(job.quote.site) or ["to be filled in"],
        "facts": _facts(work, figures),
        "scope": _scope(work),
        "fibre": _fibre(main, figures),
        "price": _price(main, work.sums, figures),
        "alternates": [_alternate(each, work, figures) for each in work.alternates],
        "included": included(main, work.sums, figures),
        "excluded": excluded(main.basis, figures),
        "assumed": [shown(line) for line in assumed(main, work.sums, figures)],
        "terms": _terms(main, figures),
        "offer": _offer(main),
        "first": FIRST,
        "cautions": list(CAUTIONS),
    }


def _subject(sums: ScopeTotals) -> str:
    """What the quote is for, by what is done: nothing that is not blown is called so."""
    if sums.blown_cavities:
        return "blown-in wall insulation behind netting"
    return "wall insulation with batts" if sums.hand_places else "wall insulation"


def paper_of(job: Job) -> str:
    """a4 or letter."""
    if job.quote.paper != "auto":
        return job.quote.paper
    return "letter" if job.report.units == "us" else "a4"


def _lines(words: str) -> list[str]:
    return [line.strip() for line in words.split(";") if line.strip()]


def _facts(work: QuoteWork, figures: Figures) -> list[tuple[str, str]]:
    quote, basis = work.main.job.quote, work.main.basis
    rows = [
        ("Reference", figures.say("reference", quote.reference) if quote.reference else ""),
        ("Date", figures.say("date", quote.date) if quote.date else "to be filled in"),
        ("Project", basis.project),
        ("Model", basis.model),
    ]
    return [row for row in rows if row[1]]


def _offer(main: Priced) -> str:
    """What is signed for, in a line."""
    quote, basis = main.job.quote, main.basis
    number = " of ".join(each for each in (quote.reference, quote.date) if each)
    words = [number, basis.project, f"model {basis.model}"]
    return ", ".join(word for word in words if word)


def _scope(work: QuoteWork) -> dict[str, object]:
    shows_billed = work.main.job.quote.billed_area != "net"
    rows = [_scope_cells(row, work.system) for row in work.scope[:MOST_SCOPE_ROWS]]
    rest = work.scope[MOST_SCOPE_ROWS:]
    if rest:
        rows.append(_rest_cells(rest, work.system))
    offers = any(row.resistance is not None for row in work.scope)
    return {
        "billed": shows_billed,
        "offers": offers,
        "rows": rows,
        "total": _total_cells(work.sums, work.scope, work.system),
    }


def _scope_cells(row: ScopeRow, system: UnitSystem) -> dict[str, str]:
    return {
        "storey": shortened(row.storey, LONGEST_NAME) or "no storey",
        "type": shortened(row.type_name, LONGEST_NAME) or "walls without a type",
        "depth": format_length(row.depth, system),
        "walls": str(row.walls),
        "net": shown(format_area(row.net_area, system)),
        "billed": shown(format_area(row.billed_area, system)),
        "cavities": str(row.cavities),
        "resistance": "" if row.resistance is None else shown(format_resistance(row.resistance, system)),
    }


def _rest_cells(rows: Sequence[ScopeRow], system: UnitSystem) -> dict[str, str]:
    return {
        "storey": "other",
        "type": f"{plural(len(rows), 'row')} in scope.csv",
        "depth": "",
        "walls": str(sum(row.walls for row in rows)),
        "net": shown(format_area(sum(row.net_area for row in rows), system)),
        "billed": shown(format_area(sum(row.billed_area for row in rows), system)),
        "cavities": str(sum(row.cavities for row in rows)),
        "resistance": "",
    }


def _total_cells(sums: ScopeTotals, rows: Sequence[ScopeRow], system: UnitSystem) -> dict[str, str]:
    return {
        "storey": "Total",
        "type": "",
        "depth": "",
        "walls": str(sums.walls),
        "net": shown(format_area(sums.net_area, system)),
        "billed": shown(format_area(sums.billed_area, system)),
        "cavities": str(sum(row.cavities for row in rows)),
        "resistance": "",
    }


def _fibre(main: Priced, figures: Figures) -> str:
    """Fibre, bags and mass in one line."""
    line, system = main.schedule.line("fibre"), figures.system
    if line is None:
        return ""
    bags = ""
    if line.packages is not None and line.size is not None and isinstance(line.product, FibrePackage):
        size = figures.say("bag", format_mass(line.size, system))
        bags = f", {figures.count('bags', line.packages, line.package)} of {size}"
    mass = figures.say("fibre in place", format_mass(line.net, system))
    return f"Fibre: {main.job.fibre.name}, {mass} in place{bags}."


def _price(main: Priced, sums: ScopeTotals, figures: Figures) -> dict[str, object]:
    price, book = main.price, main.book
    rate = figures.say("tax rate", f"{(book.terms.tax * 100).normalize():f} %")
    rows = [
        ("Price before tax", figures.say("price before tax", money(price.before_tax, book))),
        (f"{book.terms.tax_name}, {rate}", figures.say("tax", money(price.tax, book))),
    ]
    if price.fixed:
        total = ("Fixed price", figures.say("fixed price", money(price.total, book)))
        words = "One price for the scope above, as included, excluded and assumed below."
        if sums.billed_area > 0.0:
            share = _per_area(price.before_tax, sums.billed_area, main)
            words += f" That is {figures.say('price per billed area', share)} of billed area before tax."
        return {"fixed": True, "rows": rows, "total": total, "words": words, "unpriced": []}
    if not price.lines:
        words = "Nothing in this model is filled, so there is no price."
        return {"fixed": False, "rows": [], "total": ("No price", ""), "words": words, "unpriced": []}
    total = ("Sum of what is priced, with tax", figures.say("sum of what is priced", money(price.total, book)))
    words = "This is not a fixed price."
    if not price.holds:
        words += " The prices that it rests on do not hold on the date of this quote."
    if price.unpriced:
        words += " The following is not priced yet and comes on top:"
    return {"fixed": False, "rows": rows, "total": total, "words": words, "unpriced": list(unpriced_words(main))}


def _per_area(amount: Decimal, area: float, main: Priced) -> str:
    text = format_area(area, main.job.report.units)
    value, unit = text.split(" ")
    each = (amount / Decimal(value)).quantize(main.book.cent)
    return f"{money(each, main.book)}/{unit}"


def _alternate(each: AlternatePrice, work: QuoteWork, figures: Figures) -> dict[str, str]:
    other, price, book = each.alternate, each.priced.price, work.main.book
    job, system = each.priced.job, work.system
    parts = [job.fibre.name]
    if other.density is not None:
        parts.append(figures.say(f"{other.name}, density", format_density(other.density, system)))
    depths = sorted({row.depth for row in each.scope if row.resistance is not None})
    if other.depth is not None:
        parts.append(f"studs {figures.say(f'{other.name}, depth', format_length(other.depth, system))} deep")
    values = [offered_resistance(job, depth) for depth in depths]
    texts = [format_resistance(value, system) for value in values if value is not None]
    resistance = figures.say(f"{other.name}, resistance", " / ".join(dict.fromkeys(texts)))
    if not price.fixed or not work.main.price.fixed:
        return {
            "name": other.name, "words": ", ".join(parts), "resistance": resistance, "price": "not priced",
            "difference": "",
        }  # fmt: skip
    change = price.total - work.main.price.total
    sign = "+" if change > 0 else "-" if change < 0 else ""
    return {
        "name": other.name,
        "words": ", ".join(parts),
        "resistance": resistance,
        "price": figures.say(f"{other.name}, fixed price", money(price.total, book)),
        "difference": figures.say(f"{other.name}, difference", f"{sign}{money(abs(change), book)}"),
    }


def _terms(main: Priced, figures: Figures) -> list[str]:
    terms, date = main.book.terms, main.job.quote.date
    valid = figures.count("valid", terms.valid_days, "day")
    lines = [f"Valid for {valid} from the date of this quote."]
    if not main.price.fixed:
        lines = []
    elif date:
        end = datetime.date.fromisoformat(date) + datetime.timedelta(days=terms.valid_days)
        lines = [f"Valid until {figures.say('valid until', end.isoformat())} ({valid})."]
    if terms.payment:
        lines.append(f"Payment: {figures.say('payment', terms.payment)}")
    lines.append("What differs on site from the model or from the assumptions is priced before it is done.")
    return lines


def _risk(work: QuoteWork, figures: Figures) -> list[str]:
    risk = work.risk
    if risk is None:
        return ["The price is not fixed, so its range was not simulated."]
    book, found = work.main.book, dict(risk.percentiles)

    def at(percent: int) -> str:
        return figures.say(f"simulated price, {percent} %", money(Decimal(f"{found[percent]:.0f}"), book))

    seed = figures.say("seed", str(risk.seed))
    runs = figures.say("simulated jobs", str(risk.runs))
    moving = [each for each in risk.drivers if each.swing >= 0.5]  # what moves no whole unit of money moves nothing
    drivers = ", ".join(each.words.split(",")[0] for each in moving[:3])
    lines = [
        f"Over the plausible range of its assumptions the price before tax lies between {at(5)} and {at(95)} in nine "
        f"of ten cases, half of them below {at(50)} ({runs} simulated jobs, seed {seed}).",
    ]
    return [*lines, f"What moves it most: {drivers}."] if drivers else lines


def _pdf(data: Mapping[str, object]) -> bytes:
    try:
        import typst
    except ImportError as error:
        raise QuoteError("quote.pdf needs the package typst: install it with 'pip install typst'") from error
    text = json.dumps(data, ensure_ascii=False)
    compiled = partial(
        typst.compile,
        str(TEMPLATE),
        format="pdf",
        font_paths=[str(FONT_FOLDER)],
        # Fonts of the machine serve only for scripts that ours does not have: else the same bytes everywhere.
        ignore_system_fonts=is_covered(text),
    )
    try:
        made = compiled(sys_inputs={"data": text})
    except typst.TypstError as error:
        raise QuoteError(f"quote.pdf could not be laid out: {' '.join(str(error).split())[:200]}") from error
    if not isinstance(made, bytes):
        raise QuoteError("quote.pdf could not be laid out: the page layout program gave no document")
    return made
