"""Real models by many authoring programs: what is read from each, pinned.

The models are not part of the project; where they are absent these tests are skipped.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from takeoff.reading import read_model

MODELS = Path(__file__).resolve().parents[3] / "shared" / "models"

pytestmark = pytest.mark.skipif(not MODELS.is_dir(), reason="the folder ../shared/models is not there")

# walls, openings, parts, solids of parts, rooms, loose parts, loose openings, connections, findings
COUNTS = {
    "curved-wall.ifc": (1, 2, 0, 0, 0, 0, 0, 0, 0),
    "duplex-architecture.ifc": (57, 36, 0, 0, 21, 8, 0, 82, 0),
    "many-simple-walls.ifc": (3, 14, 0, 0, 0, 0, 0, 0, 0),
    "sample-house.ifc": (7, 7, 0, 0, 4, 0, 0, 8, 1),
    "timber-house-layered.ifc": (45, 32, 0, 0, 19, 15, 0, 58, 1),
    "two-stud-layers.ifc": (2, 13, 0, 0, 0, 0, 0, 0, 0),
    "wall-elemented-case.ifc": (1, 2, 4, 44, 0, 0, 0, 0, 0),
}


def read(name):
    return read_model(MODELS / name)


def volume(mesh):
    corners = mesh.vertices[mesh.faces] - mesh.vertices[0]
    return abs(float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum())) / 6


@pytest.mark.parametrize("name", COUNTS)
def test_counts_of_every_model_are_pinned(name):
    model = read(name)
    parts = [part for wall in model.walls for part in wall.parts]
    assert (
        len(model.walls),
        sum(len(wall.openings) for wall in model.walls),
        len(parts),
        sum(len(part.solids) for part in parts),
        len(model.spaces),
        len(model.loose_parts),
        len(model.loose_openings),
        len(model.connections),
        len(model.findings),
    ) == COUNTS[name]
    assert [wall.problem for wall in model.walls] == [""] * len(model.walls)
    assert all(opening.problem == "" for wall in model.walls for opening in wall.openings)
    assert all(space.solids for space in model.spaces)


def test_the_elemented_wall_comes_in_metres_with_all_pieces_of_its_frame():
    # Figures worked from the file: plates 12 ft long cut at a door, 2x4 in studs, inch as the unit.
    (wall,) = read("wall-elemented-case.ifc").walls
    assert wall.ifc_class == "IfcWallElementedCase"
    studs = next(part for part in wall.parts if part.name == "Studs")
    tracks = next(part for part in wall.parts if part.name == "Track")
    assert (len(studs.solids), len(tracks.solids)) == (20, 12)
    assert (studs.type_name, studs.predefined_type) == ("Wood Stud", "STUD")
    for solid in studs.solids:
        spans = np.ptp(solid.vertices, axis=0)
        assert sorted(spans)[:2] == pytest.approx([1.5 * 0.0254, 3.5 * 0.0254], abs=1e-9)
    board = next(part for part in wall.parts if part.name == "Panel Forward")
    assert np.ptp(np.concatenate([solid.vertices for solid in board.solids]), axis=0) == pytest.approx(
        [12 * 12 * 0.0254, 0.5 * 0.0254, 10 * 12 * 0.0254], abs=1e-9
    )


def test_the_curved_wall_lies_on_a_cylinder_that_its_body_surrounds():
    (wall,) = read("curved-wall.ifc").walls
    assert wall.cylinder is not None
    distance = np.hypot(*(wall.body[0].vertices - wall.cylinder.centre)[:, :2].T)
    thickness = sum(layer.thickness for layer in wall.layers.layers)
    # The axis may run along a face or in the middle, so the body lies within one thickness of it; chords give 1 mm.
    assert np.abs(distance - wall.cylinder.radius).max() <= thickness + 1e-3


@pytest.mark.parametrize("name", ["many-simple-walls.ifc", "sample-house.ifc"])
def test_sizes_agree_with_the_quantities_that_the_model_carries(name):
    # Source: the models' own BaseQuantities, written by their authoring programs.
    checked = 0
    for wall in read(name).walls:
        stated = {quantity.name: quantity.value for quantity in wall.quantities}
        if "Height" not in stated or wall.cylinder is not None:
            continue
        own = np.concatenate([solid.vertices for solid in wall.body]) @ wall.placement[:3, :3]
        length, thickness, height = np.ptp(own, axis=0)
        assert height == pytest.approx(stated["Height"], rel=1e-6)
        assert thickness == pytest.approx(stated["Width"], rel=1e-6)
        # Length is taken along the axis by some programs, at the corner by others.
        assert length == pytest.approx(stated["Length"], abs=2 * thickness)
        checked += 1
    assert checked


def test_walls_of_the_duplex_are_as_thick_as_their_layers():
    # In two party walls the layers of the model add up to 57 mm more than its body; that is how it came.
    odd = []
    for wall in read("duplex-architecture.ifc").walls:
        own = np.concatenate([solid.vertices for solid in wall.body]) @ wall.placement[:3, :3]
        total = sum(layer.thickness for layer in wall.layers.layers)
        if np.ptp(own[:, 1]) != pytest.approx(total, abs=1e-6):
            odd.append(round(total - float(np.ptp(own[:, 1])), 6))
    assert odd == [0.057, 0.057]


def test_the_doubled_face_of_the_sample_house_is_mended_with_a_finding():
    model = read("sample-house.ifc")
    (finding,) = model.findings
    assert finding.code == "body-mended"
    wall = next(wall for wall in model.walls if wall.global_id == finding.wall_id)
    # 290 mm thick with openings cut; below the gross 8.955 x 0.29 x 2.82 m.
    assert 4.0 < volume(wall.body[0]) < 8.955 * 0.29 * 2.82


def test_reading_twice_gives_the_same(tmp_path):
    one, other = read("duplex-architecture.ifc"), read("duplex-architecture.ifc")
    assert [wall.global_id for wall in one.walls] == [wall.global_id for wall in other.walls]
    for first, second in zip(one.walls, other.walls, strict=True):
        assert all(
            np.array_equal(a.vertices, b.vertices) and np.array_equal(a.faces, b.faces)
            for a, b in zip(first.body, second.body, strict=True)
        )


def test_progress_is_told_element_by_element():
    told = []
    read_model(MODELS / "many-simple-walls.ifc", progress=lambda stage, done, total: told.append((stage, done, total)))
    assert [entry for entry in told if entry[0] == "walls"] == [("walls", done, 3) for done in range(4)]
