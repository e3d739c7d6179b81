"""The price book: package sizes, prices, rates and terms, read from a TOML file of the estimator's own.

Money is decimal from the file on. A price that the book does not have stays missing: nothing is priced at zero in
silence.
"""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    StrictInt,
    StrictStr,
    ValidationError,
    model_validator,
)

from takeoff.errors import TakeoffError
from takeoff.job_faults import sentences
from takeoff.units import parse_area, parse_length, parse_mass, parse_volume

LARGEST_FILE = 2_000_000
"""Bytes"""
MOST_ROWS = 200
"""Products of one kind."""
LARGEST_PRICE = Decimal(10) ** 9
MOST_FAULTS_SHOWN = 20


class PriceBookError(TakeoffError, ValueError):
    """A price book that cannot be used. `path` is the file, `faults` one sentence each, naming key and mend."""

    def __init__(self, path: str, faults: Sequence[str]) -> None:
        super().__init__(path, tuple(faults))
        self.path = path
        self.faults = tuple(faults)

    def __str__(self) -> str:
        rest = len(self.faults) - MOST_FAULTS_SHOWN
        more = f"; and {rest} more" if rest > 0 else ""
        return f"price book {self.path}: {'; '.join(self.faults[:MOST_FAULTS_SHOWN])}{more}"


def _decimal(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | str | Decimal):
        raise ValueError(f"is {value!r}; write an amount such as 38.50")
    try:
        amount = Decimal(value)
    except InvalidOperation:
        raise ValueError(f"is {value!r}; write an amount such as 38.50, without currency or comma") from None
    if not amount.is_finite() or not 0 <= amount <= LARGEST_PRICE:
        raise ValueError(f"is {value}; write an amount from 0 to {LARGEST_PRICE}")
    return amount


def _count(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or not 0 < value <= 10_000_000:
        raise ValueError(f"is {value!r}; write a number of pieces above 0, without quotes")
    return float(value)


Money = Annotated[Decimal, BeforeValidator(_decimal)]
Part = Annotated[Decimal, BeforeValidator(_decimal), Field(le=Decimal(10))]
"""Part of one, decimal."""
Length = Annotated[float, BeforeValidator(parse_length), Field(gt=0.0)]
"""m"""
Area = Annotated[float, BeforeValidator(parse_area), Field(gt=0.0)]
"""m2"""
Mass = Annotated[float, BeforeValidator(parse_mass), Field(gt=0.0)]
"""kg"""
Volume = Annotated[float, BeforeValidator(parse_volume), Field(gt=0.0)]
"""m3"""
Pieces = Annotated[float, BeforeValidator(_count)]
Words = Annotated[StrictStr, Field(min_length=1, max_length=200)]
Lines = Annotated[StrictStr, Field(max_length=400)]


class BookPart(BaseModel):
    """A part of the price book: misspelt keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Package(BookPart):
    """What is bought at once."""

    name: Words
    package: Words = "package"
    """Word for one: bag, box, roll."""
    price: Money | None = None
    """Of one package; missing means not priced."""
    mass: Mass | None = None
    """kg of one package on the truck"""
    volume: Volume | None = None
    """m3 of one package on the truck"""


class FibrePackage(Package):
    """A bag of fibre."""

    package: Words = "bag"
    size: Mass
    """kg of fibre in a bag"""

    @property
    def loaded_mass(self) -> float:
        """kg on the truck: as stated, else the fibre's own."""
        return self.mass if self.mass is not None else self.size


class NettingRoll(Package):
    """A roll of netting."""

    package: Words = "roll"
    width: Length
    length: Length


class BattPack(Package):
    """A pack of batts of one thickness."""

    package: Words = "pack"
    thickness: Length
    area: Area
    """m2 of all batts in a pack"""


class LengthPackage(Package):
    """Something that lasts for a length, such as a cartridge."""

    package: Words = "cartridge"
    size: Length
    """m of bead"""


class PiecePackage(Package):
    """Something that is counted."""

    package: Words = "box"
    size: Pieces = 1.0


class Materials(BookPart):
    """What is used up. A material that the book does not have is listed without package and price."""

    fibre: Annotated[tuple[FibrePackage, ...], Field(max_length=MOST_ROWS)] = ()
    netting: Annotated[tuple[NettingRoll, ...], Field(max_length=12)] = ()
    batts: Annotated[tuple[BattPack, ...], Field(max_length=MOST_ROWS)] = ()
    staples: PiecePackage | None = None
    adhesive: LengthPackage | None = None
    sealant: LengthPackage | None = None
    eave_baffles: PiecePackage | None = None
    blockers: PiecePackage | None = None
    patches: PiecePackage | None = None
    goggles: PiecePackage | None = None
    respirators: PiecePackage | None = None
    gloves: PiecePackage | None = None
    coveralls: PiecePackage | None = None


class Equipment(BookPart):
    """Something that is paid by the day, by the day on which something is blown, or by the job."""

    name: Words
    per: Literal["day", "blowing_day", "job"]
    price: Money | None = None


class Rates(BookPart):
    """What people cost and how far they drive."""

    hour: Money | None = None
    """Of one person on site."""
    travel_hour: Money | None = None
    """Of one person on the road; as `hour` where it is not set."""
    trip: Money | None = None
    """Of the truck, there and back."""
    travel_minutes: Annotated[StrictInt, Field(ge=0, le=1440)] = 0
    """There and back."""


class Terms(BookPart):
    """From cost to price."""

    overhead: Part
    """Of direct cost."""
    margin: Part
    """Of direct cost and overhead together."""
    tax: Part
    """Of the price."""
    tax_name: Words = "tax"
    minimum: Money = Decimal(0)
    """Least price before tax."""
    round_to: Annotated[Money, Field(gt=0)] = Decimal("0.01")
    """The price before tax is rounded to a multiple of it, halves up."""
    valid_days: Annotated[StrictInt, Field(ge=1, le=3650)] = 30
    payment: Lines = ""


class BookFacts(BookPart):
    """What the book is."""

    title: Words
    invented: StrictBool
    """True for an example whose prices are made up; every page then says so."""
    currency: Annotated[StrictStr, Field(pattern=r"^[A-Z]{3}$")]
    """Three letters of ISO 4217."""
    decimals: Annotated[StrictInt, Field(ge=0, le=3)] = 2
    valid_from: datetime.date | None = None
    valid_to: datetime.date | None = None

    @model_validator(mode="after")
    def _in_order(self) -> BookFacts:
        if self.valid_from and self.valid_to and self.valid_from > self.valid_to:
            raise ValueError(f"valid_from {self.valid_from} is after valid_to {self.valid_to}; write them in order")
        return self

    def holds_on(self, date: str) -> bool:
        """Whether the prices hold on a date (ISO 8601); where no date is given nobody can say that they do not."""
        if not date:
            return True
        day = datetime.date.fromisoformat(date)
        return (self.valid_from is None or self.valid_from <= day) and (self.valid_to is None or day <= self.valid_to)


class Contractor(BookPart):
    """Who offers."""

    name: Words
    address: Lines = ""
    contact: Lines = ""


class PriceBook(BookPart):
    """A whole price book."""

    book: BookFacts
    contractor: Contractor
    materials: Materials = Materials()
    equipment: Annotated[tuple[Equipment, ...], Field(max_length=MOST_ROWS)] = ()
    rates: Rates = Rates()
    terms: Terms

    @property
    def cent(self) -> Decimal:
        """Smallest amount of the currency."""
        return Decimal(1).scaleb(-self.book.decimals)

    def fibre_named(self, name: str) -> FibrePackage | None:
        """The fibre of that name, capitals and spaces at the ends do not matter; None where the book has none."""
        wanted = name.strip().casefold()
        return next((each for each in self.materials.fibre if each.name.strip().casefold() == wanted), None)


def load_price_book(path: str | Path) -> PriceBook:
    """Reads a price book. Raises PriceBookError, naming all faults at once."""
    path = Path(path)
    try:
        if not path.is_file():
            raise PriceBookError(str(path), ["is no file; give the path of a TOML file"])
        if path.stat().st_size > LARGEST_FILE:
            raise PriceBookError(str(path), [f"is larger than {LARGEST_FILE // 1_000_000} MB"])
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise PriceBookError(str(path), [f"cannot be read ({error.strerror or error})"]) from error
    except UnicodeDecodeError as error:
        raise PriceBookError(str(path), ["is not UTF-8 text; save it as UTF-8"]) from error
    return read_price_book(text, str(path))


def read_price_book(text: str, name: str = "price book") -> PriceBook:
    """The price book in a TOML text; `name` is what errors call the file. Raises PriceBookError."""
    try:
        table = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, InvalidOperation) as error:
        raise PriceBookError(name, [f"is no valid TOML: {error}; mend that line"]) from error
    except RecursionError as error:
        raise PriceBookError(name, ["is nested too deeply"]) from error
    try:
        return PriceBook.model_validate(table)
    except ValidationError as error:
        faults = [line.replace("of a job file", "of a price book") for line in sentences(error, PriceBook)]
        raise PriceBookError(name, faults) from error
