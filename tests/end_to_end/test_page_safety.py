"""takeoff.html under strain: hostile names, accessibility rules, thousands of cavities, paper."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

import takeoff
from reports.files import PAGE_NAME, result_texts
from reports.page_file import page_html
from takeoff.finding import Finding, Severity
from tests.page_browser import AXE, DESKTOP, PHONE, chromium, close_page, open_page, opened_browser
from tests.records_builder import plain_wall, takeoff_of

SAMPLES = Path(__file__).resolve().parents[2] / "sample_models"
HOSTILE = (
    "<script>window.broken = 1</script>",
    '"><img src=x onerror="window.broken = 1">',
    "</script><script>window.broken = 1</script>",
    "<!--<script>",
    "javascript:window.broken=1",
    '=HYPERLINK("http://example.invalid","click")',
    "\u202eevil\u2028name",
)
COPIES = 60


@pytest.fixture(scope="module")
def browser():
    with opened_browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def house():
    return takeoff.take_off(SAMPLES / "two_storey_house.ifc")


@pytest.fixture(scope="module")
def house_page(house, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("house") / PAGE_NAME
    path.write_text(result_texts(house)[PAGE_NAME], encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def hostile_page(tmp_path_factory) -> Path:
    """Walls, types, storeys, findings, model and project with names that try to break out of where they stand."""
    walls = []
    for number, name in enumerate(HOSTILE):
        plain = plain_wall(f"W{number}")
        found = Finding("gap-sealed", Severity.WARNING, name, f"W{number}", element_name=name, unit=name)
        own = replace(plain.wall, name=name, type_name=name, storey=name, findings=(found,))
        walls.append(replace(plain, wall=own, reason=name))
    result = replace(takeoff_of(tuple(walls)), model_name=f"{HOSTILE[2]}.ifc", project_name=HOSTILE[1])
    path = tmp_path_factory.mktemp("hostile") / PAGE_NAME
    path.write_bytes(result_texts(result)[PAGE_NAME].encode("utf-8", "replace"))
    return path


def test_hostile_names_stay_text_and_do_nothing(browser, hostile_page):
    opened = open_page(browser, hostile_page)
    opened.page.click("#tab-walls")
    names = opened.page.locator("#panel-walls tbody tr[data-row] td:first-child").all_text_contents()
    assert names[:6] == list(HOSTILE[:6])
    for number in range(len(HOSTILE)):
        opened.run(f"bayfill.state.selectWall({number})")
        opened.run("bayfill.state.selectCavity(bayfill.takeoff.cavitiesOfWall(bayfill.state.wall)[0])")
        opened.run("bayfill.tables.findings.reselect(true)")
    opened.page.click("#tab-findings")
    opened.page.locator("#panel-findings button", has_text="Filter columns").click()
    opened.page.select_option("#colour", "room")
    assert opened.page.locator("h1").inner_text() == f"{HOSTILE[2]}.ifc"
    assert opened.page.title() == f"Takeoff of {HOSTILE[2]}.ifc"
    assert opened.run("window.broken") is None
    assert opened.page.locator("img, iframe, object, embed, a[href^='javascript']").count() == 0
    assert opened.page.locator("script").count() == 2
    assert opened.complaints == []
    assert len(opened.requests) == 1
    close_page(opened)


def test_a_name_that_begins_like_a_formula_is_no_formula_in_saved_rows(browser, hostile_page, tmp_path):
    opened = open_page(browser, hostile_page)
    opened.page.click("#tab-walls")
    with opened.page.expect_download() as download:
        opened.page.locator("#panel-walls button", has_text="Save as CSV").click()
    download.value.save_as(tmp_path / "saved.csv")
    text = (tmp_path / "saved.csv").read_text(encoding="utf-8")
    assert "\"'=HYPERLINK(" in text
    assert ',"=' not in text
    assert ",=" not in text
    close_page(opened)


def test_the_policy_stops_what_would_reach_the_network(browser, house_page):
    opened = open_page(browser, house_page)
    outcome = opened.run("fetch('https://example.invalid/').then(() => 'fetched', (fault) => fault.name)")
    assert outcome == "TypeError"
    refused = opened.run(
        """() => new Promise((done) => {
          document.addEventListener('securitypolicyviolation', (event) => done(event.effectiveDirective));
          const image = new Image();
          image.src = 'https://example.invalid/x.png';
        })"""
    )
    assert refused == "img-src"
    # An inline script that comes in later has no hash in the policy.
    opened.run(
        """() => {
          const late = document.createElement('script');
          late.textContent = 'window.broken = 1';
          document.body.append(late);
        }"""
    )
    assert opened.run("window.broken") is None
    close_page(opened)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_accessibility_rules_pass(size, scheme, browser, house_page):
    """Rules of WCAG 2.0 to 2.2, levels A and AA, and good practice, as axe-core (MPL-2.0) holds them."""
    if not AXE.is_file():
        pytest.skip("axe-core is not installed (npm ci in reports/page)")
    opened = open_page(browser, house_page, viewport=size, color_scheme=scheme, bypass_csp=True)
    assert opened.run("document.documentElement.dataset.theme") == scheme
    opened.page.add_script_tag(path=str(AXE))
    states = {
        "as opened": "0",
        "cavity selected": "bayfill.state.selectCavity(20)",
        "filters open": "document.querySelector('#panel-cavities .toolbar button').click()",
        "all folds open": "document.querySelectorAll('details').forEach((each) => { each.open = true })",
        "about": "document.getElementById('open-about').click()",
    }
    for state, script in states.items():
        opened.run(script)
        faults = opened.run(
            "axe.run(document, { resultTypes: ['violations'] }).then((found) => found.violations.map((rule) => "
            "[rule.id, rule.nodes.slice(0, 3).map((node) => node.target.join(' ') + ': ' + node.failureSummary)]))"
        )
        assert faults == [], state
    assert opened.run("document.documentElement.scrollWidth <= window.innerWidth"), "the page is wider than the window"
    assert opened.complaints == []
    close_page(opened)


def many_houses(text: str) -> dict:
    """takeoff.json of the house as a parsed document with all its walls many times over, each copy beside the last."""
    document = json.loads(text)
    walls = []
    for copy in range(COPIES):
        moved = json.loads(json.dumps(document["walls"]))
        for wall in moved:
            wall["wall_id"] += f"-{copy}"
            wall["name"] += f" of house {copy}"
            for layer in wall["layers"]:
                layer["layer_key"] += f"-{copy}"
                layer["axes"]["origin_m"][0] += 20.0 * (copy % 8)
                layer["axes"]["origin_m"][1] += 20.0 * (copy // 8)
                for cavity in layer["cavities"]:
                    cavity["cavity_id"] = f"{layer['layer_key']}/{cavity['cavity_id'].rpartition('/')[2]}"
                for row in (*layer["holes"], *layer["hand_fills"]):
                    row["cavity_id"] = f"{layer['layer_key']}/{row['cavity_id'].rpartition('/')[2]}"
        walls += moved
    return {**document, "walls": walls}


def test_twenty_thousand_cavities_are_drawn_at_once_and_their_table_draws_only_what_is_in_sight(
    browser, house, tmp_path
):
    document = many_houses(result_texts(house, page=False)["takeoff.json"])
    count = sum(len(layer["cavities"]) for wall in document["walls"] for layer in wall["layers"])
    assert count > 20_000
    path = tmp_path / PAGE_NAME
    path.write_text(page_html(house, document), encoding="utf-8")
    opened = open_page(browser, path, viewport={"width": 900, "height": 600})
    assert opened.run("bayfill.takeoff.cavityCount") == count
    assert len(opened.pixels()) > 20
    assert opened.run("bayfill.view.renderer.info.render.calls") <= 15
    opened.page.click("#tab-cavities")
    table = "#panel-cavities tbody tr[data-row]"
    assert opened.page.locator(table).count() < 80
    opened.page.locator(table).first.focus()
    opened.page.keyboard.press("End")
    assert opened.run("bayfill.state.cavity") == count - 1
    assert opened.page.locator("#panel-cavities tr[aria-selected=true]").get_attribute("data-row") == str(count - 1)
    assert opened.page.locator(table).count() < 80
    assert opened.page.locator("#elevation-field path.selected").count() == 1
    before = opened.pixels()
    opened.run("bayfill.view.turn(0.5, 0.1)")
    assert opened.pixels() != before
    assert opened.complaints == []
    close_page(opened)


def test_a_browser_that_cannot_draw_in_3d_still_shows_the_rest(tmp_path):
    path = tmp_path / PAGE_NAME
    path.write_text(result_texts(takeoff_of())[PAGE_NAME], encoding="utf-8")
    # A browser of its own, in a process of its own: playwright takes one driver at a time.
    code = f"""
import sys
sys.path.insert(0, {str(SAMPLES.parent)!r})
from pathlib import Path
from tests.page_browser import open_page, opened_browser
with opened_browser("--disable-3d-apis") as browser:
    opened = open_page(browser, Path({str(path)!r}))
    assert "cannot draw in 3D" in opened.page.locator("#view-field").inner_text()
    opened.page.click("#tab-cavities")
    opened.page.locator("#panel-cavities tbody tr[data-row]").first.click()
    assert opened.page.locator("#elevation-field path.selected").count() == 1
    assert not [each for each in opened.complaints if each.startswith("error: Uncaught")]
"""
    chromium()
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
    )
    assert done.returncode == 0, done.stderr


def test_on_paper_stand_the_summary_the_elevation_and_its_cavities_but_no_buttons(browser, house_page):
    opened = open_page(browser, house_page, color_scheme="dark")
    opened.run("bayfill.state.selectWall(0)")
    pages = PdfReader(io.BytesIO(opened.page.pdf(prefer_css_page_size=True))).pages
    words = "\n".join(page.extract_text() for page in pages)
    assert 2 <= len(pages) <= 6
    assert "Insulated area" in words
    assert "respirator" in words
    assert "South 0" in words
    assert "c34" in words
    assert "Save as CSV" not in words
    assert "Fit selected" not in words
    assert opened.page.locator("#print-table tr").count() == 0, "the table on paper is gone from the screen"
    close_page(opened)
