"""What takeoff.html holds: the data of takeoff.json, packed, inside an asset that can be built again."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import shapely

import takeoff
from reports.files import PAGE_NAME, result_texts
from reports.page_data import CAVITY_VALUES, WALL_TEXTS, WALL_VALUES
from reports.page_file import asset, json_in_html
from reports.page_shapes import STEP, outline_codes, solid_codes
from takeoff.job import default_job, load_job
from takeoff.schedule import material_schedule
from takeoff.schedule_stored import basis_from
from tests.records_builder import takeoff_of

ROOT = Path(__file__).resolve().parents[2]
FRONT_END = ROOT / "reports" / "page"
MODELS = {
    **{path.stem: path for path in sorted((ROOT / "sample_models").glob("*.ifc"))},
    "curved-wall": ROOT.parent / "shared" / "models" / "curved-wall.ifc",
}


@pytest.fixture(scope="module", params=MODELS)
def packed(request) -> tuple[dict, dict]:
    """takeoff.json of a model as parsed, and the data of its page as the page itself holds them."""
    path = MODELS[request.param]
    if not path.is_file():
        pytest.skip(f"{path.name} is not beside the clone (../shared/models)")
    texts = result_texts(takeoff.take_off(path))
    return json.loads(texts["takeoff.json"]), embedded(texts[PAGE_NAME])


def embedded(page: str) -> dict:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


def polygon_of(code: list) -> shapely.Geometry:
    """The outline that a code stands for, in m."""
    if len(code) == 4 and not isinstance(code[0], list):
        return shapely.box(*np.array(code) * STEP)
    parts = [[np.array(ring).reshape(-1, 2) * STEP for ring in polygon] for polygon in code]
    return shapely.MultiPolygon([(rings[0], rings[1:]) for rings in parts])


def off(shape: shapely.Geometry, outline: shapely.Geometry) -> float:
    """m by which the edges of two outlines lie apart at most, either way."""
    return float(shapely.hausdorff_distance(shape.boundary, outline.boundary))


def layers_of(document: dict) -> list[dict]:
    return [layer for wall in document["walls"] for layer in (*wall["layers"], *wall["stud_layers_not_taken_off"])]


def pieces(document: dict, name: str) -> list[dict]:
    return [row for layer in layers_of(document) for row in layer.get(name, ())]


def test_every_cell_of_the_page_is_that_of_takeoff_json(packed):
    document, data = packed
    walls = document["walls"]
    for name in WALL_VALUES:
        assert data["walls"][name] == [wall[name] for wall in walls], name
    for name in WALL_TEXTS:
        column = data["walls"][name]
        assert [column["words"][row] for row in column["rows"]] == [wall[name] for wall in walls], name
    cavities = pieces(document, "cavities")
    for name in CAVITY_VALUES:
        assert data["cavities"][name] == [row[name] for row in cavities], name
    keys = data["layers"]["key"]
    numbers = data["cavities"]["number"]
    ids = [
        f"{keys[layer]}/{numbers['words'][number]}"
        for layer, number in zip(data["cavities"]["layer"], numbers["rows"], strict=True)
    ]
    assert ids == [row["cavity_id"] for row in cavities]
    holes = pieces(document, "holes")
    assert [ids[cavity] for cavity in data["holes"]["cavity"]] == [row["cavity_id"] for row in holes]
    assert data["holes"]["x_m"] == [row["x_m"] for row in holes]
    assert data["holes"]["upper"] == [int(row["pass"] == "upper") for row in holes]
    for key in ("totals", "assumptions", "model"):
        assert data[key] == document[key]


def test_outlines_of_the_page_are_those_of_takeoff_json_to_a_tenth_of_a_millimetre(packed):
    document, data = packed
    for name in ("cavities", "openings"):
        shapes = [polygon_of(code) for code in data[name]["shape"]]
        wanted = shapely.from_wkt([row["outline_wkt"] for row in pieces(document, name)])
        for shape, outline in zip(shapes, wanted, strict=True):
            assert off(shape, outline) <= STEP
    for row, shape in zip(pieces(document, "cavities"), data["cavities"]["shape"], strict=True):
        assert polygon_of(shape).area == pytest.approx(row["area_m2"], abs=STEP * 20)


def test_members_and_walls_of_the_page_have_the_bodies_of_takeoff_json(packed):
    document, data = packed
    solids = [row["solid"] for row in pieces(document, "members")]
    bodies = [layer["body"] for layer in layers_of(document)]
    for solid, code in zip([*solids, *bodies], [*data["members"]["solid"], *data["layers"]["body"]], strict=True):
        if solid["shape"] == "mesh":
            assert np.allclose(np.array(code["v"]) * STEP, np.ravel(solid["vertices_m"]), atol=STEP / 2 + 1e-9)
            assert code["f"] == np.ravel(solid["faces"]).tolist()
        else:
            depths = np.array(code["y"]) * STEP
            assert np.allclose(depths, [solid["y_min_m"], solid["y_max_m"]], atol=STEP / 2 + 1e-9)
            outline = shapely.from_wkt(solid["outline_wkt"])
            assert off(polygon_of(code["o"]), outline) <= STEP


def test_a_rectangle_is_four_numbers_and_anything_else_its_rings():
    texts = [
        "POLYGON ((0 0, 0 2, 1 2, 1 0, 0 0))",
        "POLYGON ((0 0, 0 2, 0.5 2, 1 2, 1 0, 0 0))",
        "POLYGON ((0 0, 0 2, 1 0, 0 0))",
        "POLYGON ((0 0, 0 3, 3 3, 3 0, 0 0), (1 1, 2 1, 2 2, 1 2, 1 1))",
        "MULTIPOLYGON (((0 0, 0 1, 1 1, 0 0)), ((2 0, 2 1, 3 1, 2 0)))",
        "POLYGON EMPTY",
    ]
    codes = outline_codes(texts)
    assert codes[:2] == [[0, 0, 10_000, 20_000]] * 2
    assert codes[2] == [[[0, 0, 0, 20_000, 10_000, 0]]]
    assert [len(polygon) for polygon in codes[3]] == [2]
    assert len(codes[4]) == 2
    assert codes[5] == []
    assert outline_codes([]) == []


def test_solids_keep_their_order_whatever_their_shape():
    prism = {"shape": "prism", "outline_wkt": "POLYGON ((0 0, 0 1, 1 1, 1 0, 0 0))", "y_min_m": 0.0, "y_max_m": 0.14}
    mesh = {"shape": "mesh", "vertices_m": [[0, 0, 0], [1, 0, 0], [0, 1, 0]], "faces": [[0, 1, 2]]}
    assert [sorted(code) for code in solid_codes([mesh, prism, mesh])] == [["f", "v"], ["o", "y"], ["f", "v"]]


def test_the_schedule_of_the_page_is_that_of_the_basis_in_takeoff_json(packed):
    document, data = packed
    schedule = material_schedule(basis_from(document["basis"]), default_job())
    assert data["schedule"]["code"] == [line.code for line in schedule.lines]
    assert data["schedule"]["gross"] == pytest.approx([line.gross for line in schedule.lines], rel=1e-11)
    masses = [mass for mass in data["cavities"]["mass_kg"] if mass is not None]
    fibre = schedule.line("fibre")
    assert sum(masses) == pytest.approx(fibre.net if fibre else 0.0)
    assert data["summary"]["bags"] is None


def test_bags_are_counted_where_the_job_says_what_one_holds(tmp_path):
    (tmp_path / "job.toml").write_text('[fibre]\nbag_mass = "25 lb"\n')
    job = load_job(tmp_path / "job.toml")
    texts = result_texts(takeoff.take_off(MODELS["steel_wall"], job))
    summary = embedded(texts[PAGE_NAME])["summary"]
    gross = summary["fibre_mass_kg"] * (1.0 + job.waste.fibre)
    assert (summary["bags"] - 1) * 25 * 0.45359237 < gross <= summary["bags"] * 25 * 0.45359237


def test_no_angle_bracket_is_left_in_the_data_of_a_page():
    text = json_in_html({"a": "</script><!--", "b": "\u2028"})
    assert "<" not in text
    assert "\u2028" not in text
    assert json.loads(text) == {"a": "</script><!--", "b": "\u2028"}


def test_the_page_allows_its_own_script_and_style_only_and_names_nothing_to_fetch():
    page = result_texts(takeoff_of())[PAGE_NAME]
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy is not None
    rules = dict(rule.strip().split(" ", 1) for rule in policy[1].split(";"))
    assert rules["default-src"] == "'none'"
    assert set(rules) == {"default-src", "script-src", "style-src", "base-uri", "form-action"}
    for name, rule in (("script", "script-src"), ("style", "style-src")):
        inline = re.findall(rf"<{name}>(.*?)</{name}>", page, re.DOTALL)
        assert len(inline) == 1
        digest = base64.b64encode(hashlib.sha256(inline[0].encode()).digest()).decode()
        assert rules[rule] == f"'sha256-{digest}'"
    assert not re.search(r"<(link|img|iframe|object|embed)\b", page)
    assert not re.search(r"<[a-z][^<>]*\s(?:src|href|style|on[a-z]+)=[\"'](?!#)", asset("page.html"))


def test_two_runs_make_the_same_page():
    assert result_texts(takeoff_of())[PAGE_NAME] == result_texts(takeoff_of())[PAGE_NAME]
    assert PAGE_NAME not in result_texts(takeoff_of(), page=False)


def test_the_licences_of_what_is_bundled_stand_in_the_page():
    page = result_texts(takeoff_of())[PAGE_NAME]
    packages = json.loads((FRONT_END / "package.json").read_text())["dependencies"]
    for name, version in packages.items():
        assert f"{name} {version} (MIT)" in page
        assert re.fullmatch(r"\d+\.\d+\.\d+", version), "pinned"
    assert "Permission is hereby granted, free of charge" in page


def test_the_asset_is_what_its_source_builds(tmp_path):
    if shutil.which("node") is None:
        pytest.skip("node is not installed")
    if not (FRONT_END / "node_modules" / "esbuild").is_dir():
        pytest.skip("the front end's packages are not installed (npm ci in reports/page)")
    subprocess.run(["node", "build.mjs", str(tmp_path)], cwd=FRONT_END, check=True, stdin=subprocess.DEVNULL)
    for path in sorted(tmp_path.iterdir()):
        assert asset(path.name) == path.read_text(encoding="utf-8"), f"npm run build ({path.name})"
