"""What a quote says in words: included, excluded, assumed. All of it from the data, so that nobody signs for what was
not seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from reports.crew_rows import shown
from takeoff.finding import Severity
from takeoff.pricing import Priced, PriceGroup
from takeoff.pricing_scope import ScopeTotals, walls_left_out
from takeoff.schedule import is_glued, plural
from takeoff.schedule_basis import Basis
from takeoff.units import (
    UnitSystem,
    format_area,
    format_density,
    format_length,
    format_volume,
    in_units,
    prose_in_units,
)

THIN = "\u202f"
"""Narrow no-break space that parts thousands, so that no comma can be read as a decimal sign."""
MOST_REASONS, LONGEST_REASON = 6, 160
MOST_FINDINGS, LONGEST_FINDING = 4, 260
"""Lines of a kind, and letters of one: a quote has at most three pages, the workbook has all of them in full."""


@dataclass(slots=True)
class Figures:
    """Takes down every figure that the quote prints outside its tables, for quote.csv."""

    system: UnitSystem
    rows: list[tuple[str, str]] = field(default_factory=list)

    def say(self, item: str, value: str) -> str:
        """The value as printed; taken down once for each item."""
        words = shown(value)
        row = (item, words.replace(THIN, ""))
        if row not in self.rows:
            self.rows.append(row)
        return words

    def count(self, item: str, number: int, noun: str) -> str:
        """A number with its noun."""
        return self.say(item, plural(number, noun))

    def area(self, item: str, area: float) -> str:
        """An area in m2 as printed."""
        return self.say(item, format_area(area, self.system))


def included(main: Priced, sums: ScopeTotals, figures: Figures) -> list[str]:
    """What the price covers."""
    job, basis = main.job, main.basis
    lines = [
        f"{figures.count('blown cavities', sums.blown_cavities, 'cavity')} blown with {job.fibre.name} behind netting, "
        f"{figures.say('blown volume', format_volume(sums.blown_volume, figures.system))} in place at a design density "
        f"of {figures.say('design density', _densities(main, figures.system))}"
    ] if sums.blown_cavities else []  # fmt: skip
    if sums.hand_places:
        early = ""
        if sums.early_places:
            early = f", {figures.say('of them before sheathing', str(sums.early_places))} of them before the walls are "
            early += "sheathed, on a visit of its own"
        lines.append(f"{figures.count('places by hand', sums.hand_places, 'place')} filled by hand with batts{early}")
    if sums.sealed_length > 0.0:
        length = "{} {}".format(*in_units(sums.sealed_length, "m", figures.system))
        lines.append(f"{figures.say('length sealed', length)} of narrow gaps sealed")
    for item, number, noun in (
        ("blockers", sums.blockers, "blocker"),
        ("eave baffles", sums.eave_baffles, "eave baffle"),
    ):
        if number:
            lines.append(f"{figures.count(item, number, noun)} set before the netting")
    if sums.blown_cavities:
        patched = "patched" if job.netting.close_holes else "left as slits that close by themselves"
        holes = figures.count("fill holes", sums.holes, "fill hole")
        lines.append(f"netting {_fastening(main)}, openings cut out, rolled flat; {holes} {patched}")
        checks = figures.count("density checks", sums.checks, "core")
        lines.append(f"density check by {checks}, weighed on site, and the record of it")
        lines.append("a signed and dated statement of area, thickness, R-value and bags for each part, as installed")
    if basis.cavities:
        names = [line.description for line in main.price.lines if line.group is PriceGroup.EQUIPMENT and line.priced]
        lines.append("; ".join([*names, "protective equipment of the crew, and clearing up what we bring"]))
    return [f"{line[0].upper()}{line[1:]}." for line in lines]


def _densities(main: Priced, system: UnitSystem) -> str:
    fibre = main.job.fibre
    steps = [
        f"{format_density(each.density, system)} to {format_length(each.depth_to, system)}" for each in fibre.by_depth
    ]
    return ", ".join([*steps, format_density(fibre.density, system) + (" beyond" if steps else "")])


def _fastening(main: Priced) -> str:
    glued = {is_glued(layer, main.job) for layer in main.basis.layers if layer.netted}
    if glued == {True}:
        return "glued along plates, studs and openings and stapled along the top"
    if glued == {True, False}:
        return "stapled along plates, studs and openings, on steel studs glued"
    return "stapled along plates, studs, corners and openings"


def excluded(basis: Basis, figures: Figures) -> list[str]:
    """What the price leaves out: walls of the model by reason, then what is never in it."""
    rows = walls_left_out(basis)
    lines: list[str] = []
    for number, row in enumerate(rows[:MOST_REASONS], start=1):
        area = f", {figures.area(f'left out {number}, area', row.area)}" if row.area > 0.0 else ""
        what = figures.count(f"left out {number}", row.walls, "wall")
        kind = "that could not be measured: " if row.failed else "not filled: "
        lines.append(f"{what}{area} {kind}{shortened(row.reason, LONGEST_REASON)}")
    if len(rows) > MOST_REASONS:
        walls = sum(row.walls for row in rows[MOST_REASONS:])
        lines.append(f"{figures.count('left out, other', walls, 'wall')} for other reasons, listed in takeoff.xlsx")
    lines += [
        "floors, roofs, ceilings and rim joists, and all that is not in the model",
        "sheathing, lining, vapour control and air barriers, and their repair",
        "making wiring safe, inspections, scaffolding, drying, and clearing rooms of other trades' things",
    ]
    return [f"{line[0].upper()}{line[1:].removesuffix('.')}." for line in lines]


def assumed(main: Priced, sums: ScopeTotals, figures: Figures) -> list[str]:
    """What the price rests on; nothing where nothing is filled."""
    if not main.basis.cavities:
        return finding_lines(main.basis, figures)
    lines = [*_frames(sums, figures), *_openings(main.basis, figures), billing_words(main, sums, figures)]
    main_days = sum(not day.before_sheathing for day in main.days)
    early_days = len(main.days) - main_days
    if main.days:
        crew = figures.count("crew", main.job.labour.crew_size, "person").replace("persons", "people")
        days = figures.count("days on site", main_days, "day") if main_days else "no day"
        early = (
            f" and {figures.count('days before sheathing', early_days, 'day')} before sheathing" if early_days else ""
        )
        lines.append(f"A crew of {crew} works {days}{early}, without waiting; power and clear, dry rooms are there.")
    if sums.blown_cavities:
        lines.append(
            "R-values are those of the fibre at its design density and the depth of the studs, not of the whole wall; "
            "the coverage chart on the bag comes first."
        )
    lines.append("The walls are built as the model shows them, dry, and their wiring and pipes are inspected.")
    lines += finding_lines(main.basis, figures)
    return [line for line in lines if line]


def _frames(sums: ScopeTotals, figures: Figures) -> list[str]:
    if sums.net_area <= 0.0:
        return []
    modelled = round(100.0 * sums.modelled_area / sums.net_area)
    if modelled == 100:
        return ["The frames of all insulated walls are in the model; cavities were measured from them."]
    laid_out = figures.say("insulated area with a frame laid out by rule", f"{100 - modelled} %")
    start = f"For {laid_out} of the insulated area the model has no frame: studs, plates and headers were laid out"
    return [f"{start} by rule, and the frame that is built may take more or less fibre."]


def _openings(basis: Basis, figures: Figures) -> list[str]:
    if not basis.openings:
        return []
    count = figures.count("openings without an element", len(basis.openings), "opening")
    area = figures.area("openings without an element, area", sum(each.area for each in basis.openings))
    kinds = ", ".join(dict.fromkeys(each.evidence for each in basis.openings))
    return [f"{count} ({area}) that no opening element of the model states, recognised by other signs ({kinds})."]


def billing_words(main: Priced, sums: ScopeTotals, figures: Figures) -> str:
    """How the billed area was measured."""
    quote, net = main.job.quote, figures.area("insulated area", sums.net_area)
    billed = figures.area("billed area", sums.billed_area)
    if quote.billed_area == "net":
        return f"Billed area is the insulated area of {net}: openings deducted, framing included."
    if quote.billed_area == "gross":
        return f"Billed area of {billed} deducts no openings; {net} are insulated, and material follows the cavities."
    size = figures.area("largest opening not deducted", quote.opening_size)
    return (
        f"Billed area of {billed} deducts openings larger than {size} each; {net} are insulated, and material follows "
        "the cavities."
    )


def finding_lines(basis: Basis, figures: Figures) -> list[str]:
    """What was found in the model that bears on the price: errors and warnings, the worst first."""
    found = [each for each in basis.findings if each.severity in (Severity.ERROR, Severity.WARNING)]
    lines = [
        f"Seen in the model, {figures.say(f'finding {each.code}', times(each.count))}: "
        f"{figures.say(f'finding {each.code}, example', _example(each.example, figures.system))}"
        for each in found[:MOST_FINDINGS]
    ]
    if len(found) > MOST_FINDINGS:
        rest = figures.count("further kinds of findings", len(found) - MOST_FINDINGS, "further kind")
        lines.append(f"{rest} of findings in the model, listed in takeoff.xlsx.")
    return lines


def _example(message: str, system: UnitSystem) -> str:
    return shortened(prose_in_units(message, system), LONGEST_FINDING)


def times(number: int) -> str:
    """How often, in words and digits."""
    return "once" if number == 1 else f"{number} times"


def shortened(words: str, longest: int) -> str:
    """The words, cut at a blank where they have more letters than that.

    >>> shortened("a wall with a long name", 14)
    'a wall with ...'
    """
    if len(words) <= longest:
        return words
    return f"{words[:longest].rsplit(' ', 1)[0]} ..."


def unpriced_words(main: Priced) -> Sequence[str]:
    """Lines that the price book does not price."""
    return [line.description for line in main.price.unpriced]
