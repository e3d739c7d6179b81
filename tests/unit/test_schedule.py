"""The schedule of one framed wall worked out by hand, line by line, and what holds for any schedule.

The plain wall: 2.4 x 2.4 m, 0.1 m deep, door of 1.0 x 2.0 m at its right end. Bay 1.345 x 2.3 m, cavity over the door
1.0 x 0.35 m, both blown; a gap of 5 mm, 2.3 m long, sealed.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, fsum

import pytest

from takeoff.job import default_job, read_job
from takeoff.model import WallTakeoff
from takeoff.schedule import batt_for, cavity_mass, is_glued, material_schedule, packages_of, plural
from takeoff.schedule_basis import Basis, BasisOpening, BasisPiece
from takeoff.truck_load import truck_load
from tests.price_book_builder import priced_walls, round_book, sample_book
from tests.records_builder import double_wall, house, left_out_wall, plain_wall, takeoff_of

JOB = default_job()


def basis_of(*walls) -> Basis:
    return takeoff_of(walls or (plain_wall(),)).schedule_basis()


def line(code: str, job=JOB, book=None, basis=None):
    found = material_schedule(basis or basis_of(), job, book or round_book()).line(code)
    assert found is not None, code
    return found


# ---------------------------------------------------------------- one wall, line by line


def test_fibre_is_the_blown_volume_at_design_density():
    fibre = line("fibre")
    volume = 1.345 * 2.3 * 0.1 + 1.0 * 0.35 * 0.1
    assert fibre.net == pytest.approx(volume * 33.0)  # 11.36 kg
    assert fibre.gross == pytest.approx(1.03 * volume * 33.0)
    assert (fibre.unit, fibre.package, fibre.packages) == ("kg", "bag", 2)  # 11.70 kg in bags of 10


def test_netting_covers_the_wall_less_its_door():
    # A roll of 2.5 m is wide enough for 2.4 m and an edge of 25 mm on each side. Seam at the head of the door, z = 2:
    # below it 1.4 m of wall, above it 2.4 m; a run of (2.0 + 0.025) x (1.4 + 0.05) and one of 0.475 x 2.45.
    # Both lie side by side in one cut of 2.5 x 2.45 = 6.125 m2, and so does the whole wall in one run.
    netting = line("netting_1")
    assert netting.net == pytest.approx(2.4 * 2.4 - 1.0 * 2.0)
    assert netting.gross == pytest.approx(2.5 * 2.45)
    assert (netting.unit, netting.packages) == ("m2", 1)


def test_staples_stand_along_every_line():
    # Top plate 2.4, bottom plate 1.4, ends 2.4 and 0.4, door 2.0 and 1.0: 9.6 m, a staple every 1.75 in.
    staples = line("staples")
    assert staples.net == ceil(9.6 / 0.04445) == 216
    assert staples.gross == pytest.approx(1.05 * 216)
    assert staples.packages == 3  # boxes of 100


def test_sealant_is_as_long_as_the_gap():
    sealant = line("sealant")
    assert (sealant.net, sealant.gross) == pytest.approx((2.3, 2.53))
    assert sealant.packages == 3  # cartridges of 1 m


def test_nothing_else_is_on_the_schedule_of_the_plain_wall():
    codes = [each.code for each in material_schedule(basis_of(), JOB, round_book()).lines]
    assert codes == ["fibre", "netting_1", "staples", "sealant"]


def test_protective_equipment_goes_by_people_and_days():
    main = priced_walls()
    assert len(main.days) == 1
    worn = {each.code: each.packages for each in main.schedule.lines[-4:]}
    assert worn == {"goggles": 3, "respirators": 3, "gloves": 3, "coveralls": 3}


def test_glued_netting_takes_adhesive_along_the_lines_and_staples_along_the_top():
    job = read_job('[netting]\nfastening = "glue"')
    assert line("adhesive", job).net == pytest.approx(9.6)
    # common practice, no published source: every 2 ft along 2.4 m, one at each end
    assert line("staples", job).net == 4


def test_patches_are_as_many_as_holes_where_the_job_asks_for_them():
    job = read_job("[netting]\nclose_holes = true")
    holes = len(takeoff_of((plain_wall(),)).fill.holes)
    assert line("patches", job).net == holes > 0


def test_netting_on_steel_studs_is_always_glued():
    (layer,) = basis_of().layers
    assert not is_glued(layer, JOB)
    assert is_glued(replace(layer, studs="steel"), JOB)


# ---------------------------------------------------------------- sums and shares


def schedules():
    return material_schedule(basis_of(*house()), JOB, sample_book())


def test_every_line_is_the_sum_of_its_shares():
    schedule = schedules()
    assert schedule.lines
    for each in schedule.lines:
        own = [share for share in schedule.shares if share.code == each.code]
        assert fsum(share.net for share in own) == pytest.approx(each.net)
        assert each.modelled + each.laid_out == pytest.approx(1.0)


def test_modelled_and_laid_out_frames_are_told_apart():
    # Of the walls of the house that are filled, one is modelled, one laid out, and one has two laid-out layers.
    fibre = schedules().line("fibre")
    assert fibre is not None
    assert (fibre.modelled, fibre.laid_out) == pytest.approx((0.25, 0.75))


def test_what_is_ordered_holds_the_gross_quantity():
    for each in schedules().lines:
        assert each.gross >= each.net
        assert each.size is not None
        assert each.packages is not None
        assert (each.packages - 1) * each.size < each.gross + each.size
        assert each.packages * each.size >= each.gross - 1e-9


def test_the_schedule_agrees_with_the_load_list_of_the_crew_sheets():
    takeoff = takeoff_of((plain_wall(), double_wall()))
    schedule = material_schedule(takeoff.schedule_basis(), JOB)
    load = truck_load(takeoff.fill, takeoff.results, JOB)
    lines = {each.code: each for each in schedule.lines}
    assert lines["fibre"].net == pytest.approx(load.fibre_mass)
    assert lines["netting"].net == pytest.approx(load.netting_area)
    assert lines["staples"].net == load.fastening.staples
    glue = read_job('[netting]\nfastening = "glue"')
    lines = {each.code: each for each in material_schedule(takeoff.schedule_basis(), glue).lines}
    load = truck_load(takeoff.fill, takeoff.results, glue)
    assert lines["adhesive"].net == pytest.approx(load.fastening.glued_length)
    assert lines["staples"].net == load.fastening.staples


def test_without_a_price_book_quantities_stand_without_packages():
    schedule = material_schedule(basis_of(), JOB)
    assert [each.code for each in schedule.lines] == ["fibre", "netting", "staples", "sealant"]
    assert all(each.packages is None and not each.package for each in schedule.lines)
    netting = schedule.line("netting")
    assert netting is not None
    assert netting.gross == pytest.approx(1.15 * 5.76)  # the plain method: openings not deducted, and 15 %


def test_the_takeoff_gives_its_schedule_as_a_frame():
    takeoff = takeoff_of((plain_wall(),))
    bare, packed = takeoff.schedule(), takeoff.schedule(round_book())
    assert list(bare.code) == [
        "fibre",
        "netting",
        "staples",
        "sealant",
        "goggles",
        "respirators",
        "gloves",
        "coveralls",
    ]
    assert bare.packages.isna().all()
    assert packed.packages.tolist() == [2, 1, 3, 3, 3, 3, 3, 3]
    assert bare.net[0] == pytest.approx(11.36355)


def test_nothing_filled_is_an_empty_schedule():
    assert material_schedule(basis_of(left_out_wall()), JOB, round_book()).lines == ()


def test_a_fibre_that_the_book_does_not_have_is_noted_and_has_no_package():
    job = read_job('[fibre]\nname = "wood fibre"')
    schedule = material_schedule(basis_of(), job, round_book())
    fibre = schedule.line("fibre")
    assert fibre is not None
    assert (fibre.packages, fibre.product) == (None, None)
    assert any("wood fibre" in note for note in schedule.notes)


def test_blockers_and_baffles_are_counted():
    basis = basis_of()
    pieces = tuple(
        BasisPiece(kind, "WALL-A", "", "Ground floor", "Kitchen", "laid_out", "", 0.4, 0.0)
        for kind in ("blocker", "eave_baffle", "eave_baffle")
    )
    basis = replace(basis, pieces=pieces)
    assert line("blockers", basis=basis).net == 1
    assert line("eave_baffles", basis=basis).net == 2


def test_mass_follows_the_density_for_the_depth_of_the_cavity():
    steps = '{depth_to = "95 mm", density = "40 kg/m3"}, {depth_to = "120 mm", density = "30 kg/m3"}'
    job = read_job(f"[fibre]\nby_depth = [{steps}]\n")
    (bay, *_) = basis_of().cavities
    assert cavity_mass(bay, job) == pytest.approx(bay.blown_volume * 30.0)


# ---------------------------------------------------------------- packages and batts


@pytest.mark.parametrize(
    ("gross", "size", "packages"), [(0.0, 10.0, 0), (10.0, 10.0, 1), (10.01, 10.0, 2), (0.3, 0.1, 3)]
)
def test_packages_are_whole(gross, size, packages):
    assert packages_of(gross, size) == packages


def test_the_thinnest_batt_that_fills_a_place_is_taken():
    packs = sorted(sample_book().materials.batts, key=lambda pack: pack.thickness)
    assert [batt_for(depth, packs)[0].name for depth in (0.04, 0.095, 0.1, 0.14, 0.2)] == [
        "batts 45 mm", "batts 95 mm", "batts 95 mm", "batts 145 mm", "batts 220 mm"
    ]  # fmt: skip


def test_a_place_deeper_than_any_batt_takes_several():
    packs = sorted(sample_book().materials.batts, key=lambda pack: pack.thickness)
    pack, layers = batt_for(0.3, packs)
    assert pack is not None
    assert (pack.name, layers) == ("batts 220 mm", 2)
    assert batt_for(0.3, []) == (None, 1)


@pytest.mark.parametrize(
    ("number", "noun", "words"), [(1, "box", "1 box"), (2, "box", "2 boxes"), (3, "day", "3 days")]
)
def test_plurals_are_those_of_the_trade(number, noun, words):
    assert plural(number, noun) == words


def test_openings_without_an_element_are_those_of_filled_walls_that_no_element_states():
    signs = ("opening element", "recess in the wall", "header over a gap")

    def openings_of(wall: WallTakeoff, evidence: str) -> tuple[BasisOpening, ...]:
        layers = tuple(
            replace(
                layer,
                frame=replace(
                    layer.frame, openings=tuple(replace(each, evidence=evidence) for each in layer.frame.openings)
                ),
            )
            for layer in wall.layers
        )
        return takeoff_of((replace(wall, layers=layers),)).schedule_basis().openings

    assert [len(openings_of(plain_wall(), sign)) for sign in signs] == [0, 0, 1]
    assert [len(openings_of(plain_wall(insulated=False), sign)) for sign in signs] == [0, 0, 0]
