"""`bayfill quote` on the sample models: the same from model and takeoff.json, every printed figure in the CSV
files, the workbook recomputed by another program."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import subprocess
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import openpyxl
import pypdf
import pytest
from typer.testing import CliRunner

from reports.cautions import FIRST
from reports.cli import app
from reports.files import result_texts
from reports.quote import quote_work
from reports.quote_files import QUOTE_NAMES, quote_files
from reports.quote_words import Figures, included
from reports.takeoff_json import takeoff_json
from takeoff import take_off
from takeoff.job import read_job
from takeoff.schedule_stored import stored_takeoff
from tests.price_book_builder import SAMPLE_BOOK, batts_only_basis, round_book, sample_book
from tests.records_builder import left_out_wall, plain_wall, takeoff_of

ROOT = Path(__file__).resolve().parents[2]
SHARED = ROOT.parent / "shared" / "models"
MODELS = ("two_storey_house", "garden_studio", "steel_wall")
JOB = """
[report]
units = "{units}"
[quote]
client = "Alder and Elm Builders (invented); 4 Ford Road"
site = "Plot 7"
reference = "Q-0042"
date = 2026-03-02
billed_area = "openings_over_size"
[[quote.alternates]]
name = "Cellulose"
fibre = "cellulose"
density = "60 kg/m3"
conductivity = "0.04 W/(m K)"
[[quote.alternates]]
name = "Deeper studs"
depth = "184 mm"
"""


def run(*words: str | Path, code: int = 0) -> str:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exit_code == code, result.output
    return result.output


CASES = tuple((model, units) for model in MODELS for units in ("metric", "us"))


@pytest.fixture(scope="module")
def quotes():
    """Units, work, files of the quote and texts of the takeoff by model and units, made when first asked for."""
    made: dict[tuple[str, str], tuple] = {}

    def of(case: tuple[str, str]) -> tuple:
        if case not in made:
            model, units = case
            taken = take_off(ROOT / "sample_models" / f"{model}.ifc", read_job(JOB.format(units=units)))
            work = quote_work(stored_takeoff(takeoff_json(taken)), sample_book())
            made[case] = units, work, quote_files(work), result_texts(taken, page=False)
        return made[case]

    return of


@pytest.fixture(params=CASES, ids="-".join)
def quoted(request, quotes):
    """One of them."""
    return quotes(request.param)


def text_of(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return "\n".join(page.extract_text() for page in pages).replace("\u202f", "").replace("\u00a0", " ")


def csv_of(files: dict, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[f"{name}.csv"])))


NUMBER = re.compile(r"\d+(?:[./-]\d+)*")


# ---------------------------------------------------------------- quote.pdf


def test_every_figure_of_the_quote_stands_in_the_csv_files(quoted):
    units, work, files, _ = quoted
    text = text_of(files["quote.pdf"])
    known = set(NUMBER.findall(files["quote.csv"]))
    for row in csv_of(files, "scope"):
        known |= {row["walls"], row["cavities"], row["insulated_area_shown"], row["billed_area_shown"]}
    # Figures of the scope in the units of the job are held against its SI columns below; the rest is page numbers, and
    # words and names of the job file, the price book, the model and the cautions.
    known |= set(NUMBER.findall(" ".join(scope_words(work, units))))
    known |= {"1", "2", "3"}
    words = [JOB.format(units=units), SAMPLE_BOOK.read_text(encoding="utf-8"), work.main.basis.model]
    words += [word for wall in work.main.basis.walls for word in (wall.type_name, wall.storey, wall.reason)]
    words += [word for wall in work.main.basis.walls for word in (wall.insulated_reason,)]
    words += [finding.example for finding in work.main.basis.findings] + [
        row.evidence for row in work.main.basis.openings
    ]
    known |= set(NUMBER.findall(" ".join(words)))
    strange = [number for number in NUMBER.findall(text) if number not in known]
    assert strange == []


def scope_words(work, units: str) -> list[str]:
    """Depths, areas and resistances of scope.csv as a person writes them, worked out here from the SI columns."""
    files = quote_files(work)
    words: list[str] = []
    rows = csv_of(files, "scope")
    for row in rows:
        depth, r = float(row["depth_m"]), float(row["resistance_m2K_W"])
        words.append(f"{depth * 1000:.0f} {r:.2f}" if units == "metric" else f"{r / 0.17611018368230584:.1f}")
        if units == "us":
            sixteenths = round(depth / 0.0254 * 16)
            whole, rest = divmod(sixteenths, 16)
            while rest and rest % 2 == 0:
                rest //= 2
            words.append(str(whole))
            parts = round(depth / 0.0254 * 16) % 16
            if parts:
                bottom = 16
                while parts % 2 == 0:
                    parts, bottom = parts // 2, bottom // 2
                words.append(f"{parts}/{bottom}")
    for name in ("insulated_area_m2", "billed_area_m2"):
        total = sum(float(row[name]) for row in rows)
        words.append(f"{total:.2f}" if units == "metric" else f"{total / 0.09290304:.1f}")
    words += [str(sum(int(row[name]) for row in rows)) for name in ("walls", "cavities")]
    return words


def test_the_quote_has_one_to_three_pages_in_the_units_of_the_job(quoted):
    units, _, files, _ = quoted
    reader = pypdf.PdfReader(io.BytesIO(files["quote.pdf"]))
    assert 1 <= len(reader.pages) <= 3
    width = float(reader.pages[0].mediabox.width) / 72 * 25.4
    assert width == pytest.approx(210.0 if units == "metric" else 215.9, abs=0.1)
    text = text_of(files["quote.pdf"])
    assert ("m²" in text) == (units == "metric")
    assert ("ft²" in text) == (units == "us")


def test_no_unit_of_the_quote_is_parted_at_a_line_end(quoted):
    _, _, files, _ = quoted
    assert [line for line in text_of(files["quote.pdf"]).splitlines() if line.rstrip().endswith("/")] == []


def test_the_quote_says_what_a_builder_has_to_know(quoted):
    _, work, files, _ = quoted
    text = " ".join(text_of(files["quote.pdf"]).split())
    for words in ("Scope", "Price", "Alternates", "Included", "Not included", "Assumed", "Valid until", "signature"):
        assert words in text, words
    assert "Fixed price" in text
    assert str(work.main.price.total) in text
    assert "invented" in text
    assert FIRST in text
    assert "Q-0042" in text


def test_the_range_of_the_price_is_not_shown_to_the_builder_unless_asked(quoted):
    _, work, files, _ = quoted
    assert "Range of the price" not in text_of(files["quote.pdf"])
    assert "seed" not in files["quote.csv"]
    shown = quote_files(work, show_risk=True)
    assert "Range of the price" in text_of(shown["quote.pdf"])
    assert "seed" in shown["quote.csv"]
    assert csv_of(files, "risk")


def test_a_quote_with_nothing_blown_offers_nothing_blown():
    stored = stored_takeoff(takeoff_json(takeoff_of((plain_wall(),))))
    work = quote_work(replace(stored, basis=batts_only_basis()), sample_book())
    text = " ".join(text_of(quote_files(work)["quote.pdf"]).split())
    assert "for wall insulation with batts" in text
    for words in ("blown", "R of the fibre", "machine", "R-values"):
        assert words not in text.split("Acceptance")[0], words


def test_a_quote_dated_outside_the_price_book_fixes_nothing_and_has_nothing_to_sign(tmp_path, capfd):
    stored = tmp_path / "takeoff.json"
    stored.write_text(takeoff_json(takeoff_of((plain_wall(),))), encoding="utf-8")
    job = tmp_path / "job.toml"
    job.write_text("[quote]\ndate = 2031-05-06\n", encoding="utf-8")
    said = run("quote", stored, "--job", job, "--prices", SAMPLE_BOOK, "--out", tmp_path / "out", "--quiet")
    assert "not on 2031-05-06" in said + "".join(capfd.readouterr())
    text = " ".join(text_of((tmp_path / "out" / "quote.pdf").read_bytes()).split())
    assert "This is not a fixed price. The prices that it rests on do not hold" in text
    assert "nothing to sign yet" in text
    for words in ("Valid until", "Fixed price", "signature"):
        assert words not in text, words


def test_the_quote_includes_the_equipment_that_is_priced_and_no_other():
    stored = stored_takeoff(takeoff_json(takeoff_of((plain_wall(),))))
    book = round_book(('name = "machine"', 'name = "hoist on wheels"'))
    said = included_of(quote_work(stored, book))
    assert "Hoist on wheels; protective equipment" in said
    assert "adders" not in said
    unpriced = round_book(('per = "blowing_day"\nprice = 100', 'per = "blowing_day"'))
    assert "machine" not in included_of(quote_work(stored, unpriced))


def included_of(work) -> str:
    return " ".join(included(work.main, work.sums, Figures(work.system)))


# ---------------------------------------------------------------- traceable


def test_every_share_names_a_cavity_or_stud_layer_of_the_takeoff(quoted):
    _, _, files, texts = quoted
    cavities = {row["cavity_id"]: row for row in csv.DictReader(io.StringIO(texts["cavities.csv"]))}
    layers = {row["layer_key"] for row in csv.DictReader(io.StringIO(texts["stud_layers.csv"]))}
    sums: dict[str, float] = {}
    for row in csv_of(files, "schedule_shares"):
        assert row["layer_key"] in layers
        if row["cavity_id"]:
            assert cavities[row["cavity_id"]]["framing_source"] == row["framing_source"]
        sums[row["code"]] = sums.get(row["code"], 0.0) + float(row["net"])
    for row in csv_of(files, "schedule"):
        if row["code"] in sums:
            assert float(row["net"]) == pytest.approx(sums[row["code"]], rel=1e-9)
    rooms: dict[str, float] = {}
    for row in csv_of(files, "schedule_rooms"):
        rooms[row["code"]] = rooms.get(row["code"], 0.0) + float(row["net"])
    assert rooms == pytest.approx(sums)


def test_fibre_is_the_volume_of_the_blown_cavities_of_the_takeoff(quoted):
    _, work, files, texts = quoted
    blown = [row for row in csv.DictReader(io.StringIO(texts["cavities.csv"])) if row["method"] == "blow"]
    volume = sum(float(row["volume_m3"]) for row in blown)
    by_hand = {row["cavity_id"] for row in blown}
    for row in csv.DictReader(io.StringIO(texts["hand_fills.csv"])):
        volume -= float(row["volume_m3"]) if row["cavity_id"] in by_hand else 0.0
    fibre = next(row for row in csv_of(files, "schedule") if row["code"] == "fibre")
    assert float(fibre["net"]) == pytest.approx(volume * work.main.job.fibre.density)


def test_the_price_table_adds_up_in_decimal_money(quoted):
    _, work, files, _ = quoted
    rows = csv_of(files, "price")
    sums = {row["code"]: Decimal(row["amount"]) for row in rows if row["group"] == "sum"}
    assert sum(Decimal(row["amount"]) for row in rows if row["group"] != "sum") == sums["direct"]
    steps = ("direct", "overhead", "margin", "raised", "rounded")
    assert sum(sums[each] for each in steps) == sums["before_tax"]
    assert sums["before_tax"] + sums["tax"] == sums["total"] == work.main.price.total
    for row in rows:
        if row["group"] != "sum":
            exact = Decimal(row["quantity"]) * Decimal(row["unit_price"])
            assert abs(exact - Decimal(row["amount"])) <= Decimal("0.005")


def test_the_netting_takes_less_than_the_plain_method_and_than_the_rule_of_thumb(quoted):
    _, work, _, _ = quoted
    schedule = work.main.schedule
    assert schedule.plain is not None
    assert schedule.layout.used_area <= min(schedule.plain.used_area, schedule.netting_allowance)
    assert schedule.layout.ordered_area <= schedule.plain.ordered_area


# ---------------------------------------------------------------- takeoff.xlsx


def book_of(content: bytes, **options) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(content), **options)


def test_the_workbook_has_its_sheets_with_frozen_heads_and_filters(quoted):
    _, _, files, texts = quoted
    book = book_of(files["takeoff.xlsx"])
    assert book.sheetnames == [
        "Summary", "Walls", "Cavities", "Holes", "Schedule", "Labour", "Days", "Price", "Findings"
    ]  # fmt: skip
    for name in ("Walls", "Cavities", "Holes", "Schedule", "Price"):
        assert book[name].freeze_panes, name
        assert book[name].print_title_rows, name
        assert book[name].page_setup.orientation == "landscape"
    for name in ("Walls", "Cavities", "Holes", "Schedule"):
        assert book[name].auto_filter.ref, name
    for name, file in (("Walls", "walls.csv"), ("Cavities", "cavities.csv"), ("Holes", "holes.csv")):
        rows = len(texts[file].splitlines()) - 1
        assert book[name].max_row == rows + 2, name


def formula_cells(book: openpyxl.Workbook) -> list:
    return [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]


def test_every_formula_carries_its_value(quoted):
    _, _, files, _ = quoted
    formulas, values = book_of(files["takeoff.xlsx"]), book_of(files["takeoff.xlsx"], data_only=True)
    cells = formula_cells(formulas)
    assert len(cells) > 40
    for cell in cells:
        assert values[cell.parent.title][cell.coordinate].value is not None, cell.coordinate


@pytest.fixture(scope="module")
def recalculated(quotes, tmp_path_factory):
    """Folder of all workbooks with every value computed by LibreOffice: the stored ones are thrown away first."""
    program = shutil.which("soffice")
    if program is None:
        pytest.skip("LibreOffice (soffice) is not installed, so no other program recalculates the workbook")
    folder = tmp_path_factory.mktemp("recalculated")
    for case in CASES:
        book_of(quotes(case)[2]["takeoff.xlsx"]).save(folder / f"{'-'.join(case)}.xlsx")
    words = [program, "--headless", "--norestore", f"-env:UserInstallation=file://{folder}/profile"]
    words += ["--convert-to", "xlsx", "--outdir", str(folder / "made"), *map(str, sorted(folder.glob("*.xlsx")))]
    environment = {**os.environ, "HOME": str(folder)}
    subprocess.run(words, check=True, capture_output=True, stdin=subprocess.DEVNULL, env=environment, timeout=180)
    return folder / "made"


def test_another_program_computes_the_same_workbooks_to_the_cent(quotes, recalculated):
    for case in CASES:
        _, work, files, _ = quotes(case)
        other = openpyxl.load_workbook(recalculated / f"{'-'.join(case)}.xlsx", data_only=True)
        formulas, ours = book_of(files["takeoff.xlsx"]), book_of(files["takeoff.xlsx"], data_only=True)
        for cell in formula_cells(formulas):
            mine, theirs = (book[cell.parent.title][cell.coordinate].value for book in (ours, other))
            expected = mine if isinstance(mine, str) else pytest.approx(mine, abs=1e-6)
            assert theirs == expected, f"{case} {cell.parent.title}!{cell.coordinate} {cell.value}"
        totals = [row[6].value for row in other["Price"].iter_rows() if row[2].value == "fixed price"]
        assert [Decimal(f"{value:.2f}") for value in totals] == [work.main.price.total]


def test_figures_of_the_workbook_are_those_of_the_csv_files(quoted):
    units, _, files, _ = quoted
    book = book_of(files["takeoff.xlsx"], data_only=True)
    schedule = {row["code"]: row for row in csv_of(files, "schedule")}
    seen = 0
    for row in book["Schedule"].iter_rows(min_row=3, values_only=True):
        line = schedule[row[0]]
        assert row[2] == pytest.approx(float(line["net_shown"]), abs=0.051)
        assert row[4] == pytest.approx(float(line["gross_shown"]), abs=0.051)
        assert row[5] == line["unit_shown"]
        assert str(row[8] if row[8] is not None else "") == line["packages"]
        seen += 1
    assert seen == len(schedule)
    price = {row["code"]: row for row in csv_of(files, "price")}
    lines = [row for row in book["Price"].iter_rows(min_row=3, values_only=True) if row[1]]
    assert len(lines) == sum(row["group"] != "sum" for row in price.values())
    for row in lines:
        assert Decimal(f"{row[6]:.2f}") == Decimal(price[row[1]]["amount"])
    labour = csv_of(files, "labour")
    rows = [row for row in book["Labour"].iter_rows(values_only=True) if isinstance(row[0], int | float)]
    assert [row[7] for row in rows] == pytest.approx([float(row["person_hours"]) for row in labour])
    area = [row for row in book["Summary"].iter_rows(values_only=True) if row[0] == "billed area"]
    assert area[0][2] == ("m2" if units == "metric" else "ft2")


SIZES = {"m": 1.0, "m2": 1.0, "m3": 1.0, "ft": 0.3048, "ft2": 0.3048**2, "ft3": 0.3048**3}
"""SI units in one unit of a column's head; a foot is 0.3048 m by definition (1959 yard and pound agreement)."""


@pytest.mark.parametrize("name", ["Walls", "Cavities", "Holes"])
def test_every_number_of_the_lists_is_that_of_the_csv_file(quoted, name):
    units, _, files, texts = quoted
    book = book_of(files["takeoff.xlsx"], data_only=True)
    heads, *rows = book[name].iter_rows(min_row=2, values_only=True)
    table = list(csv.DictReader(io.StringIO(texts[f"{name.lower()}.csv"])))
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
                assert row[place] * size == pytest.approx(float(source[column]), rel=1e-9, abs=1e-9), head
                seen += 1
    assert seen >= 5 * len(table)
    assert any(str(head).endswith("(ft)") for head in heads) == (units == "us")


def test_no_name_of_a_model_is_ever_computed():
    for name in ("=1+1", "+1", "-1", "@SUM(A1)", '=HYPERLINK("http://x.example")'):
        taken = takeoff_of((plain_wall(name=name, type_name=name, storey=name), left_out_wall(reason=name)))
        work = quote_work(stored_takeoff(takeoff_json(taken)), round_book())
        book = book_of(quote_files(work)["takeoff.xlsx"])
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value == name]
        assert cells
        assert {cell.data_type for cell in cells} == {"s"}


def test_a_missing_price_is_seen_in_every_document():
    taken = takeoff_of((plain_wall(),))
    work = quote_work(stored_takeoff(takeoff_json(taken)), round_book(("price = 1.50\n", "\n")))
    files = quote_files(work)
    text = text_of(files["quote.pdf"])
    assert "not a fixed price" in text
    assert "staples" in text
    assert "Fixed price" not in text
    assert "nothing to sign yet" in text
    rows = csv_of(files, "price")
    assert [row["code"] for row in rows if not row["amount"]] == ["staples"]
    assert "not a fixed price" in rows[-1]["description"]
    book = book_of(files["takeoff.xlsx"], data_only=True)
    words = {cell for row in book["Summary"].iter_rows(values_only=True) for cell in row if isinstance(cell, str)}
    assert any(word.startswith("NOT A FIXED PRICE") for word in words)


def test_a_quote_of_many_types_with_long_names_keeps_to_three_pages_and_no_name_acts_as_markup():
    name = "#set page() [Outside *wall*] $x$ with a name that is longer than any table has room for, number {}"
    walls = [
        plain_wall(f"W{n}", type_name=name.format(n), storey=f"Storey {n // 8} of the east wing") for n in range(40)
    ]
    left = [left_out_wall(f"L{n}", reason=f"{name.format(n)}, which is no reason") for n in range(20)]
    work = quote_work(stored_takeoff(takeoff_json(takeoff_of((*walls, *left)))), sample_book())
    files = quote_files(work)
    reader = pypdf.PdfReader(io.BytesIO(files["quote.pdf"]))
    assert len(reader.pages) <= 3
    text = " ".join(text_of(files["quote.pdf"]).split())
    assert "#set page() [Outside *wall*] $x$" in text
    assert "24 rows in scope.csv" in text
    assert len(csv_of(files, "scope")) == 40


def test_nothing_filled_makes_a_quote_without_a_price():
    work = quote_work(stored_takeoff(takeoff_json(takeoff_of((left_out_wall(),)))), sample_book())
    files = quote_files(work)
    assert "there is no price" in text_of(files["quote.pdf"])
    assert csv_of(files, "schedule") == []


# ---------------------------------------------------------------- the command


def test_a_quote_from_takeoff_json_is_the_same_to_the_byte(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(JOB.format(units="us"), encoding="utf-8")
    model = ROOT / "sample_models" / "steel_wall.ifc"
    run("takeoff", model, "--job", job, "--out", tmp_path / "taken", "--no-page", "--quiet")
    printed = run("quote", model, "--job", job, "--prices", SAMPLE_BOOK, "--out", tmp_path / "a")
    run("quote", tmp_path / "taken" / "takeoff.json", "--prices", SAMPLE_BOOK, "--out", tmp_path / "b", "--quiet")
    names = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert names == sorted(QUOTE_NAMES)
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name
    for words in ("Risk, for you and not for the builder", "fixed price", "billed area", "invented price book"):
        assert words in printed


def test_a_job_file_may_set_the_quote_anew_but_not_the_takeoff(tmp_path):
    model = ROOT / "sample_models" / "steel_wall.ifc"
    run("takeoff", model, "--out", tmp_path / "taken", "--no-page", "--quiet")
    stored, job = tmp_path / "taken" / "takeoff.json", tmp_path / "job.toml"
    job.write_text("[labour]\ncrew_size = 5\n", encoding="utf-8")
    run("quote", stored, "--job", job, "--prices", SAMPLE_BOOK, "--out", tmp_path / "a", "--quiet")
    assert "5 people" in (tmp_path / "a" / "schedule.csv").read_text(encoding="utf-8")
    job.write_text('[hose]\nkind = "long"\n', encoding="utf-8")
    said = run("quote", stored, "--job", job, "--prices", SAMPLE_BOOK, "--out", tmp_path / "b", code=2)
    assert "[hose]" in said
    assert not (tmp_path / "b").exists()


def test_bad_input_is_one_clear_line_and_leaves_no_folder(tmp_path):
    model, out = ROOT / "sample_models" / "steel_wall.ifc", tmp_path / "out"
    old = tmp_path / "takeoff.json"
    old.write_text('{\n"program": "bayfill",\n"schema_version": "1.0"\n}', encoding="utf-8")
    other = tmp_path / "other.json"
    other.write_text("[1, 2]", encoding="utf-8")
    for source, prices, words in (
        (model, tmp_path / "none.toml", "is no file"),
        (old, SAMPLE_BOOK, "take the model off again"),
        (other, SAMPLE_BOOK, "is no takeoff.json"),
        (tmp_path / "none.json", SAMPLE_BOOK, "cannot be read"),
    ):
        said = run("quote", source, "--prices", prices, "--out", out, code=2)
        assert words in said
        assert len(said.strip().splitlines()) == 1
        assert not out.exists()


def test_a_folder_with_other_files_is_refused_and_a_quote_of_ours_replaced(tmp_path):
    model = ROOT / "sample_models" / "steel_wall.ifc"
    out = tmp_path / "out"
    run("quote", model, "--prices", SAMPLE_BOOK, "--out", out, "--quiet")
    run("quote", model, "--prices", SAMPLE_BOOK, "--out", out, "--quiet")
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    said = run("quote", model, "--prices", SAMPLE_BOOK, "--out", out, code=2)
    assert "notes.txt" in said
    assert (out / "notes.txt").exists()


@pytest.mark.parametrize(
    "name",
    [
        "curved-wall", "duplex-architecture", "many-simple-walls", "sample-house", "timber-house-layered",
        "two-stud-layers", "wall-elemented-case",
    ],
)  # fmt: skip
def test_real_models_with_every_stud_wall_filled_are_quoted(name):
    path = SHARED / f"{name}.ifc"
    if not path.exists():
        pytest.skip("the shared models do not lie beside the clone")
    taken = take_off(path, read_job('[insulate]\nwalls = "all"'))
    work = quote_work(stored_takeoff(takeoff_json(taken)), sample_book())
    files = quote_files(work)
    assert set(files) == set(QUOTE_NAMES)
    assert len(pypdf.PdfReader(io.BytesIO(files["quote.pdf"])).pages) <= 3
    layout = work.main.schedule.layout
    assert not layout.failed or not layout.strips
    plain = work.main.schedule.plain
    assert layout.used_area <= min(plain.used_area if plain else 0.0, work.main.schedule.netting_allowance) + 1e-9
    filled = sum(wall.net_area > 0.0 for wall in work.main.basis.walls)
    assert filled == work.sums.walls
    assert work.main.price.fixed == (filled > 0)
