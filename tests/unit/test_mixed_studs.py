"""A job with wood and steel studs: what holds the netting, wall by wall and in all.

Both walls are the plain wall: top plate 2.4, bottom plate 1.4, ends 2.4 and 0.4, door 2.0 and 1.0, 9.6 m of lines in
all. On wood a staple stands every 1.75 in along them; on steel studs they are glued, with a staple about every 2 ft
along the top plate (common practice, no published source for either).
"""

from __future__ import annotations

from decimal import Decimal
from math import ceil, floor

import pytest

from reports.quote import quote_work
from reports.quote_files import quote_files
from reports.takeoff_json import takeoff_json
from takeoff.job import default_job, read_job
from takeoff.schedule import material_schedule
from takeoff.schedule_stored import stored_takeoff
from takeoff.truck_load import truck_load
from tests.price_book_builder import round_book, sample_book
from tests.quote_samples import csv_of, text_of
from tests.records_builder import double_wall, plain_wall, steel_stud_wall, takeoff_of

LINES, TOP = 9.6, 2.4
"""m"""
ON_WOOD, ON_STEEL = ceil(LINES / (1.75 * 0.0254)), floor(TOP / (24 * 0.0254)) + 1
JOB = default_job()


def by_wall(basis, schedule, code: str) -> dict[str, float]:
    """What each wall adds to a line."""
    wall_of = {layer.layer_key: layer.wall_id for layer in basis.layers}
    sums: dict[str, float] = {}
    for share in schedule.shares:
        if share.code == code:
            sums[wall_of[share.layer_key]] = sums.get(wall_of[share.layer_key], 0.0) + share.net
    return sums


def test_each_wall_has_its_own_fastening_and_the_lines_are_their_sums():
    takeoff = takeoff_of((plain_wall("WOOD"), steel_stud_wall("STEEL"), double_wall("TWICE")))
    basis = takeoff.schedule_basis()
    assert {layer.wall_id: layer.studs for layer in basis.layers} == {"WOOD": "wood", "STEEL": "steel", "TWICE": "wood"}
    schedule = material_schedule(basis, JOB, sample_book())
    assert (ON_WOOD, ON_STEEL) == (216, 4)
    assert by_wall(basis, schedule, "staples") == {"WOOD": ON_WOOD, "STEEL": ON_STEEL, "TWICE": 2 * ON_WOOD}
    assert by_wall(basis, schedule, "adhesive") == pytest.approx({"STEEL": LINES})
    staples, adhesive = schedule.line("staples"), schedule.line("adhesive")
    assert staples is not None
    assert adhesive is not None
    assert staples.net == 3 * ON_WOOD + ON_STEEL
    assert staples.basis == "28.80 m of plates, stud lines, ends and openings and 2.40 m of top plates of glued netting"
    assert adhesive.net == pytest.approx(LINES)
    assert adhesive.gross == pytest.approx(1.1 * LINES)
    assert adhesive.packages == ceil(1.1 * LINES / 14.0)  # cartridges for 14 m in the sample price book
    assert "on 1 stud layer" in adhesive.basis


def test_a_job_that_glues_all_netting_adds_up_alike():
    takeoff = takeoff_of((plain_wall("WOOD"), steel_stud_wall("STEEL")))
    basis = takeoff.schedule_basis()
    schedule = material_schedule(basis, read_job('[netting]\nfastening = "glue"'), sample_book())
    assert by_wall(basis, schedule, "staples") == {"WOOD": ON_STEEL, "STEEL": ON_STEEL}
    assert by_wall(basis, schedule, "adhesive") == pytest.approx({"WOOD": LINES, "STEEL": LINES})


def test_the_load_list_of_the_crew_holds_the_same():
    takeoff = takeoff_of((plain_wall("WOOD"), steel_stud_wall("STEEL")))
    load = truck_load(takeoff.fill, takeoff.results, JOB)
    schedule = material_schedule(takeoff.schedule_basis(), JOB, sample_book())
    lines = {line.code: line.net for line in schedule.lines}
    assert load.fastening.staples == lines["staples"] == ON_WOOD + ON_STEEL
    assert load.fastening.stapled_length == pytest.approx(LINES)
    assert load.fastening.glued_length == pytest.approx(lines["adhesive"]) == pytest.approx(LINES)
    assert load.fastening.glued_top_plate == pytest.approx(TOP)


def test_the_documents_show_both_and_say_so():
    takeoff = takeoff_of((plain_wall("WOOD"), steel_stud_wall("STEEL")))
    files = quote_files(quote_work(stored_takeoff(takeoff_json(takeoff)), sample_book()))
    shares = csv_of(files, "schedule_shares")
    sums = {code: sum(float(row["net"]) for row in shares if row["code"] == code) for code in ("staples", "adhesive")}
    net = {row["code"]: float(row["net"]) for row in csv_of(files, "schedule")}
    assert sums == pytest.approx({code: net[code] for code in sums})
    assert {row["layer_key"] for row in shares if row["code"] == "adhesive"} == {"STEEL"}
    loads = {row["code"]: row for row in csv_of(files, "loads")}
    assert float(loads["staples"]["need"]) == pytest.approx(1.05 * (ON_WOOD + ON_STEEL))
    assert float(loads["adhesive"]["need"]) == pytest.approx(1.1 * LINES)
    prices = {row["code"]: row for row in csv_of(files, "price")}
    assert Decimal(prices["staples"]["amount"]) == Decimal("11.80")  # one box of 5000 in the sample price book
    assert Decimal(prices["adhesive"]["amount"]) == Decimal("6.20")  # one cartridge
    text = " ".join(text_of(files["quote.pdf"]).split())
    assert "stapled along plates, studs and openings, on steel studs glued" in text


def test_adhesive_that_the_price_book_lacks_leaves_only_that_line_unpriced():
    takeoff = takeoff_of((plain_wall("WOOD"), steel_stud_wall("STEEL")))
    work = quote_work(stored_takeoff(takeoff_json(takeoff)), round_book())
    assert [line.code for line in work.main.price.unpriced] == ["adhesive"]
    assert not work.main.price.fixed
