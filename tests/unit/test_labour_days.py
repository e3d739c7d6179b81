"""Days and truck loads: nothing lost, nothing twice, no day beyond its hours or its truck."""

from __future__ import annotations

from math import fsum

import pytest

from takeoff.job import read_job
from takeoff.labour import LabourTask
from takeoff.labour_days import load_notes, package_mass
from tests.price_book_builder import priced_walls, round_book, sample_book
from tests.records_builder import double_wall, plain_wall

WALLS = tuple(plain_wall(f"WALL-{n}") for n in range(12))
SHORT_DAYS = read_job("[labour]\nhours_per_day = 2.0\ncrew_size = 2")


def test_every_task_is_done_in_whole_over_the_days():
    main = priced_walls(*WALLS, job=SHORT_DAYS)
    assert len(main.days) > 2
    done: dict[int, float] = {}
    for day in main.days:
        for part in day.parts:
            done[id(part.item)] = done.get(id(part.item), 0.0) + part.part
    assert all(done[id(item)] == pytest.approx(1.0) for item in main.items)


def test_no_day_is_longer_than_the_crew_works():
    main = priced_walls(*WALLS, job=SHORT_DAYS)
    assert all(day.person_hours <= 2 * 2.0 + 1e-9 for day in main.days)
    assert {day.ended_by for day in main.days[:-1]} == {"hours"}


def test_packages_of_all_days_are_those_of_the_order():
    main = priced_walls(*WALLS, double_wall(), job=SHORT_DAYS, book=sample_book())
    brought: dict[str, int] = {}
    needed: dict[str, float] = {}
    for day in main.days:
        for load in day.loads:
            assert load.packages is not None
            brought[load.code] = brought.get(load.code, 0) + load.packages
            needed[load.code] = needed.get(load.code, 0.0) + load.need
    for code, packages in brought.items():
        line = main.schedule.line(code)
        assert line is not None
        assert packages == line.packages, code
        assert needed[code] == pytest.approx(line.gross), code


def test_by_the_evening_of_each_day_the_truck_has_brought_what_was_used():
    main = priced_walls(*WALLS, job=SHORT_DAYS)
    fibre = main.schedule.line("fibre")
    assert fibre is not None
    assert fibre.size is not None
    used = brought = 0.0
    for day in main.days:
        for load in day.loads:
            if load.code == "fibre":
                used += load.need
                brought += (load.packages or 0) * fibre.size
        assert brought >= used - 1e-9


def test_a_small_truck_ends_the_day_before_its_hours_do():
    # 12 walls take 140 kg of fibre; a truck for 60 kg comes on several days, and carries no more on any.
    job = read_job('[truck]\nmass = "60 kg"\nvolume = "50 m3"')
    main = priced_walls(*WALLS, job=job)
    assert any(day.ended_by == "truck" for day in main.days)
    assert all(day.mass <= 60.0 + 1e-9 for day in main.days)


def test_a_truck_small_in_room_ends_the_day_too():
    job = read_job('[truck]\nmass = "5000 kg"\nvolume = "0.6 m3"')
    main = priced_walls(*WALLS, job=job)
    assert any(day.ended_by == "truck" for day in main.days)
    assert all(day.volume <= 0.6 + 1e-9 for day in main.days)


def test_a_bag_weighs_at_least_its_fibre():
    main = priced_walls()
    fibre = main.schedule.line("fibre")
    assert fibre is not None
    assert package_mass(fibre) == 10.0


def test_what_the_book_does_not_tell_is_unknown_and_not_nothing():
    main = priced_walls(book=round_book(('volume = "0.1 m3"\n', "")))
    load = next(load for load in main.days[0].loads if load.code == "fibre")
    assert load.volume is None


def test_hours_of_the_price_are_those_of_the_tasks_and_of_setting_up():
    main = priced_walls(*WALLS, job=SHORT_DAYS)
    items = fsum(item.person_hours for item in main.items)
    assert fsum(day.person_hours for day in main.days) == pytest.approx(items + len(main.days) * 2 * 40 / 60)


def test_tasks_of_a_room_come_in_the_order_of_work():
    tasks = [item.task for item in priced_walls().items]
    assert tasks == [
        LabourTask.MOVE, LabourTask.SEAL, LabourTask.NETTING, LabourTask.LOWER_PASS, LabourTask.UPPER_PASS,
        LabourTask.CHECK,
    ]  # fmt: skip


def test_a_load_that_no_truck_of_the_job_carries_is_told():
    # One bag of 10 kg, one roll of 2 kg and less room than either: the work goes on by hours, and the note says so.
    job = read_job('[truck]\nmass = "50 kg"\nvolume = "0.5 m3"')
    assert load_notes(priced_walls(job=job).days, job) != []  # staples and sealant have no mass in the round book
    heavy = read_job('[truck]\nmass = "50 kg"\nvolume = "0.5 m3"\n[fibre]\ndensity = "300 kg/m3"')
    book = round_book(('size = "10 kg"', 'size = "60 kg"'))
    notes = load_notes(priced_walls(job=heavy, book=book).days, heavy)
    assert "cannot carry the load of day 1" in notes[0]
    assert "staples" in notes[1]


def test_work_that_takes_no_time_still_takes_a_day():
    rates = ("set_up_minutes", "minutes_per_hole", "minutes_per_sealed_metre", "minutes_per_check", "move_minutes")
    job = read_job("[labour]\n" + "\n".join(f"{name} = 0" for name in rates))
    main = priced_walls(plain_wall(), job=job)
    assert len(main.days) == 1


# 12 walls: 137 kg of fibre in bags of 10 kg, netting of 43 m2 and little else.
@pytest.mark.parametrize(("mass", "volume"), [(5000, 1.5), (5000, 0.6), (5000, 0.5), (60, 50), (50, 0.5)])
def test_a_small_truck_comes_no_more_often_than_its_loads_need(mass, volume):
    job = read_job(f'[truck]\nmass = "{mass} kg"\nvolume = "{volume} m3"')
    main = priced_walls(*WALLS, job=job)
    assert all(day.mass <= mass + 1e-6 and day.volume <= volume + 1e-6 for day in main.days)
    assert not any("cannot carry" in note for note in load_notes(main.days, job))
    # A day that the truck ends leaves less room than the largest package takes: 10 kg, 0.1 m3.
    for day in main.days:
        if day.ended_by == "truck":
            assert day.mass > mass - 10.0 - 1e-6 or day.volume > volume - 0.1 - 1e-6, day.number
    by_hours = len(priced_walls(*WALLS).days)
    whole = sum(day.mass for day in main.days), sum(day.volume for day in main.days)
    bags = min(int(mass // 10.0), int(volume / 0.1 + 1e-9))
    assert len(main.days) <= by_hours + max(whole[0] / 10.0, whole[1] / 0.1) / bags + 1


def test_an_open_package_is_there_the_next_day_and_not_brought_again():
    main = priced_walls(*WALLS, job=read_job("[labour]\nhours_per_day = 1.0\ncrew_size = 3\nset_up_minutes = 5"))
    netting = [load.packages for day in main.days for load in day.loads if load.code == "netting_1"]
    assert 0 in netting
    line = main.schedule.line("netting_1")
    assert line is not None
    assert sum(each or 0 for each in netting) == line.packages


def test_a_truck_too_small_for_one_package_makes_no_more_days_than_the_hours_do():
    job = read_job('[truck]\nmass = "50 kg"\nvolume = "0.5 m3"')
    book = round_book(('size = "10 kg"', 'size = "60 kg"'))
    large, small = priced_walls(*WALLS, book=book), priced_walls(*WALLS, book=book, job=job)
    assert [day.ended_by for day in small.days] == [day.ended_by for day in large.days]
    assert "cannot carry the load of day" in load_notes(small.days, job)[0]
