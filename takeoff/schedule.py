"""The material schedule: from the basis to what has to be bought, every number the sum of traceable shares."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, fsum

from takeoff.job import Job, design_density
from takeoff.model import Method, Source
from takeoff.netting_comparison import Netting, netting_notes, netting_of
from takeoff.netting_layout import NettingLayout
from takeoff.plurals import plural
from takeoff.price_book import BattPack, FibrePackage, LengthPackage, Materials, Package, PiecePackage, PriceBook
from takeoff.schedule_basis import Basis, BasisCavity, BasisHandFill, BasisLayer

THINNER = 0.005
"""m by which a batt may be thinner than its place: it is not cut to the millimetre. Own assumption."""
MM = 1000.0


@dataclass(frozen=True, slots=True)
class Share:
    """What one place adds to a line: a cavity, a part of one, or the netting of one stud layer in one room."""

    code: str
    layer_key: str
    cavity_id: str
    storey: str
    room: str
    source: str
    """modelled or laid_out"""
    net: float
    """In the unit of the line."""
    early: bool = False
    """True for what is put in before the walls are sheathed."""


@dataclass(frozen=True, slots=True)
class ScheduleLine:
    """One material. Quantities in `unit`: kg, m2, m or piece."""

    code: str
    description: str
    unit: str
    net: float
    gross: float
    basis: str
    """Which cavities or lengths it comes from, in words; schedule_shares.csv has each."""
    modelled: float
    """Part of the net quantity that rests on modelled frames."""
    laid_out: float
    """Part that rests on frames laid out by rule; what is left of 1 rests on days of work."""
    package: str = ""
    """Word for what is bought at once; empty where the price book has none."""
    size: float | None = None
    """Of one package, in `unit`."""
    packages: int | None = None
    product: Package | None = None

    @property
    def waste(self) -> float:
        """Gross less net quantity."""
        return self.gross - self.net


@dataclass(frozen=True, slots=True, eq=False)
class Schedule:
    """All lines of a job with the shares that they add up from, and the netting piece by piece."""

    lines: tuple[ScheduleLine, ...]
    shares: tuple[Share, ...]
    layout: NettingLayout
    plain: NettingLayout | None
    """The plain method with the rolls of the price book; None where no roll covers every wall."""
    netting_allowance: float
    """m2 of netting by the rule of thumb: area of the walls, openings not deducted, and the waste of the job file. It
    knows no widths of rolls and can fall short of what they need."""
    notes: tuple[str, ...] = ()
    """What the price book lacks or the layout cannot do."""

    def line(self, code: str) -> ScheduleLine | None:
        """The line of a code, None where there is none."""
        return next((line for line in self.lines if line.code == code), None)


def material_schedule(basis: Basis, job: Job, book: PriceBook | None = None) -> Schedule:
    """The schedule of a basis; packages are those of the price book, none without one."""
    rooms = room_parts(basis)
    materials = book.materials if book is not None else Materials()
    netting = netting_of(basis, job, materials)
    drafts = [
        *_fibre(basis, job, book),
        *_netting(basis, rooms, netting),
        *_fastening(basis, job, materials, rooms),
        *_batts(basis, job, materials),
        *_sealant(basis, job, materials),
        *_pieces(basis, materials),
        *_patches(basis, job, materials),
    ]
    drafts = [draft for draft in drafts if draft.shares]
    lines = tuple(draft.line() for draft in drafts)
    missing = [
        f"{line.description}: the price book has no package, so it is not priced" for line in lines if not line.package
    ]
    shares = tuple(share for draft in drafts for share in draft.shares)
    notes = (*netting_notes(netting), *(missing if book is not None else ()))
    return Schedule(lines, shares, netting.layout, netting.plain, netting.allowance, notes)


def room_parts(basis: Basis) -> dict[str, dict[tuple[str, str], float]]:
    """By stud layer the rooms that its netting faces, with their parts of 1 by area of the blown cavities."""
    areas: dict[str, dict[tuple[str, str], float]] = {}
    for cavity in basis.cavities:
        if cavity.lower_holes + cavity.upper_holes:
            own = areas.setdefault(cavity.layer_key, {})
            own[cavity.storey, cavity.room] = own.get((cavity.storey, cavity.room), 0.0) + cavity.area
    return {
        key: {room: area / total for room, area in own.items()}
        for key, own in areas.items()
        if (total := fsum(own.values()))
    }


@dataclass(frozen=True, slots=True, eq=False)
class _Draft:
    """A line before its shares are summed. gross: of the net quantity."""

    code: str
    description: str
    unit: str
    shares: tuple[Share, ...]
    gross: Callable[[float], float]
    basis: str
    product: Package | None = None
    size: float | None = None
    packages: int | None = None

    def line(self) -> ScheduleLine:
        net = fsum(share.net for share in self.shares)
        gross = self.gross(net)
        packages = self.packages
        if packages is None and self.size is not None:
            packages = packages_of(gross, self.size)
        return ScheduleLine(
            self.code, self.description, self.unit, net, gross, self.basis,
            modelled=_part(self.shares, net, Source.MODELLED), laid_out=_part(self.shares, net, Source.LAID_OUT),
            package=self.product.package if self.product is not None else "", size=self.size, packages=packages,
            product=self.product,
        )  # fmt: skip


def packages_of(gross: float, size: float) -> int:
    """Whole packages that hold a quantity.

    >>> packages_of(28.0, 14.0), packages_of(28.1, 14.0)
    (2, 3)
    """
    return max(0, ceil(gross / size - 1e-9))


def _part(shares: Iterable[Share], net: float, source: Source) -> float:
    return fsum(share.net for share in shares if share.source == source) / net if net else 0.0


def _more(waste: float) -> Callable[[float], float]:
    return lambda net: net * (1.0 + waste)


# ---------------------------------------------------------------- fibre


def _fibre(basis: Basis, job: Job, book: PriceBook | None) -> list[_Draft]:
    product = book.fibre_named(job.fibre.name) if book is not None else None
    shares = tuple(
        Share("fibre", c.layer_key, c.cavity_id, c.storey, c.room, c.source, cavity_mass(c, job))
        for c in basis.cavities
        if c.blown_volume > 0.0 and c.lower_holes + c.upper_holes
    )
    volume = fsum(c.blown_volume for c in basis.cavities if c.lower_holes + c.upper_holes)
    words = f"{plural(len(shares), 'blown cavity')}, {volume:.3f} m3 by the job's design density of each depth"
    size = product.size if isinstance(product, FibrePackage) else None
    return [_Draft("fibre", job.fibre.name, "kg", shares, _more(job.waste.fibre), words, product, size)]


def cavity_mass(cavity: BasisCavity, job: Job) -> float:
    """kg of fibre in the blown part of a cavity, at the design density for its depth."""
    return cavity.blown_volume * design_density(job, cavity.depth)


# ---------------------------------------------------------------- netting and what holds it


def _netting(basis: Basis, rooms: Mapping[str, Mapping[tuple[str, str], float]], cut: Netting) -> list[_Draft]:
    """A line for each kind of roll that is cut; one without packages where no roll covers the walls."""
    layers, layout = {layer.layer_key: layer for layer in basis.layers if layer.netted}, cut.layout
    if not layout.rolls or layout.failed:
        shares = [
            share for key, layer in layers.items() for share in _roomed("netting", layer, rooms, layer.netting_area)
        ]
        words = f"netting of {plural(len(layers), 'stud layer')}, openings cut out; gross by the rule of thumb"
        return [_Draft("netting", "netting", "m2", tuple(shares), _fixed(cut.allowance), words)]
    drafts: list[_Draft] = []
    for kind, roll in enumerate(layout.rolls):
        strips = [strip for strip in layout.strips if strip.roll == kind]
        code = f"netting_{kind + 1}"
        net: dict[str, float] = {}
        for strip in strips:
            net[strip.key] = net.get(strip.key, 0.0) + strip.net
        shares = [share for key, area in net.items() for share in _roomed(code, layers[key], rooms, area)]
        words = (
            f"{plural(len(strips), 'strip')} on {plural(len(net), 'stud layer')}, laps, edges and "
            "off-cuts in the gross quantity: "
            "netting_pieces.csv has each"
        )
        used, count = layout.used[kind], layout.counts[kind]
        product = cut.products[kind]
        drafts.append(_Draft(code, roll.name, "m2", tuple(shares), _fixed(used), words, product, roll.area, count))
    return drafts


def _fixed(gross: float) -> Callable[[float], float]:
    return lambda _: gross


def _roomed(
    code: str, layer: BasisLayer, rooms: Mapping[str, Mapping[tuple[str, str], float]], quantity: float
) -> list[Share]:
    """A quantity of one stud layer shared out to the rooms that it faces."""
    parts = rooms.get(layer.layer_key) or {(layer.storey, ""): 1.0}
    return [
        Share(code, layer.layer_key, "", storey, room, layer.source, quantity * part)
        for (storey, room), part in parts.items()
        if quantity > 0.0
    ]


def is_glued(layer: BasisLayer, job: Job) -> bool:
    """Whether the netting of a stud layer is glued."""
    return netting_is_glued(layer.studs, job)


def netting_is_glued(studs: str, job: Job) -> bool:
    """Whether netting on studs of this material is glued: where the job says so, and always on steel studs."""
    return job.netting.fastening == "glue" or studs == "steel"


def line_length(layer: BasisLayer) -> float:
    """m; all lines that hold the netting of a stud layer."""
    return layer.top_plate + layer.bottom_plate + layer.ends + layer.openings + layer.stud_lines


def staple_count(layer: BasisLayer, job: Job) -> int:
    """Staples of one stud layer."""
    return staples_along(line_length(layer), layer.top_plate, is_glued(layer, job), job)


def staples_along(lines: float, top_plate: float, glued: bool, job: Job) -> int:
    """Staples along every line, m, or along the top plate, m, of glued netting: one at each end and between."""
    if glued:
        spacing = job.netting.glued_staple_spacing
        return floor(top_plate / spacing + 1e-9) + 1 if top_plate > 0.0 else 0
    return ceil(lines / job.netting.staple_spacing - 1e-9)


def _fastening(
    basis: Basis, job: Job, materials: Materials, rooms: Mapping[str, Mapping[tuple[str, str], float]]
) -> list[_Draft]:
    netted = [layer for layer in basis.layers if layer.netted]
    glued = [layer for layer in netted if is_glued(layer, job)]
    staples = [share for each in netted for share in _roomed("staples", each, rooms, float(staple_count(each, job)))]
    adhesive = [share for each in glued for share in _roomed("adhesive", each, rooms, line_length(each))]
    along = fsum(line_length(each) for each in netted if not is_glued(each, job))
    top = fsum(each.top_plate for each in glued)
    words = [f"{along:.2f} m of plates, stud lines, ends and openings"] if along else []
    words += [f"{top:.2f} m of top plates of glued netting"] if glued else []
    bead = f"{fsum(line_length(each) for each in glued):.2f} m of lines on {plural(len(glued), 'stud layer')}"
    return [
        _counted("staples", "staples", staples, job.waste.staples, " and ".join(words), materials.staples),
        _lengths("adhesive", "adhesive for netting", adhesive, job.waste.adhesive, bead, materials.adhesive),
    ]


def _counted(
    code: str, words: str, shares: Sequence[Share], waste: float, basis: str, product: PiecePackage | None
) -> _Draft:
    size = product.size if product is not None else None
    name = product.name if product is not None else words
    return _Draft(code, name, "piece", tuple(shares), _more(waste), basis, product, size)


def _lengths(
    code: str, words: str, shares: Sequence[Share], waste: float, basis: str, product: LengthPackage | None
) -> _Draft:
    size = product.size if product is not None else None
    name = product.name if product is not None else words
    return _Draft(code, name, "m", tuple(shares), _more(waste), basis, product, size)


# ---------------------------------------------------------------- what is done by hand


def _batts(basis: Basis, job: Job, materials: Materials) -> list[_Draft]:
    """A line for each product, or for each depth where the price book has no batts."""
    places = [each for each in basis.hand_fills if each.method in (Method.BATT, Method.BEFORE_SHEATHING)]
    packs = sorted(materials.batts, key=lambda pack: pack.thickness)
    groups: dict[str, list[tuple[BasisHandFill, float]]] = {}
    products: dict[str, BattPack | None] = {}
    for place in places:
        product, layers = batt_for(place.depth, packs)
        depth = ceil(place.depth * MM / 5.0 - 1e-6) * 5
        code = f"batts_{depth}" if product is None else f"batts_{packs.index(product) + 1}"
        products[code] = product
        groups.setdefault(code, []).append((place, place.area * layers))
    drafts: list[_Draft] = []
    for code, group in sorted(groups.items()):
        product = products[code]
        shares = tuple(
            Share(
                code, each.layer_key, each.cavity_id, each.storey, each.room, each.source, area,
                early=each.method == Method.BEFORE_SHEATHING,
            )
            for each, area in group
        )  # fmt: skip
        name = product.name if product is not None else f"batts {code.removeprefix('batts_')} mm"
        early = sum(share.early for share in shares)
        words = f"{plural(len(shares), 'place')} by hand" + (f", {early} of them before sheathing" if early else "")
        words += f": {batt_sizes([each for each, _ in group])}"
        size = product.area if product is not None else None
        drafts.append(_Draft(code, name, "m2", shares, _more(job.waste.batts), words, product, size))
    return drafts


def batt_for(depth: float, packs: Sequence[BattPack]) -> tuple[BattPack | None, int]:
    """The thinnest batt for a place of a depth (m), and how many one behind the other; packs by rising thickness."""
    if not packs:
        return None, 1
    fit = next((pack for pack in packs if pack.thickness >= depth - THINNER), packs[-1])
    return fit, max(1, ceil((depth - THINNER) / fit.thickness - 1e-9))


def batt_sizes(places: Sequence[BasisHandFill]) -> str:
    """Sizes in words: number, width up to, depth; m, widths to the next 5 cm, depths to the next 5 mm."""
    sizes: dict[tuple[int, int], int] = {}
    for place in places:
        key = ceil(place.width / 0.05 - 1e-6), ceil(place.depth * MM / 5.0 - 1e-6)
        sizes[key] = sizes.get(key, 0) + 1
    return "; ".join(f"{n} up to {w * 0.05:.2f} m wide, {d * 0.005:.3f} m deep" for (w, d), n in sorted(sizes.items()))


def _sealant(basis: Basis, job: Job, materials: Materials) -> list[_Draft]:
    places = [each for each in basis.hand_fills if each.method == Method.SEAL]
    shares = [
        Share("sealant", each.layer_key, each.cavity_id, each.storey, each.room, each.source, each.length)
        for each in places
    ]
    words = f"length of {plural(len(places), 'sliver')}"
    return [_lengths("sealant", "sealant", shares, job.waste.sealant, words, materials.sealant)]


def _pieces(basis: Basis, materials: Materials) -> list[_Draft]:
    kinds = (
        ("blockers", "blocker", "places where a cavity is open to another space", materials.blockers),
        ("eave_baffles", "eave_baffle", "places where a wall meets a vented eave", materials.eave_baffles),
    )
    drafts: list[_Draft] = []
    for code, kind, words, product in kinds:
        own = [each for each in basis.pieces if each.kind == kind]
        shares = [Share(code, each.layer_key, each.cavity_id, each.storey, each.room, each.source, 1.0) for each in own]
        area = fsum(each.area for each in own)
        sizes = f"{fsum(each.length for each in own):.2f} m in all" + (f", {area:.2f} m2" if area else "")
        why = f"{len(shares)} {words}, {sizes}"
        drafts.append(_counted(code, code.replace("_", " "), shares, 0.0, why, product))
    return drafts


def _patches(basis: Basis, job: Job, materials: Materials) -> list[_Draft]:
    if not job.netting.close_holes:
        return []
    shares = [
        Share("patches", c.layer_key, c.cavity_id, c.storey, c.room, c.source, float(c.lower_holes + c.upper_holes))
        for c in basis.cavities
        if c.lower_holes + c.upper_holes
    ]
    words = f"holes of {plural(len(shares), 'cavity')}"
    return [_counted("patches", "hole patches", shares, 0.0, words, materials.patches)]


# ---------------------------------------------------------------- what people wear


def with_protection(schedule: Schedule, job: Job, days: int, materials: Materials) -> Schedule:
    """The schedule with protective equipment for that many days of work."""
    crew, worn = job.labour.crew_size, job.protection
    person_days = crew * days
    kinds = (
        ("goggles", "closed goggles", worn.goggles_per_person * crew, f"{crew} people", materials.goggles),
        (
            "respirators",
            "particle masks or filters",
            worn.respirators_per_person_day * person_days,
            "",
            materials.respirators,
        ),
        ("gloves", "gloves", worn.gloves_per_person_day * person_days, "", materials.gloves),
        ("coveralls", "coveralls", worn.coveralls_per_person_day * person_days, "", materials.coveralls),
    )
    lines: list[ScheduleLine] = []
    for code, words, count, basis, product in kinds:
        if count <= 0.0 or days == 0:
            continue
        size = product.size if product is not None else None
        lines.append(
            ScheduleLine(
                code, product.name if product is not None else words, "piece", count, count,
                basis or f"{plural(person_days, 'person day')}: {crew} people, {plural(days, 'day')}", 0.0, 0.0,
                product.package if product is not None else "", size,
                packages_of(count, size) if size is not None else None, product,
            )
        )  # fmt: skip
    return replace(schedule, lines=(*schedule.lines, *lines))
