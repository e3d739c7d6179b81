"""The price book: what it holds, that money is decimal, and how faults are named."""

from __future__ import annotations

from decimal import Decimal

import pytest

from takeoff.errors import TakeoffError
from takeoff.price_book import PriceBookError, load_price_book, read_price_book
from tests.price_book_builder import ROUND_BOOK, SAMPLE_BOOK, round_book, sample_book


def faults(*changes: tuple[str, str]) -> str:
    with pytest.raises(PriceBookError) as caught:
        round_book(*changes)
    message = str(caught.value)
    assert "\n" not in message
    return message


def test_the_sample_book_says_that_it_is_invented():
    book = sample_book()
    assert book.book.invented
    assert "invented" in book.contractor.name
    assert "MADE UP" in SAMPLE_BOOK.read_text(encoding="utf-8")


def test_every_price_of_the_sample_book_is_there():
    materials = sample_book().materials
    for name in type(materials).model_fields:
        value = getattr(materials, name)
        for product in value if isinstance(value, tuple) else (value,):
            assert product is not None, name
            assert product.price is not None, name


def test_money_is_decimal_to_the_last_digit():
    book = round_book(("price = 1.50", "price = 0.1"))
    assert book.materials.staples is not None
    assert book.materials.staples.price == Decimal("0.1")
    assert book.terms.round_to == Decimal("0.05")
    assert book.cent == Decimal("0.01")


def test_sizes_are_in_si():
    book = round_book(('size = "10 kg"', 'size = "22 lb"'), ('width = "2.5 m"', 'width = "8 ft"'))
    assert book.materials.fibre[0].size == pytest.approx(22 * 0.45359237)
    assert book.materials.netting[0].width == pytest.approx(2.4384)


def test_a_missing_price_stays_missing():
    book = round_book(("price = 1.50\n", "\n"))
    assert book.materials.staples is not None
    assert book.materials.staples.price is None


def test_fibre_is_found_by_name_whatever_its_capitals():
    assert round_book().fibre_named(" Loose-Fill GLASS fibre") is not None
    assert round_book().fibre_named("wood fibre") is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("price = 1.50", 'price = "1,50"'), "materials.staples.price: is '1,50'"),
        (("price = 1.50", "price = -1"), "write an amount from 0"),
        (("hour = 30", "hours = 30"), "did you mean 'hour'"),
        (('size = "10 kg"', "size = 10"), "materials.fibre[1].size: '10' has no unit"),
        (('size = "10 kg"', 'size = "0 kg"'), "materials.fibre[1].size"),
        (("size = 100", "size = 0"), "a number of pieces above 0"),
        (('currency = "XTS"', 'currency = "money"'), "book.currency"),
        (("round_to = 0.05", "round_to = 0"), "terms.round_to"),
        (("overhead = 0.10", "overhead = 14"), "terms.overhead"),
        (("invented = true", ""), "book.invented: is missing"),
        (('per = "blowing_day"', 'per = "week"'), "write one of"),
        (("[terms]", "[terms"), "is no valid TOML"),
        (("invented = true", "invented = true\nvalid_from = 2027-01-02\nvalid_to = 2027-01-01"), "is after valid_to"),
    ],
)
def test_a_fault_is_named_with_its_key_and_mend(change, words):
    assert words in faults(change)


def test_all_faults_are_named_at_once():
    message = faults(("hour = 30", "hours = 30"), ("price = 1.50", 'price = "x"'))
    assert "rates.hours" in message
    assert "materials.staples.price" in message


def test_a_book_that_cannot_be_read_is_one_clear_sentence(tmp_path):
    with pytest.raises(PriceBookError, match="is no file"):
        load_price_book(tmp_path / "none.toml")
    path = tmp_path / "book.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PriceBookError, match="not UTF-8"):
        load_price_book(path)


def test_the_error_is_one_of_the_programs_own():
    assert issubclass(PriceBookError, TakeoffError)
    assert read_price_book(ROUND_BOOK).contractor.name == "Nobody (invented)"


@pytest.mark.parametrize(
    ("date", "holds"),
    [("", True), ("2025-12-31", False), ("2026-01-01", True), ("2026-06-30", True), ("2026-07-01", False)],
)
def test_a_book_holds_from_its_first_to_its_last_day(date, holds):
    book = round_book(("invented = true", "invented = true\nvalid_from = 2026-01-01\nvalid_to = 2026-06-30"))
    assert book.book.holds_on(date) is holds
    assert round_book().book.holds_on(date)
