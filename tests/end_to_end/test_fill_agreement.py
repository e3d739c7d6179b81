"""One source of truth: tables, frames and takeoff.json say of every cavity's filling what the fill plan says.

On our samples and on real models where they are at hand, with every framed wall filled, by hoses of two kinds.
"""

from __future__ import annotations

import csv
import functools
import io
import json
from pathlib import Path

import pytest
import shapely
import trimesh

from geometry.solids import Mesh, Prism, depth_range, silhouette
from reports.files import result_texts
from takeoff import Takeoff, take_off
from takeoff.fill import plan_fill
from takeoff.job import hose_settings, read_job
from takeoff.model import CavityKind, Method

ROOT = Path(__file__).resolve().parents[2]
SHARED = ROOT.parent / "shared" / "models"
SAMPLES = ("garden_studio", "steel_wall", "two_storey_house")
REAL = ("duplex-architecture", "sample-house", "timber-house-layered", "two-stud-layers", "wall-elemented-case")
JOB = """
[insulate]
walls = "all"
[hose]
kind = "long"
outside_diameter = "4 in"
[batt]
clear_width_below = "150 mm"
"""


@functools.cache
def taken(name: str) -> Takeoff:
    path = ROOT / "sample_models" / f"{name}.ifc" if name in SAMPLES else SHARED / f"{name}.ifc"
    if not path.is_file():
        pytest.skip(f"{path.name} is not beside the clone (../shared/models)")
    return take_off(path, read_job(JOB))


def table(takeoff: Takeoff, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(result_texts(takeoff)[f"{name}.csv"])))


@pytest.mark.parametrize("name", [*SAMPLES, *REAL])
def test_cavities_and_fill_plan_agree_on_method_reason_and_volume(name):
    takeoff = taken(name)
    fills = {fill.cavity_id: fill for fill in takeoff.fill.cavities}
    rows = table(takeoff, "cavities")
    assert [row["cavity_id"] for row in rows] == list(fills)
    for row in rows:
        fill = fills[row["cavity_id"]]
        assert (row["method"], row["reason"]) == (fill.method, fill.reason)
        whole = fill.blown_volume + fill.hand_volume
        assert whole == pytest.approx(float(row["volume_m3"]) if fill.method is not Method.NONE else 0.0, abs=1e-9)


@pytest.mark.parametrize("name", [*SAMPLES, *REAL])
def test_only_blown_cavities_have_holes_and_all_others_stand_in_hand_fills(name):
    takeoff = taken(name)
    holes = {row["cavity_id"] for row in table(takeoff, "holes")}
    whole = {row["cavity_id"] for row in table(takeoff, "hand_fills") if row["whole"] == "true"}
    rows = table(takeoff, "cavities")
    assert holes == {row["cavity_id"] for row in rows if row["method"] == Method.BLOW}
    assert whole == {row["cavity_id"] for row in rows if row["method"] not in (Method.BLOW, Method.NONE)}


@pytest.mark.parametrize("name", [*SAMPLES, *REAL])
def test_no_narrow_bay_is_blown_and_the_limits_are_the_job_files(name):
    takeoff = taken(name)
    hose = hose_settings(takeoff.job)
    assert hose.least_width == pytest.approx(0.15)
    for row in table(takeoff, "cavities"):
        if row["method"] == Method.BLOW:
            assert row["kind"] != CavityKind.NARROW
            assert float(row["clear_width_m"]) >= hose.least_width - 1e-9
            assert float(row["depth_m"]) >= hose.least_depth - 1e-9


@pytest.mark.parametrize("name", SAMPLES)
def test_planning_what_is_planned_already_changes_nothing(name):
    takeoff = taken(name)
    again = plan_fill(takeoff.results, hose_settings(takeoff.job))
    assert again.cavities == takeoff.fill.cavities
    assert [(h.cavity_id, h.x, h.z) for h in again.holes] == [(h.cavity_id, h.x, h.z) for h in takeoff.fill.holes]


@pytest.mark.parametrize("name", SAMPLES)
def test_the_json_file_holds_the_holes_of_each_stud_layer(name):
    takeoff = taken(name)
    layers = [layer for wall in json.loads(result_texts(takeoff)["takeoff.json"])["walls"] for layer in wall["layers"]]
    for key in ("holes", "hand_fills"):
        nested = [row for layer in layers for row in layer[key]]
        flat = table(takeoff, key)
        assert [row["cavity_id"] for row in nested] == [row["cavity_id"] for row in flat]
        assert all(row["cavity_id"].startswith(f"{layer['layer_key']}/") for layer in layers for row in layer[key])
    assert len(takeoff.holes) == len(table(takeoff, "holes")) > 0
    assert len(takeoff.hand_fills) == len(table(takeoff, "hand_fills"))


def test_findings_of_the_fill_plan_stand_in_the_findings_table():
    takeoff = taken("steel_wall")
    assert set(takeoff.fill.findings) <= set(takeoff.findings)


@pytest.mark.parametrize("name", [*SAMPLES, *REAL])
def test_no_hole_touches_a_member_or_an_opening(name):
    """Circles of the hose and its margin against every solid at the fill face, cut by a plane of its own there."""
    takeoff = taken(name)
    clearance = hose_settings(takeoff.job).clearance
    holes = {row["cavity_id"]: [] for row in table(takeoff, "holes")}
    for row in table(takeoff, "holes"):
        holes[row["cavity_id"]].append((float(row["x_m"]), float(row["z_m"])))
    for result in takeoff.results:
        for layer in result.layers:
            points = [p for each in layer.cavities for p in holes.get(each.cavity_id, [])]
            if not points:
                continue
            solids = [m.solid for m in layer.frame.members if depth_range(m.solid)[0] <= 1e-6]
            faces = [silhouette(s) if isinstance(s, Prism) else _at_face(s) for s in solids]
            faces += [each.outline for each in layer.frame.openings if each.solid is None]
            tree = shapely.STRtree([face for face in faces if not face.is_empty])
            where = shapely.points(points)
            nearest = tree.nearest(where) if len(tree.geometries) else []
            if len(nearest):
                assert shapely.distance(where, tree.geometries[nearest]).min() >= clearance - 1e-5, result.wall.name


def _at_face(mesh: Mesh) -> shapely.Geometry:
    """The section of a mesh just behind the fill face, by a library of its own."""
    body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    cut = body.section(plane_origin=(0.0, 1e-4, 0.0), plane_normal=(0.0, 1.0, 0.0))
    if cut is None:
        return shapely.Polygon()
    rings = [shapely.Polygon(ring[:, [0, 2]]).buffer(0) for ring in cut.discrete if len(ring) > 3]
    return shapely.union_all(rings)
