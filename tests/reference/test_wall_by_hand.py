"""One wall of a real model, its schedule worked out line by line from the sizes that stand in the model file.

Model: timber-house-layered.ifc of the shared models (origin and licence in their README.md), wall
2NBj2ynEDCIvCnoYS4oUKz: a partition with a door, whose layer is called by the word for wood and nothing else, so the job
says that it is a stud layer. Its sizes are read here from the records of the file, without the program. The frame is
laid out by the rules of wood-400mm (README, framing presets): members 45 mm, one bottom and two top plates, studs
400 mm on centre, one row of blocking at mid-height, a header 5 1/2 in high over the door.
"""

from __future__ import annotations

from decimal import Decimal
from math import ceil
from pathlib import Path

import ifcopenshell
import pytest
from typer.testing import CliRunner

from reports.cli import application
from takeoff import take_off
from takeoff.job import read_job
from takeoff.pricing import priced
from tests.price_book_builder import SAMPLE_BOOK, sample_book

MODEL = Path(__file__).resolve().parents[3] / "shared" / "models" / "timber-house-layered.ifc"
WALL = "2NBj2ynEDCIvCnoYS4oUKz"
JOB = f"""
[layers]
stud_layer = ["Holz"]
[framing]
wood = "wood-400mm"
[insulate]
walls = "none"
[[wall]]
global_id = "{WALL}"
insulate = true
"""
MEMBER, HEADER, SPACING = 0.045, 5.5 * 0.0254, 0.4
"""m"""

pytestmark = pytest.mark.skipif(not MODEL.exists(), reason="the shared models do not lie beside the clone")


@pytest.fixture(scope="module")
def sizes():
    """Length, height and depth of the wall; left and right side and height of its door, seen from the fill side. m"""
    file = ifcopenshell.open(str(MODEL))  # held: its records live no longer than it
    wall = file.by_guid(WALL)
    (body,) = next(
        each for each in wall.Representation.Representations if each.RepresentationIdentifier == "Body"
    ).Items
    x = [point.Coordinates[0] for point in body.SweptArea.OuterCurve.Points]
    y = [point.Coordinates[1] for point in body.SweptArea.OuterCurve.Points]
    (hole,) = [each.RelatedOpeningElement for each in wall.HasOpenings]
    profile = hole.Representation.Representations[0].Items[0].SweptArea
    middle = hole.ObjectPlacement.RelativePlacement.Location.Coordinates[0]
    height, width = profile.XDim, profile.YDim
    # The fill side looks along the wall's own axis backwards.
    left = max(x) - middle - width / 2.0
    return max(x) - min(x), body.Depth, max(y) - min(y), left, left + width, height


@pytest.fixture(scope="module")
def main():
    """The wall priced with the sample price book."""
    job = read_job(JOB)
    return priced(take_off(MODEL, job).schedule_basis(), job, sample_book())


def line(main, code: str):
    found = main.schedule.line(code)
    assert found is not None, code
    return found


def studs_right_of(door: float, length: float) -> list[tuple[float, float]]:
    """Sides of the studs between the king stud beside the door and the stud at the wall's end."""
    places = [SPACING * k for k in range(1, 20)]
    return [(x - MEMBER / 2, x + MEMBER / 2) for x in places if door + 2 * MEMBER < x < length - MEMBER]


def test_the_sizes_are_those_that_the_arithmetic_takes(sizes):
    assert sizes == pytest.approx((3.0402444, 2.7, 0.16, 0.0465336, 0.9165336, 2.01))


def test_fibre_fills_the_bays_and_the_space_over_the_header(sizes, main):
    length, height, depth, left, right, door = sizes
    # From the king stud (its jack stud stands between it and the door) to the stud at the end: bays between studs,
    # 2.7 - 3 x 0.045 m high, less 45 mm of blocking: 0.1710 + 4 x 0.355 + 0.1727 m wide.
    sides = [right + 2 * MEMBER, *(x for pair in studs_right_of(right, length) for x in pair), length - MEMBER]
    widths = [sides[n + 1] - sides[n] for n in range(0, len(sides), 2)]
    assert widths == pytest.approx([0.1709664, 0.355, 0.355, 0.355, 0.355, 0.1727444])
    bays = sum(widths) * (height - 4 * MEMBER)
    # Over the header, 0.4603 m high: the header spans the door and both jack studs, cripples stand at 0.4 and 0.8 m
    # and one over the left jack stud, whose place is the wall's end (its right side is at 45 mm).
    over = height - 2 * MEMBER - door - HEADER
    above = (right + MEMBER - MEMBER) - 2 * MEMBER
    volume = depth * (bays + above * over)
    assert volume == pytest.approx(0.7720, abs=5e-5)
    assert line(main, "fibre").net == pytest.approx(33.0 * volume)
    assert line(main, "fibre").gross == pytest.approx(1.03 * 33.0 * volume)
    assert line(main, "fibre").packages == 2  # 26.24 kg in bags of 14 kg
    assert left > MEMBER  # the jack stud fits, and next to nothing of a king stud: the wall ends


def test_staples_stand_along_plates_ends_door_and_studs(sizes, main):
    length, height, _, left, right, door = sizes
    edges = 2 * length - (right - left) + 2 * height + (right - left) + 2 * door
    # The bottom plate ends at the door; along the door netting is held at head and sides.
    assert edges == pytest.approx(length + (length - 0.87) + 2 * 2.7 + (0.87 + 2 * 2.01))
    clear = height - 3 * MEMBER
    studs = len(studs_right_of(right, length)) * clear
    cripples = 2 * (height - 2 * MEMBER - door - HEADER)
    # King and jack stud are one line, which is the door's edge up to its head; 10 mm above it the king goes on alone.
    king = clear + MEMBER - door - 0.010
    assert line(main, "staples").net == ceil((edges + studs + cripples + king) / (1.75 * 0.0254)) == 672
    assert line(main, "staples").packages == 1


def test_netting_is_two_courses_from_the_roll_of_least_waste(sizes, main):
    length, height, _, left, right, _ = sizes
    netting = line(main, "netting_1")
    assert netting.net == pytest.approx(length * height - (right - left) * 2.01)
    # Rolls of 1.5 m: a course of 1.475 m with the edge at the floor, beside the door from its right side to the wall's
    # end, and one of 1.225 m above, along the whole wall; the strip left of the door, 97 mm with its edges, comes out
    # of what the upper course leaves of its width (0.2 m). 25 mm of edge at both ends.
    assert netting.gross == pytest.approx(1.5 * ((length - right + 0.05) + (length + 0.05)))
    assert netting.packages == 1
    # Plain: two courses from end to end; the rule of thumb: 15 % on the whole face.
    assert main.schedule.plain.used_area == pytest.approx(2 * 1.5 * (length + 0.05))
    assert main.schedule.netting_allowance == pytest.approx(1.15 * length * height)


def test_nothing_else_is_bought_and_the_materials_cost_what_the_price_book_says(main):
    assert [each.code for each in main.schedule.lines] == [
        "fibre", "netting_1", "staples", "goggles", "respirators", "gloves", "coveralls"
    ]  # fmt: skip
    amounts = {each.code: each.amount for each in main.price.lines if str(each.group) == "material"}
    # 2 bags at 31.40; a roll, a box; for 3 people on one day 3 goggles at 8.40, a box of filters, a pack of gloves, 3
    # coveralls at 5.90.
    assert amounts == {
        "fibre": Decimal("62.80"), "netting_1": Decimal("63.00"), "staples": Decimal("11.80"),
        "goggles": Decimal("25.20"), "respirators": Decimal("29.00"), "gloves": Decimal("15.00"),
        "coveralls": Decimal("17.70"),
    }  # fmt: skip


def test_labour_follows_from_area_volume_and_holes(sizes, main):
    length, height, _, left, right, door = sizes
    hours = {str(item.task): item.person_hours for item in main.items}
    holes = [(cavity.lower_holes, cavity.upper_holes) for cavity in main.basis.cavities]
    # One hole for each of the 15 cavities: 6 bays in two halves each and 3 over the header.
    assert [sum(each) for each in holes] == [1] * 15
    assert hours["netting"] == pytest.approx((length * height - (right - left) * door) / 9.0)
    lower = [cavity for cavity in main.basis.cavities if cavity.lower_holes]
    assert hours["lower_pass"] == pytest.approx(sum(each.volume for each in lower) / 0.9 + len(lower) * 0.8 / 60.0)
    upper = [cavity for cavity in main.basis.cavities if cavity.upper_holes]
    high = [cavity for cavity in upper if cavity.ladder_holes]
    plain = sum(each.volume for each in upper) / 0.9 + len(upper) * 0.8 / 60.0
    ladder = sum(each.volume for each in high) / 0.9 + len(high) * 0.8 / 60.0
    assert hours["upper_pass"] == pytest.approx(plain + 0.4 * ladder)


def test_the_quote_from_the_stored_takeoff_of_this_model_has_the_same_bytes(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(JOB, encoding="utf-8")

    def run(*words: str | Path) -> None:
        result = CliRunner().invoke(application(), [str(word) for word in words])
        assert result.exit_code == 0, result.output

    run("takeoff", MODEL, "--job", job, "--out", tmp_path / "taken", "--no-page", "--quiet")
    run("quote", MODEL, "--job", job, "--prices", SAMPLE_BOOK, "--out", tmp_path / "a", "--quiet")
    run("quote", tmp_path / "taken" / "takeoff.json", "--prices", SAMPLE_BOOK, "--out", tmp_path / "b", "--quiet")
    names = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert names == sorted(path.name for path in (tmp_path / "b").iterdir())
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name
