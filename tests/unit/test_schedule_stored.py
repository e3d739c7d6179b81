"""The basis in takeoff.json: it comes back as it was, and a file that is not ours is told in one sentence."""

from __future__ import annotations

import json
import random
from dataclasses import fields

import pytest

from reports.takeoff_json import SCHEMA_VERSION, takeoff_json
from takeoff.errors import TakeoffError
from takeoff.job import read_job
from takeoff.pricing import priced
from takeoff.schedule_stored import (
    QUOTE_SECTIONS,
    READABLE_FORM,
    ROW_TYPES,
    StoredTakeoffError,
    basis_data,
    basis_from,
    read_stored,
    stored_takeoff,
    with_job,
)
from tests.price_book_builder import round_book
from tests.records_builder import house, plain_wall, takeoff_of

TEXT = takeoff_json(takeoff_of(house()))


def test_a_basis_comes_back_as_it_was():
    basis = takeoff_of(house()).schedule_basis()
    assert basis_from(json.loads(json.dumps(basis_data(basis)))) == basis
    assert stored_takeoff(TEXT).basis == basis


def test_every_kind_of_row_of_the_basis_is_stored():
    names = {field.name for field in fields(type(takeoff_of(house()).schedule_basis()))}
    assert names == {*ROW_TYPES, "model", "project"}


def test_the_job_comes_back_as_it_was():
    job = read_job('[quote]\nclient = "A \\"client\\" # with marks"\n[fibre]\ndensity = "1.9 lb/ft3"\n')
    taken = takeoff_of((plain_wall(),), job=job)
    assert stored_takeoff(takeoff_json(taken)).job == job


def test_names_that_no_file_can_hold_are_stored_all_the_same():
    taken = takeoff_of((plain_wall(name="bad \ud800 name\nin two lines"),))
    stored = stored_takeoff(takeoff_json(taken))
    assert stored.basis == taken.schedule_basis()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no whole JSON file"),
        ("{", "no whole JSON file"),
        ("[" * 100_000, "no whole JSON file"),
        ("[1]", "no takeoff.json of this program"),
        ('{"program": "other"}', "no takeoff.json of this program"),
        ('{"program": "bayfill"}', "take the model off again"),
        ('{"program": "bayfill", "basis": {}, "job": ""}', "take the model off again"),
        ('{"program": "bayfill", "basis": {}, "job": "[hose]\\nkind = 3"}', "take the model off again"),
    ],
)
def test_what_is_no_takeoff_is_told_in_one_sentence(text, words):
    with pytest.raises(StoredTakeoffError, match=words) as caught:
        stored_takeoff(text)
    assert "\n" not in str(caught.value)


def test_a_damaged_file_is_told_and_never_a_traceback():
    whole = json.loads(TEXT)
    draw = random.Random(7)
    for _ in range(200):
        data = json.loads(TEXT)
        table = draw.choice(list(ROW_TYPES))
        rows = data["basis"][table]["rows"]
        if not rows:
            continue
        row = draw.choice(rows)
        row[draw.randrange(len(row))] = draw.choice([None, "x", [], {}, True, float("nan"), -1])
        try:
            stored = stored_takeoff(json.dumps(data))
        except TakeoffError:
            continue
        priced(stored.basis, stored.job, round_book())
    assert whole["basis"].keys() == json.loads(TEXT)["basis"].keys()


@pytest.mark.parametrize("version", ["2.0", "99.0", "9" * 5000])
def test_a_file_of_a_newer_form_is_refused_in_one_sentence(version):
    data = json.loads(TEXT) | {"schema_version": version}
    with pytest.raises(StoredTakeoffError, match="newer form") as caught:
        stored_takeoff(json.dumps(data))
    assert len(str(caught.value)) < 250


def test_a_file_of_our_form_is_read_whatever_its_second_number():
    assert int(SCHEMA_VERSION.split(".")[0]) == READABLE_FORM
    assert stored_takeoff(json.dumps(json.loads(TEXT) | {"schema_version": f"{READABLE_FORM}.99"})).basis.walls


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(StoredTakeoffError, match="cannot be read"):
        read_stored(tmp_path / "none.json")
    path = tmp_path / "bad.json"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(StoredTakeoffError, match="not UTF-8"):
        read_stored(path)


def test_what_changes_no_cavity_may_be_set_anew():
    stored = stored_takeoff(TEXT)
    changed = with_job(stored, read_job("[labour]\ncrew_size = 7\n[fibre]\ndensity = '40 kg/m3'"))
    assert (changed.job.labour.crew_size, changed.job.fibre.density) == (7, 40.0)
    assert changed.basis == stored.basis
    assert with_job(stored, read_job("[insulate]\nwalls = 'external'")).job == stored.job  # as it was taken off


@pytest.mark.parametrize(
    "text", ["[insulate]\nwalls = 'all'", "[hose]\nkind = 'long'", "[[wall]]\nname='x'\ninsulate=true"]
)
def test_what_changes_cavities_or_holes_may_not(text):
    with pytest.raises(StoredTakeoffError, match="take the model off again"):
        with_job(stored_takeoff(TEXT), read_job(text))


def test_sections_that_may_be_set_anew_are_sections_of_the_job_file():
    assert set(type(read_job("")).model_fields) >= QUOTE_SECTIONS
