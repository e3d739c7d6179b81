"""takeoff.xlsx of the sample models: its sheets, all of it recomputed by another program, every number of that against
the CSV files."""

from __future__ import annotations

import os
import shutil
import subprocess
import textwrap
from decimal import Decimal

import openpyxl
import pytest

from reports.quote import quote_work
from reports.quote_files import quote_files
from reports.takeoff_json import takeoff_json
from takeoff.job import default_job
from takeoff.schedule_stored import stored_takeoff
from tests.price_book_builder import round_book
from tests.quote_samples import CASES, csv_of, sample_quote, workbook_of
from tests.records_builder import left_out_wall, plain_wall, takeoff_of


@pytest.fixture(params=CASES, ids="-".join)
def quoted(request):
    """Units, work, files of the quote and texts of the takeoff of a sample model."""
    return sample_quote(*request.param)


SHEETS = ["Summary", "Walls", "Cavities", "Holes", "Schedule", "Rates", "Labour", "Days", "Price", "Findings"]


def test_every_sheet_has_frozen_heads_a_filter_and_its_print_set_up(quoted):
    units, _, files, texts = quoted
    book = workbook_of(files["takeoff.xlsx"])
    assert book.sheetnames == SHEETS
    for sheet in book:
        heads = head_row(sheet)
        assert sheet.freeze_panes == f"B{heads + 1}", sheet.title
        first, last = sheet.auto_filter.ref.split(":")
        assert first == f"A{heads}", sheet.title
        assert sheet[last].row > heads, sheet.title
        assert sheet[last].column == sum(cell.value is not None for cell in sheet[heads]), sheet.title
        assert sheet.print_title_rows == f"${heads}:${heads}", sheet.title
        assert sheet.page_setup.orientation == "landscape", sheet.title
        assert sheet.page_setup.paperSize == (9 if units == "metric" else 1), sheet.title  # A4, Letter
        assert sheet.sheet_properties.pageSetUpPr.fitToPage, sheet.title
        assert sheet.page_setup.fitToWidth in (None, 2), sheet.title  # None is one page across, as the format has it
        assert "&P" in sheet.oddFooter.right.text, sheet.title
    for name, file in (("Walls", "walls.csv"), ("Cavities", "cavities.csv"), ("Holes", "holes.csv")):
        rows = len(texts[file].splitlines()) - 1
        assert book[name].max_row == rows + 2, name


def test_no_head_takes_more_than_its_two_lines_and_no_cell_is_too_narrow_for_its_number(quoted):
    _, _, files, _ = quoted
    book = workbook_of(files["takeoff.xlsx"], data_only=True)
    for sheet in book:
        heads = head_row(sheet)
        width = {cell.column: sheet.column_dimensions[cell.column_letter].width for cell in sheet[heads]}
        for cell in sheet[heads]:
            lines = textwrap.wrap(str(cell.value), int(width[cell.column]) - 2)
            assert len(lines) <= 2, (sheet.title, cell.value)
        for row in sheet.iter_rows(min_row=heads + 1):
            for cell in row:
                if isinstance(cell.value, int | float):
                    assert len(f"{cell.value:,.2f}") <= width[cell.column], (sheet.title, cell.coordinate)


def test_pieces_are_shown_as_whole_numbers(quoted):
    _, _, files, _ = quoted
    sheet = workbook_of(files["takeoff.xlsx"])["Schedule"]
    rows = [row for row in sheet.iter_rows(min_row=3) if row[5].value == "piece"]
    assert rows
    assert {cell.number_format for row in rows for cell in (row[2], row[4], row[7])} == {"#,##0"}
    shown = [row for row in csv_of(files, "schedule") if row["unit"] == "piece"]
    assert all(float(row[name]).is_integer() for row in shown for name in ("net_shown", "gross_shown"))


def head_row(sheet) -> int:
    """The first row with more than one filled cell."""
    return next(row[0].row for row in sheet.iter_rows() if sum(cell.value is not None for cell in row) > 1)


def formula_cells(book: openpyxl.Workbook) -> list:
    return [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]


def test_every_formula_carries_its_value(quoted):
    _, _, files, _ = quoted
    formulas, values = workbook_of(files["takeoff.xlsx"]), workbook_of(files["takeoff.xlsx"], data_only=True)
    cells = formula_cells(formulas)
    assert len(cells) > 40
    for cell in cells:
        assert values[cell.parent.title][cell.coordinate].value is not None, cell.coordinate


@pytest.fixture(scope="module")
def recalculated(tmp_path_factory):
    """All workbooks with every value computed by LibreOffice: the stored ones are thrown away first."""
    program = shutil.which("soffice")
    if program is None:
        pytest.skip("LibreOffice (soffice) is not installed, so no other program recalculates the workbook")
    folder = tmp_path_factory.mktemp("recalculated")
    for case in CASES:
        workbook_of(sample_quote(*case)[2]["takeoff.xlsx"]).save(folder / f"{'-'.join(case)}.xlsx")
    words = [program, "--headless", "--norestore", f"-env:UserInstallation=file://{folder}/profile"]
    words += ["--convert-to", "xlsx", "--outdir", str(folder / "made"), *map(str, sorted(folder.glob("*.xlsx")))]
    environment = {**os.environ, "HOME": str(folder)}
    subprocess.run(words, check=True, capture_output=True, stdin=subprocess.DEVNULL, env=environment, timeout=180)
    return {case: openpyxl.load_workbook(folder / "made" / f"{'-'.join(case)}.xlsx", data_only=True) for case in CASES}


def test_another_program_computes_the_same_workbooks_to_the_cent(recalculated):
    for case in CASES:
        _, work, files, _ = sample_quote(*case)
        other = recalculated[case]
        formulas, ours = workbook_of(files["takeoff.xlsx"]), workbook_of(files["takeoff.xlsx"], data_only=True)
        for cell in formula_cells(formulas):
            mine, theirs = (book[cell.parent.title][cell.coordinate].value for book in (ours, other))
            expected = mine if isinstance(mine, str) else pytest.approx(mine, abs=1e-6)
            assert theirs == expected, f"{case} {cell.parent.title}!{cell.coordinate} {cell.value}"
        totals = [row[6].value for row in other["Price"].iter_rows() if row[2].value == "fixed price"]
        assert [Decimal(f"{value:.2f}") for value in totals] == [work.main.price.total]


# ---------------------------------------------------------------- every number against the CSV files

SIZES = {
    "m": 1.0, "m2": 1.0, "m3": 1.0, "kg": 1.0, "ft": 0.3048, "ft2": 0.3048**2, "ft3": 0.3048**3, "lb": 0.45359237,
}  # fmt: skip
"""SI units in one unit of the workbook, by definition (international yard and pound agreement, 1959)."""


@pytest.fixture(params=CASES, ids="-".join)
def computed(request, recalculated):
    """The workbook as LibreOffice computes it, with files of the quote and texts of the takeoff."""
    _, _, files, texts = sample_quote(*request.param)
    return recalculated[request.param], files, texts


def rows_of(book: openpyxl.Workbook, name: str) -> list[tuple]:
    """The rows below the heads of a sheet, without notes and empty rows."""
    rows = book[name].iter_rows(min_row=head_row(book[name]) + 1, values_only=True)
    return [row for row in rows if sum(value is not None for value in row) > 1]


def near(text: str, size: float = 1.0):
    """What a number of a CSV file is in a workbook: one unit there is `size` here. Empty where the file is."""
    return None if text == "" else pytest.approx(float(text) / size, rel=1e-9, abs=1e-9)


def test_every_number_of_the_schedule_is_that_of_the_csv_file(computed):
    book, files, _ = computed
    rows, table = rows_of(book, "Schedule"), csv_of(files, "schedule")
    for row, line in zip(rows, table, strict=True):
        code, words, net, waste, gross, unit, package, size, packages, modelled, laid_out, _ = row
        assert (code, words, unit, package or "") == tuple(
            line[name] for name in ("code", "description", "unit_shown", "package")
        )
        own = SIZES.get(unit, 1.0)
        assert net == near(line["net"], own)
        assert gross == near(line["gross"], own)
        assert waste == pytest.approx(float(line["gross"]) / float(line["net"]) - 1.0, abs=1e-9)
        assert size == near(line["package_size"], own)
        assert packages == near(line["packages"])
        assert (modelled, laid_out) == (near(line["modelled_share"]), near(line["laid_out_share"]))
        # What the CSV file shows in the units of the job is the same number, rounded.
        assert float(line["net_shown"]) == pytest.approx(net, abs=0.051)


def test_every_number_of_the_price_is_that_of_the_csv_file(computed):
    book, files, _ = computed
    rows, table = rows_of(book, "Price"), csv_of(files, "price")
    lines = [row for row in rows if row[0] != "sum"]
    sums = [row for row in rows if row[0] == "sum"]
    assert len(lines) + len(sums) == len(table)
    for row, line in zip(lines, [each for each in table if each["group"] != "sum"], strict=True):
        assert row[:3] == (line["group"], line["code"], line["description"])
        assert Decimal(f"{row[3]:.2f}") == Decimal(line["quantity"])
        assert row[4] == line["unit"]
        assert Decimal(f"{row[5]:.2f}") == Decimal(line["unit_price"])
        assert Decimal(f"{row[6]:.2f}") == Decimal(line["amount"])
    for row, line in zip(sums, [each for each in table if each["group"] == "sum"], strict=True):
        assert Decimal(f"{row[6]:.2f}") == Decimal(line["amount"]), row[2]


def test_every_number_of_labour_and_its_hours_by_task_are_those_of_the_csv_file(computed):
    book, files, _ = computed
    table = csv_of(files, "labour")
    for row, line in zip(rows_of(book, "Labour"), table, strict=True):
        release, storey, room, task, quantity, unit, holes, hours, ladder, ladder_holes = row
        assert (str(release), storey or "", room or "", task) == tuple(
            line[name] for name in ("release", "storey", "room", "task")
        )
        own = SIZES.get(unit, 1.0)
        assert quantity == near(line["quantity"], own)
        assert ladder == near(line["ladder_quantity"], own)
        assert (holes, hours, ladder_holes) == tuple(
            near(line[name]) for name in ("holes", "person_hours", "ladder_holes")
        )
    by_task: dict[str, float] = {}
    for line in table:
        by_task[line["task"]] = by_task.get(line["task"], 0.0) + float(line["person_hours"])
    by_task["set_up"] = sum(float(day["set_up_hours"]) for day in csv_of(files, "days"))
    hours = {row[1]: row[3] for row in rows_of(book, "Rates") if row[0] == "hours"}
    assert hours == pytest.approx(by_task, abs=0.0051)
    priced = {line["code"]: line["quantity"] for line in csv_of(files, "price") if line["group"] == "labour"}
    assert {code: Decimal(f"{value:.2f}") for code, value in hours.items() if code in priced} == {
        code: Decimal(text) for code, text in priced.items()
    }


def test_the_rates_are_those_of_the_job(computed):
    book, files, _ = computed
    rates = {row[1]: (row[3], row[4] or "") for row in rows_of(book, "Rates") if row[0] == "rate"}
    labour = default_job().labour
    sizes = {name: SIZES.get(unit, 1.0) for name, (_, unit) in rates.items()}
    foot = SIZES["ft"] if rates["netting"][1] == "ft2" else 1.0
    expected = {
        "crew_size": labour.crew_size, "days": len(csv_of(files, "days")), "set_up_minutes": labour.set_up_minutes,
        "netting": labour.netting_area_per_hour / sizes["netting"], "hole": labour.minutes_per_hole,
        "volume": labour.blown_volume_per_hour / sizes["volume"], "upper": labour.upper_factor,
        "hand": labour.minutes_per_hand_fill, "seal": labour.minutes_per_sealed_metre * foot,
        "piece": labour.minutes_per_piece, "patch": labour.minutes_per_patch, "check": labour.minutes_per_check,
        "move": labour.move_minutes,
    }  # fmt: skip
    assert {name: value for name, (value, _) in rates.items()} == pytest.approx(expected)


def test_every_number_of_days_and_loads_is_that_of_the_csv_files(computed):
    book, files, _ = computed
    heads = [cell.value for cell in book["Days"][head_row(book["Days"])]]
    mass, volume = (SIZES[str(head).partition("(")[2].rstrip(")")] for head in heads[6:8])
    loads = csv_of(files, "loads")
    expected: list[tuple] = []
    for day in csv_of(files, "days"):
        visit = "before sheathing" if day["before_sheathing"] == "true" else "main"
        whole = near(day["load_kg"], mass), near(day["load_m3"], volume), near(day["person_hours"])
        rooms = day["rooms"] or None
        expected.append((int(day["day"]), visit, rooms, "all", None, None, *whole, day["ended_by"]))
        for load in loads:
            if load["day"] == day["day"] and load["packages"] != "0":
                own = near(load["packages"]), load["package"] or None, near(load["mass_kg"], mass)
                row = (load["description"], *own, near(load["volume_m3"], volume))
                expected.append((int(day["day"]), visit, None, *row, None, None))
    assert rows_of(book, "Days") == expected
    assert any(row[3] != "all" for row in expected)


def test_every_finding_is_that_of_the_csv_file(computed):
    book, _, texts = computed
    heads = [cell.value for cell in book["Findings"][head_row(book["Findings"])]]
    metric = "m2" in {row[4] for row in rows_of(book, "Rates")}
    for row, source in zip(rows_of(book, "Findings"), csv_of(texts, "findings"), strict=True):
        shown = dict(zip(heads, row, strict=True))
        for column in ("severity", "code", "element class", "element name", "element id", "wall id"):
            assert (shown[column] or "") == source[column.replace(" ", "_")]
        assert (shown["message"] == source["message"]) or not metric
        assert shown["message"]
        size = SIZES.get(shown["unit"], 1.0)
        assert (shown["unit"] or "") == source["unit"] or (not metric and size != 1.0)
        assert (shown["measured"], shown["limit"]) == (near(source["measured"], size), near(source["limit"], size))


def test_every_number_of_the_summary_is_that_of_the_csv_files(computed):
    book, files, texts = computed
    rows = {row[0]: (row[1], row[2]) for row in rows_of(book, "Summary")}
    walls, cavities, hand = (csv_of(texts, name) for name in ("walls", "cavities", "hand_fills"))
    filled = [wall for wall in walls if float(wall["insulated_area_m2"] or 0.0) > 0.0]
    blown = {row["cavity_id"]: float(row["volume_m3"]) for row in cavities if row["method"] == "blow"}
    unreached = [float(row["volume_m3"]) for row in hand if row["cavity_id"] in blown]
    scope = csv_of(files, "scope")
    prices = {row["code"]: row["amount"] for row in csv_of(files, "price")}
    si = {
        "walls in the model": len(walls),
        "walls that are filled": len(filled),
        "insulated area, openings deducted": sum(float(wall["insulated_area_m2"]) for wall in filled),
        "billed area": sum(float(row["billed_area_m2"]) for row in scope),
        "of the insulated area, frame modelled": sum(
            float(wall["insulated_area_m2"]) for wall in filled if wall["framing_source"] == "modelled"
        ),
        "blown cavities": len(blown),
        "blown volume": sum(blown.values()) - sum(unreached),
        "fibre in place": float(next(row["net"] for row in csv_of(files, "schedule") if row["code"] == "fibre")),
        "fill holes": len(csv_of(texts, "holes")),
        "places filled by hand": sum(row["method"] in ("batt", "before_sheathing") for row in hand),
        "days of work": len(csv_of(files, "days")),
        "price before tax": float(prices["before_tax"]),
        "fixed price, with tax": float(prices["total"]),
    }
    numbers = {words: rows[words][0] * SIZES.get(rows[words][1], 1.0) for words in si}
    assert numbers == pytest.approx(si, rel=1e-9)
    assert set(rows) - set(si) == {"project", "model", "price book"}


@pytest.mark.parametrize("name", ["Walls", "Cavities", "Holes"])
def test_every_number_of_the_lists_is_that_of_the_csv_file(computed, name):
    book, _, texts = computed
    heads = [cell.value for cell in book[name][head_row(book[name])]]
    rows, table = rows_of(book, name), csv_of(texts, name.lower())
    assert len(rows) == len(table)
    seen = 0
    for place, head in enumerate(heads):
        words, _, sign = str(head).partition(" (")
        size = SIZES.get(sign.rstrip(")"), 1.0)
        column = next(
            (key for key in table[0] for end in ("", "_m", "_m2", "_m3") if key == words.replace(" ", "_") + end), None
        )
        for row, source in zip(rows, table, strict=True):
            if isinstance(row[place], int | float) and not isinstance(row[place], bool):
                assert column is not None, head
                assert row[place] == near(source[column], size), head
                seen += 1
    assert seen >= 5 * len(table)


def test_measures_stand_in_the_units_of_the_job(computed, request):
    book, _, _ = computed
    us = request.node.callspec.params["computed"][1] == "us"
    heads = [str(cell.value) for name in ("Walls", "Cavities", "Holes") for cell in book[name][2]]
    assert any(head.endswith("(ft)") for head in heads) == us
    assert any(head.endswith("(m)") for head in heads) != us


def test_no_name_of_a_model_is_ever_computed():
    for name in ("=1+1", "+1", "-1", "@SUM(A1)", '=HYPERLINK("http://x.example")'):
        taken = takeoff_of((plain_wall(name=name, type_name=name, storey=name), left_out_wall(reason=name)))
        work = quote_work(stored_takeoff(takeoff_json(taken)), round_book())
        book = workbook_of(quote_files(work)["takeoff.xlsx"])
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value == name]
        assert cells
        assert {cell.data_type for cell in cells} == {"s"}
