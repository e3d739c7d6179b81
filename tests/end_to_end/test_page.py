"""takeoff.html in a real browser: it opens offline; view, elevation and tables agree with each other and the CSVs."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path

import pytest

import takeoff
from reports.files import write_results
from takeoff.job import default_job, load_job
from takeoff.units import format_area, format_length, format_mass, format_volume
from tests.page_browser import OpenPage, close_page, open_page, opened_browser

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_models"
DUPLEX = ROOT.parent / "shared" / "models" / "duplex-architecture.ifc"
MODELS = ("two_storey_house", "garden_studio", "steel_wall", "duplex")
UNCOUNTED = ("sliver", "opening_gap")


@pytest.fixture(scope="module")
def browser():
    with opened_browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """Result folders by model, each made once; the duplex with all its framed walls insulated."""
    made: dict[str, Path] = {}

    def result(name: str) -> Path:
        if name not in made:
            folder = tmp_path_factory.mktemp(name)
            job = default_job()
            path = SAMPLES / f"{name}.ifc"
            if name == "duplex":
                if not DUPLEX.is_file():
                    pytest.skip("duplex-architecture.ifc is not beside the clone (../shared/models)")
                path = DUPLEX
                (folder / "job.toml").write_text('[insulate]\nwalls = "all"\n')
                job = load_job(folder / "job.toml")
            write_results(takeoff.take_off(path, job), folder / "out")
            made[name] = folder / "out"
        return made[name]

    return result


@pytest.fixture(scope="module")
def pages(browser, results):
    """Pages by model, each opened once."""
    opened: dict[str, OpenPage] = {}

    def page(name: str) -> OpenPage:
        if name not in opened:
            opened[name] = open_page(browser, results(name) / "takeoff.html", viewport={"width": 1440, "height": 900})
        return opened[name]

    yield page
    for each in opened.values():
        assert each.complaints == []
        close_page(each)


@pytest.fixture(scope="module")
def house(pages):
    """The two-storey house; each test leaves it as it found it."""
    return pages("two_storey_house")


@pytest.fixture(autouse=True)
def fresh_state(request):
    """Puts the shared page back: no selection, filter or search of an earlier test."""
    yield
    if "house" in request.fixturenames:
        page = request.getfixturevalue("house")
        page.run(
            """() => {
              const { state, tables, view } = bayfill;
              for (const facet of Object.keys(state.hidden)) state.setHidden(facet, [...state.hidden[facet]], false);
              for (const box of document.querySelectorAll('#filters input')) box.checked = true;
              for (const table of Object.values(tables)) {
                const input = table.panel.querySelector('input[type=search]');
                if (input.value) { input.value = ''; input.dispatchEvent(new Event('input')); }
                const filters = table.panel.querySelector('button[aria-pressed=true]');
                if (filters) filters.click();
              }
              state.clear();
              const units = document.getElementById('units');
              units.value = 'metric';
              units.dispatchEvent(new Event('change'));
              view.look('corner');
            }"""
        )


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("name", MODELS)
def test_a_page_opens_from_a_file_without_complaint_or_request(name, pages, results):
    path = results(name) / "takeoff.html"
    opened = pages(name)
    assert opened.complaints == []
    assert opened.requests == [path.resolve().as_uri()]
    walls = rows(results(name) / "walls.csv")
    assert opened.run("bayfill.takeoff.wallCount") == len(walls)
    colours = opened.pixels()
    assert len(colours) > 20
    assert max(colours.values()) < 0.97 * 16_000
    assert path.stat().st_size < 8e6


@pytest.mark.parametrize("name", MODELS)
def test_every_elevation_is_drawn_and_no_number_lies_on_another(name, pages):
    """Numbers, hole heights and dimensions of each wall, by the boxes that the browser itself gives their texts."""
    opened = pages(name)
    clashes = opened.run(
        """() => {
          const { state, takeoff } = bayfill;
          const field = document.getElementById('elevation-field');
          const found = [];
          let drawn = 0;
          for (let layer = 0; layer < takeoff.data.layers.wall.length && drawn < 25; layer++) {
            state.selectLayer(layer);
            const svg = field.querySelector('svg');
            const whole = svg.getBoundingClientRect();
            const texts = [...svg.querySelectorAll('.number-text, .dimension-text, .opening-text')];
            const boxes = texts.map((text) => [text.textContent, text.getBoundingClientRect()]);
            drawn += 1;
            boxes.forEach(([words, a], i) => {
              if (a.left < whole.left - 1 || a.right > whole.right + 1 || a.top < whole.top - 1
                || a.bottom > whole.bottom + 1) found.push(`${layer}: ${words} is cut`);
              for (const [other, b] of boxes.slice(i + 1)) {
                const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
                const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
                // boxes of texts hold room above and below the letters
                const meet = across > 1 && down > 0.4 * Math.min(a.height, b.height);
                if (meet) found.push(`${layer}: ${words} on ${other}`);
              }
            });
          }
          return [drawn, found];
        }"""
    )
    assert clashes[0] > 0
    assert clashes[1] == []
    opened.run("bayfill.state.clear()")


def test_a_cavity_selected_in_the_table_is_selected_in_the_view_and_the_elevation(house):
    house.page.click("#tab-cavities")
    before = house.pixels()
    house.page.locator("#panel-cavities tbody tr[data-row]").nth(4).click()
    cavity = house.run("bayfill.state.cavity")
    assert cavity == 4
    assert house.page.locator("#panel-cavities tr[aria-selected=true]").get_attribute("data-row") == "4"
    marked = house.page.locator("#elevation-field path.selected")
    assert marked.get_attribute("data-cavity") == "4"
    assert house.run("bayfill.view.mark.faces.geometry.getAttribute('position').count") > 0
    house.run("bayfill.view.fitSelection()")
    assert house.pixels() != before
    assert "Cavity c05" in house.page.locator("#facts").inner_text()


def test_a_click_on_a_cavity_in_the_view_selects_its_row_and_scrolls_to_it(house):
    house.page.click("#tab-walls")
    wanted = house.run(
        """() => {
          const { state, takeoff, view } = bayfill;
          for (let cavity = takeoff.cavityCount - 1; cavity > 0; cavity -= 3) {
            state.selectCavity(cavity);
            view.fitSelection();
            const [x, y] = view.placeOf(cavity);
            state.clear();
            const hit = view.pick(x, y);
            if (hit !== null && hit.kind === 'cavity' && hit.id === cavity) return [cavity, x, y];
          }
          return null;
        }"""
    )
    assert wanted is not None
    cavity, x, y = wanted
    house.page.locator("#canvas").click(position={"x": x, "y": y})
    assert house.run("bayfill.state.cavity") == cavity
    assert house.page.locator("#panel-cavities").is_visible()
    line = house.page.locator(f"#panel-cavities tr[data-row='{cavity}']")
    assert line.get_attribute("aria-selected") == "true"
    assert line.is_visible()
    assert house.page.locator("#elevation-field path.selected").get_attribute("data-cavity") == str(cavity)


def test_a_click_in_the_elevation_selects_in_the_table_and_the_view(house):
    house.run("bayfill.state.selectWall(1)")
    shape = house.page.locator("#elevation-field path.cavity:not(.behind)").nth(3)
    cavity = int(shape.get_attribute("data-cavity"))
    shape.click(force=True, position={"x": 4, "y": 40})
    assert house.run("bayfill.state.cavity") == cavity
    assert house.page.locator(f"#panel-cavities tr[data-row='{cavity}']").get_attribute("aria-selected") == "true"
    assert house.run("bayfill.view.mark.faces.visible") is True


def test_the_pointer_over_the_view_tells_wall_cavity_size_volume_and_holes(house):
    place = house.run(
        """() => {
          const { state, takeoff, view } = bayfill;
          for (let cavity = 0; cavity < takeoff.cavityCount; cavity++) {
            if (takeoff.holesOfCavity[cavity].length < 2) continue;
            state.selectCavity(cavity); view.fitSelection(); state.clear();
            const [x, y] = view.placeOf(cavity);
            const hit = view.pick(x, y);
            if (hit !== null && hit.kind === 'cavity' && hit.id === cavity) return [x, y];
          }
          return null;
        }"""
    )
    assert place is not None
    house.page.locator("#canvas").hover(position={"x": place[0], "y": place[1]})
    tip = house.page.locator("#tip")
    tip.wait_for(state="visible")
    words = tip.inner_text()
    assert "South 0" in words
    assert "blow" in words
    assert "m³" in words
    assert "2 holes" in words
    assert "kg of fibre" in words
    house.page.mouse.move(2, 2)


def csv_sums(results, chosen) -> dict[str, float]:
    """Sums over cavities.csv and holes.csv of the rows that `chosen` takes, by the keys of the page's totals."""
    folder = results("two_storey_house")
    cavities = [row for row in rows(folder / "cavities.csv") if chosen(row) and row["kind"] not in UNCOUNTED]
    ids = {row["cavity_id"] for row in cavities}
    return {
        "rows": len(cavities),
        "area": math.fsum(float(row["area_m2"]) for row in cavities),
        "volume": math.fsum(float(row["volume_m3"]) for row in cavities),
        "holes": sum(row["cavity_id"] in ids for row in rows(folder / "holes.csv")),
    }


def shown_sums(house) -> dict[str, float]:
    sums = house.run("bayfill.tables.cavities.totals()")
    return {key: sums[key] for key in ("rows", "area", "volume", "holes")}


def test_totals_of_a_filtered_table_are_the_sums_of_cavities_csv(house, results):
    house.page.click("#tab-cavities")
    assert shown_sums(house) == pytest.approx(csv_sums(results, lambda row: True), rel=1e-9)
    house.page.locator("#panel-cavities button", has_text="Filter columns").click()
    house.page.select_option("#panel-cavities select[aria-label='Filter by method']", "batt")
    wanted = csv_sums(results, lambda row: row["method"] == "batt")
    assert wanted["rows"] > 0
    assert shown_sums(house) == pytest.approx(wanted, rel=1e-9)
    cell = house.page.locator("#panel-cavities tfoot [data-total=volume]")
    assert cell.inner_text() == format_volume(wanted["volume"], "metric").replace("m3", "m³")
    house.page.select_option("#panel-cavities select[aria-label='Filter by storey']", "Upper floor")
    both = csv_sums(results, lambda row: row["method"] == "batt" and row["storey"] == "Upper floor")
    assert 0 < both["rows"] < wanted["rows"]
    assert shown_sums(house) == pytest.approx(both, rel=1e-9)


def test_what_is_hidden_in_the_view_is_hidden_in_the_tables_and_their_totals(house, results):
    before = house.pixels()
    house.page.get_by_label("Upper floor").first.uncheck()
    house.page.get_by_role("checkbox", name="batt, by hand").uncheck()
    wanted = csv_sums(results, lambda row: row["storey"] != "Upper floor" and row["method"] != "batt")
    assert shown_sums(house) == pytest.approx(wanted, rel=1e-9)
    assert house.pixels() != before
    drawn = house.run("bayfill.view.building.cavityBoxes.object.count")
    every = house.run("bayfill.view.building.cavityBoxes.ids.length")
    assert 0 < drawn < every


def test_a_search_finds_rows_by_any_of_their_words(house, results):
    house.page.click("#tab-walls")
    house.page.locator("#panel-walls input[type=search]").fill("gable")
    names = house.page.locator("#panel-walls tbody tr[data-row] td:first-child").all_inner_texts()
    wanted = [row["name"] for row in rows(results("two_storey_house") / "walls.csv") if "gable" in row["name"].lower()]
    assert names == wanted
    assert house.page.locator("#panel-walls .tally").inner_text().startswith(f"{len(wanted)} of 12 walls")


def test_a_click_on_a_head_sorts_up_then_down_then_not(house):
    house.page.click("#tab-cavities")
    head = house.page.locator("#panel-cavities th button[data-key=volume]")
    volumes = "bayfill.tables.cavities.rows.map((row) => bayfill.takeoff.data.cavities.volume_m3[row])"
    untouched = house.run(volumes)
    head.click()
    assert house.run(volumes) == sorted(untouched)
    assert house.page.locator("#panel-cavities th[aria-sort=ascending]").count() == 1
    head.click()
    assert house.run(volumes) == sorted(untouched, reverse=True)
    head.click()
    assert house.run(volumes) == untouched


def test_saved_rows_are_those_of_cavities_csv(house, results, tmp_path):
    house.page.click("#tab-cavities")
    house.page.locator("#panel-cavities input[type=search]").fill("raked")
    with house.page.expect_download() as download:
        house.page.locator("#panel-cavities button", has_text="Save as CSV").click()
    download.value.save_as(tmp_path / "saved.csv")
    saved = rows(tmp_path / "saved.csv")
    table = rows(results("two_storey_house") / "cavities.csv")
    wanted = {row["cavity_id"]: row for row in table if row["kind"] == "raked_bay"}
    assert [row["cavity_id"] for row in saved] == list(wanted)
    for row in saved:
        own = wanted[row["cavity_id"]]
        assert row["volume_m3"] == pytest.approx(own["volume_m3"]) or float(row["volume_m3"]) == float(own["volume_m3"])
        assert float(row["area_m2"]) == float(own["area_m2"])
        assert row["room"] == own["room"]


def test_copied_rows_are_the_shown_ones_with_tabs_between(house):
    house.page.click("#tab-walls")
    house.page.locator("#panel-walls input[type=search]").fill("north")
    house.run("(() => { navigator.clipboard.writeText = async (text) => { window.copied = text; } })()")
    house.page.locator("#panel-walls button", has_text="Copy").click()
    lines = house.run("window.copied").splitlines()
    assert lines[0].split("\t")[:2] == ["name", "type"]
    assert [line.split("\t")[0] for line in lines[1:]] == ["North 0", "North 1"]
    assert house.page.locator("#live").inner_text() == "2 walls copied"


def test_units_on_the_page_are_written_as_reports_write_them(house):
    house.page.select_option("#units", "us")
    assert "ft²" in house.page.locator("#figures").inner_text()
    assert "ft³" in house.page.locator("#panel-walls tfoot").inner_text()
    values = [0.0, 0.0004, 0.0381, 0.3175, 0.1397, 0.4064, 0.9994, 0.99951, 1.0, 2.4384, 3.2, 12.3456, -0.5]
    formats = {"length": format_length, "area": format_area, "volume": format_volume, "mass": format_mass}
    for system in ("us", "metric"):
        house.page.select_option("#units", system)
        for quantity, written in formats.items():
            shown = house.run(f"{values}.map((value) => bayfill.state.units.text(value, '{quantity}'))")
            wanted = [written(value, system).replace("m2", "m²").replace("m3", "m³") for value in values]
            assert shown == [text.replace("ft2", "ft²").replace("ft3", "ft³") for text in wanted], (system, quantity)


def test_dragging_in_the_view_turns_it_and_each_side_looks_different(house):
    house.page.locator("#canvas").scroll_into_view_if_needed()
    before = house.pixels()
    box = house.page.locator("#canvas").bounding_box()
    house.page.mouse.move(box["x"] + 300, box["y"] + 200)
    house.page.mouse.down()
    house.page.mouse.move(box["x"] + 420, box["y"] + 230, steps=4)
    house.page.mouse.up()
    assert house.pixels() != before
    assert house.run("bayfill.state.wall") == -1, "a drag selects nothing"
    seen = []
    for side in ("Front", "Back", "Left", "Right", "Top", "Bottom"):
        house.page.locator("#sides button", has_text=side).click()
        seen.append(house.pixels())
    assert all(seen[i] != seen[j] for i in range(6) for j in range(i))


def slide(house, name: str, value: int) -> None:
    """Moves a slider as a hand does."""
    house.page.locator(f"#{name}").evaluate(f"(e) => {{ e.value = {value}; e.dispatchEvent(new Event('input')); }}")


def test_a_section_and_the_storeys_take_away_what_is_drawn(house):
    def background() -> int:
        return max(house.pixels().values())

    whole = background()
    house.page.select_option("#section-axis", "z")
    slide(house, "section-place", 30)
    assert background() > whole
    house.page.select_option("#section-axis", "off")
    assert background() == whole
    slide(house, "storey", 0)
    assert house.page.locator("#storey-words").inner_text() == "up to Ground floor"
    assert background() > whole
    slide(house, "storey", 1)
    assert background() == whole


def test_each_way_of_colouring_has_its_legend(house):
    for way, words in (
        ("kind", "raked bay"),
        ("depth", "140 mm"),
        ("room", "Bathroom"),
        ("method", "before sheathing"),
    ):
        house.page.select_option("#colour", way)
        assert words in house.page.locator("#legend").inner_text()


def test_the_theme_is_chosen_by_hand_or_follows_the_device(house):
    def ground() -> str:
        return house.run("getComputedStyle(document.body).backgroundColor")

    light, drawn = ground(), house.pixels()
    house.page.select_option("#theme", "dark")
    assert ground() != light
    assert house.pixels() != drawn
    house.page.select_option("#theme", "auto")
    assert (ground(), house.pixels()) == (light, drawn)


def test_the_keyboard_reaches_the_view_the_elevation_and_the_rows(house):
    house.page.locator("#canvas").focus()
    before = house.pixels()
    house.page.keyboard.press("ArrowLeft")
    assert house.pixels() != before
    house.page.keyboard.press("]")
    assert house.run("bayfill.state.cavity") == 0
    house.page.locator("#elevation-field").focus()
    house.page.keyboard.press("ArrowRight")
    assert house.run("bayfill.state.cavity") == 1
    box = house.page.locator("#elevation-field svg").get_attribute("viewBox")
    house.page.keyboard.press("+")
    assert house.page.locator("#elevation-field svg").get_attribute("viewBox") != box
    house.page.keyboard.press("f")
    assert house.page.locator("#elevation-field svg").get_attribute("viewBox") == box
    house.page.locator("#panel-cavities tr[tabindex='0']").focus()
    house.page.keyboard.press("End")
    assert house.run("bayfill.state.cavity") == house.run("bayfill.takeoff.cavityCount") - 1
    assert house.page.locator("#panel-cavities tr[aria-selected=true]").is_visible()
    house.page.locator("#tab-cavities").focus()
    house.page.keyboard.press("ArrowRight")
    assert house.page.locator("#tab-schedule").get_attribute("aria-selected") == "true"
    house.page.keyboard.press("Home")
    assert house.page.locator("#panel-walls").is_visible()


def test_the_schedule_speaks_in_the_units_of_the_page(house):
    """No measure in m, mm, m2 or m3 is left in a text of the schedule in US units (a place of 140 mm is 5 1/2 in)."""
    house.page.locator("#tab-schedule").click()
    house.page.select_option("#units", "us")
    words = house.page.locator("#panel-schedule tbody").inner_text()
    assert 'batts 5 1/2"' in words
    assert not re.search(r"\d m{1,2}[23²³]?\b", words)
    house.page.select_option("#units", "metric")
    assert "batts 140 mm" in house.page.locator("#panel-schedule tbody").inner_text()


def test_the_summary_says_which_cavities_it_leaves_to_the_view_and_the_table(house):
    counted = sum(int(text) for text in house.page.locator("#methods tbody tr td:nth-child(2)").all_inner_texts())
    whole = house.run("bayfill.takeoff.cavityCount")
    assert whole > counted
    assert f"{whole - counted} slivers and gaps at openings are not counted here" in (
        house.page.locator("#methods").inner_text()
    )


def test_the_summary_says_what_walls_csv_adds_up_to(house, results):
    walls = rows(results("two_storey_house") / "walls.csv")
    words = house.page.locator("#figures").inner_text().replace("\u2009", "")
    area = math.fsum(float(row["insulated_area_m2"]) for row in walls)
    assert format_area(area, "metric").replace("m2", "m²") in words
    assert (
        format_volume(math.fsum(float(row["fill_volume_m3"]) for row in walls), "metric").replace("m3", "m³") in words
    )
    assert str(len(rows(results("two_storey_house") / "holes.csv"))) in words
    house.page.locator("#cautions-fold summary").click()
    assert "respirator" in house.page.locator("#cautions").inner_text()
    house.page.locator("#cautions-fold summary").click()
    assert "ASHRAE" in house.page.locator("#assumptions").text_content()


def test_walls_left_out_are_listed_with_their_reason_and_have_no_elevation(pages):
    opened = pages("duplex")
    assert "no stud layer among its layers" in opened.page.locator("#left-out").inner_text()
    wall = opened.run("bayfill.takeoff.layersOfWall.findIndex((layers) => layers.length === 0)")
    opened.run(f"bayfill.state.selectWall({wall})")
    assert "no stud layer" in opened.page.locator("#facts").inner_text()
    assert opened.page.locator("#elevation-field svg").count() == 0
    assert opened.run("bayfill.view.mark.edges.geometry.getAttribute('position').count") > 0, "but a place in the view"
