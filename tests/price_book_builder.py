"""A small price book with round numbers, and takeoffs priced with it, for tests."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from takeoff.job import Job, default_job
from takeoff.model import WallTakeoff
from takeoff.price_book import PriceBook, load_price_book, read_price_book
from takeoff.pricing import Priced, priced
from takeoff.schedule_basis import Basis, BasisHandFill
from tests.records_builder import plain_wall, takeoff_of

SAMPLE_BOOK = Path(__file__).resolve().parents[1] / "sample_models" / "price_book.toml"

ROUND_BOOK = """
[book]
title = "Round numbers for tests"
invented = true
currency = "XTS"

[contractor]
name = "Nobody (invented)"

[[materials.fibre]]
name = "loose-fill glass fibre"
size = "10 kg"
price = 20
volume = "0.1 m3"

[[materials.netting]]
name = "netting 2.5 m"
width = "2.5 m"
length = "10 m"
price = 30
mass = "2 kg"
volume = "0.01 m3"

[materials.staples]
name = "staples"
size = 100
price = 1.50

[materials.sealant]
name = "sealant"
size = "1 m"
price = 4

[materials.goggles]
name = "goggles"
price = 5

[materials.respirators]
name = "filters"
price = 2

[materials.gloves]
name = "gloves"
price = 1

[materials.coveralls]
name = "coveralls"
price = 3

[[equipment]]
name = "machine"
per = "blowing_day"
price = 100

[rates]
hour = 30
trip = 20

[terms]
overhead = 0.10
margin = 0.20
tax = 0.25
minimum = 0
round_to = 0.05
"""


def round_book(*changes: tuple[str, str]) -> PriceBook:
    """The book with round numbers, texts in it replaced."""
    text = ROUND_BOOK
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return read_price_book(text)


def sample_book() -> PriceBook:
    """The invented book of the sample models."""
    return load_price_book(SAMPLE_BOOK)


def batts_only_basis() -> Basis:
    """The plain wall with every place filled by hand with batts, and nothing blown."""
    basis = takeoff_of((plain_wall(),)).schedule_basis()
    by_hand = tuple(
        replace(each, method="batt", blown_volume=0.0, lower_holes=0, upper_holes=0) for each in basis.cavities
    )
    places = tuple(
        BasisHandFill(
            each.cavity_id, each.layer_key, each.storey, each.room, "batt", each.source,
            0.4, each.area / 0.4, each.depth, each.area, each.volume,
        )
        for each in by_hand
    )  # fmt: skip
    layers = tuple(replace(each, netted=False, outline_wkt="") for each in basis.layers)
    return replace(basis, cavities=by_hand, hand_fills=places, layers=layers)


def priced_walls(*walls: WallTakeoff, job: Job | None = None, book: PriceBook | None = None) -> Priced:
    """The plain wall, or the walls given, with schedule, days and price."""
    basis = takeoff_of(walls or (plain_wall(),)).schedule_basis()
    return priced(basis, job or default_job(), book or round_book())
