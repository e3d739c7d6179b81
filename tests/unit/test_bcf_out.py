"""BCF files: every finding once, ids that stay, a camera that sees what the finding is about.

The order of elements and the limits of values are those of the open standard's schemas (BCF-XML 2.1, markup.xsd and
visinfo.xsd in buildingSMART's public repository). Read back with the general-purpose library bcf-client.
"""

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from bcf.v2.bcfxml import BcfXml

from geometry.solids import as_mesh
from reports.bcf_out import AUTHOR, bcf_bytes, write_bcf
from reports.bcf_topics import MOST_APART, topics_of
from takeoff.building import Model
from takeoff.finding import Finding, Severity
from takeoff.job import default_job
from takeoff.pipeline import take_off_model
from takeoff.reading import read_model
from takeoff.result import Takeoff

SAMPLES = Path(__file__).resolve().parents[2] / "sample_models"
ORDER = {
    "Markup": ["Header", "Topic", "Comment", "Viewpoints"],
    "File": ["Filename", "Date", "Reference"],
    "Topic": ["ReferenceLink", "Title", "Priority", "Index", "Labels", "CreationDate", "CreationAuthor", "ModifiedDate",
              "ModifiedAuthor", "DueDate", "AssignedTo", "Stage", "Description", "BimSnippet"],
    "Comment": ["Date", "Author", "Comment", "Viewpoint", "ModifiedDate", "ModifiedAuthor"],
    "Viewpoints": ["Viewpoint", "Snapshot", "Index"],
    "VisualizationInfo": ["Components", "OrthogonalCamera", "PerspectiveCamera", "Lines", "ClippingPlanes", "Bitmap"],
    "Components": ["ViewSetupHints", "Selection", "Visibility", "Coloring"],
    "PerspectiveCamera": ["CameraViewPoint", "CameraDirection", "CameraUpVector", "FieldOfView"],
    "CameraViewPoint": ["X", "Y", "Z"],
}  # fmt: skip
NEEDED = {
    "Topic": ["Title", "CreationDate", "CreationAuthor"],
    "Comment": ["Date", "Author", "Comment"],
    "Components": ["Visibility"],
    "PerspectiveCamera": ["CameraViewPoint", "CameraDirection", "CameraUpVector", "FieldOfView"],
}


@pytest.fixture(scope="module")
def house() -> tuple[Model, Takeoff]:
    model = read_model(SAMPLES / "two_storey_house.ifc")
    return model, take_off_model(model, default_job())


def one_per_wall(takeoff: Takeoff, severity: Severity = Severity.WARNING) -> list[Finding]:
    return [Finding("wall-failed", severity, "Made up.", row.wall.wall_id) for row in takeoff.results]


def about_everything(takeoff: Takeoff) -> list[Finding]:
    """A finding on each wall, cavity and opening."""
    made = one_per_wall(takeoff)
    for row in takeoff.results:
        for layer in row.layers:
            ids = [cavity.cavity_id for cavity in layer.cavities]
            ids += [opening.opening_id for opening in layer.frame.openings]
            made += [Finding("opening-clipped", Severity.WARNING, "Made up.", row.wall.wall_id, each) for each in ids]
    return made


def xml_files(content: Path) -> dict[str, ElementTree.Element]:
    with zipfile.ZipFile(content) as archive:
        return {name: ElementTree.fromstring(archive.read(name)) for name in archive.namelist()}


def test_every_finding_stands_in_exactly_one_topic(house):
    takeoff = house[1]
    findings = [*about_everything(takeoff), *one_per_wall(takeoff, Severity.INFO), Finding("x", Severity.ERROR, "No.")]
    topics = topics_of(findings, {row.wall.wall_id: row.wall for row in takeoff.results})
    told = [finding for topic in topics for finding in topic.findings]
    assert len(told) == len(findings)
    assert set(told) == set(findings)
    assert len({topic.guid for topic in topics}) == len(topics)


def test_two_hundred_alike_make_a_topic_for_each_storey_and_no_sentence_is_lost(house, tmp_path):
    takeoff = house[1]
    findings = about_everything(takeoff)
    assert len(findings) > 200
    write_bcf(takeoff, findings, tmp_path / "f.bcf", house[0])
    storeys = {row.wall.storey for row in takeoff.results}
    with BcfXml.load(tmp_path / "f.bcf") as read:
        assert len(read.topics) == 2 * len(storeys)
        assert sum(len(topic.comments) for topic in read.topics.values()) == len(findings)
        assert sum(len(topic.viewpoints) for topic in read.topics.values()) == len(findings)


def test_a_few_walls_make_a_topic_each(house):
    takeoff = house[1]
    few = one_per_wall(takeoff)[:MOST_APART]
    walls = {row.wall.wall_id: row.wall for row in takeoff.results}
    topics = topics_of(few, walls)
    assert len(topics) == len(few)
    assert all(walls[each.wall_id].name in topic.title for each, topic in zip(few, topics, strict=True))
    # Mending one leaves the others what they were.
    assert {topic.guid for topic in topics_of(few[1:], walls)} == {topic.guid for topic in topics[1:]}


def test_the_same_findings_give_the_same_bytes_whatever_the_clock_says(house):
    model, takeoff = house
    first, _ = bcf_bytes(takeoff, takeoff.findings, model)
    assert bcf_bytes(takeoff, takeoff.findings, model)[0] == first
    later = datetime(2026, 5, 4, 3, 2, 1, tzinfo=UTC)
    assert bcf_bytes(takeoff, takeoff.findings, model, later)[0] != first


def test_elements_stand_in_the_order_of_the_standard_with_all_it_needs(house, tmp_path):
    write_bcf(house[1], about_everything(house[1]), tmp_path / "f.bcf", house[0])
    files = xml_files(tmp_path / "f.bcf")
    assert files["bcf.version"].attrib == {"VersionId": "2.1"}
    for name, root in files.items():
        if name.endswith(".xsd"):
            continue
        for node in root.iter():
            order = ORDER.get(node.tag)
            if order is not None and len(node):
                places = [order.index(child.tag) for child in node]
                assert places == sorted(places), (name, node.tag)
                assert {*NEEDED.get(node.tag, ())} <= {child.tag for child in node}
    fields = [float(text) for root in files.values() for text in (node.text for node in root.iter("FieldOfView"))]
    assert fields
    assert all(45.0 <= field <= 60.0 for field in fields)


def test_every_word_that_a_topic_uses_is_declared(house, tmp_path):
    write_bcf(house[1], about_everything(house[1]), tmp_path / "f.bcf", house[0])
    with BcfXml.load(tmp_path / "f.bcf") as read:
        declared = read.extensions
        for handler in read.topics.values():
            topic = handler.topic
            assert topic.topic_type in declared.topic_types.topic_type
            assert topic.topic_status in declared.topic_statuses.topic_status
            assert topic.priority in declared.priorities.priority
            assert set(topic.labels) <= set(declared.topic_labels.topic_label)
            assert topic.creation_author in declared.users.user == [AUTHOR]


def cameras(takeoff: Takeoff, model: Model | None, findings: list[Finding], file: Path):
    """(selected ids, camera position, direction, hidden ids) of each viewpoint."""
    write_bcf(takeoff, findings, file, model)
    with BcfXml.load(file) as read:
        views = [view for topic in read.topics.values() for view in topic.viewpoints.values()]
    for view in views:
        info = view.visualization_info
        hidden = info.components.visibility.exceptions
        spot, way = info.perspective_camera.camera_view_point, info.perspective_camera.camera_direction
        yield (
            tuple(view.get_selected_guids() or ()),
            np.array([spot.x, spot.y, spot.z]),
            np.array([way.x, way.y, way.z]),
            [each.ifc_guid for each in hidden.component] if hidden else [],
        )


def test_cameras_look_at_the_wall_from_its_fill_side_and_stand_in_no_wall(house, tmp_path):
    model, takeoff = house
    layers = {row.wall.wall_id: row.layers for row in takeoff.results}
    boxes = {}
    for wall in model.walls:
        turn = wall.placement[:3, :3].T
        own = np.concatenate([mesh.vertices for mesh in wall.body]) @ turn.T
        boxes[wall.global_id] = turn, own.min(axis=0), own.max(axis=0)
    seen = 0
    for ids, spot, way, hidden in cameras(takeoff, model, about_everything(takeoff), tmp_path / "f.bcf"):
        if not layers[ids[0]]:
            continue
        axes = [layer.frame.layer.axes for layer in layers[ids[0]]]
        assert any(each.to_local(spot.reshape(1, 3))[0, 1] < 0.0 and way @ each.directions[1] > 0.999 for each in axes)
        inside = [
            key
            for key, (turn, low, high) in boxes.items()
            if ((low < turn @ spot) & (turn @ spot < high)).all() and key not in hidden
        ]
        assert not inside
        seen += 1
    assert seen > 200


def test_the_whole_wall_lies_in_the_view_where_there_is_room(house, tmp_path):
    takeoff = house[1]
    layers = {row.wall.wall_id: row.layers for row in takeoff.results}
    free = 0
    for ids, spot, way, _ in cameras(takeoff, None, one_per_wall(takeoff), tmp_path / "f.bcf"):
        if not layers[ids[0]]:
            continue
        stud = layers[ids[0]][0].frame.layer
        offsets = stud.axes.to_world(as_mesh(stud.outline).vertices) - spot
        ahead = offsets @ way
        up = np.abs(offsets[:, 2]) / ahead
        free += bool((ahead > 0.0).all() and up.max() < np.tan(np.radians(30.0)))
    assert free > 0.5 * len([row for row in takeoff.results if row.layers])


def test_a_finding_on_the_whole_model_is_a_topic_without_a_viewpoint(house, tmp_path):
    finding = Finding("file-has-faults", Severity.WARNING, "A < fault & \x01 more.")
    write_bcf(house[1], [finding], tmp_path / "f.bcf")
    with BcfXml.load(tmp_path / "f.bcf") as read:
        (topic,) = read.topics.values()
        assert not topic.viewpoints
        assert topic.topic.description.startswith("A < fault &")


def test_a_place_in_a_wall_is_seen_from_its_fill_side_and_one_in_a_room_from_its_middle(house, tmp_path):
    model, takeoff = house
    row = next(row for row in takeoff.results if row.layers)
    axes = row.layers[0].frame.layer.axes
    there = axes.to_world([[1.0, 0.07, 1.2]])[0]
    room = model.spaces[0]
    corners = np.concatenate([mesh.vertices for mesh in room.solids])
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2.0
    edge = middle + np.array([np.ptp(corners[:, 0]) / 2.0, 0.0, 0.0])
    findings = [
        Finding("opening-clipped", Severity.WARNING, "A.", row.wall.wall_id, place=tuple(there.tolist())),
        Finding("opening-clipped", Severity.WARNING, "B.", "", room.global_id, "IfcSpace", place=tuple(edge.tolist())),
    ]
    seen = {ids: (spot, way) for ids, spot, way, _ in cameras(takeoff, model, findings, tmp_path / "f.bcf")}
    spot, way = seen[(row.wall.wall_id,)]
    x, y, z = axes.to_local(spot.reshape(1, 3))[0]
    assert (x, z) == pytest.approx((1.0, 1.2), abs=1e-6)
    # A metre to each side lies in a view of 60 degrees from 1.73 m on.
    assert -3.0 < y < -1.73
    assert way == pytest.approx(axes.directions[1], abs=1e-6)
    spot, way = seen[(room.global_id,)]
    assert ((corners.min(axis=0) < spot) & (spot < corners.max(axis=0))).all()
    assert way == pytest.approx([1.0, 0.0, 0.0], abs=1e-6)


def test_a_sentence_that_many_share_is_said_once_above_their_places(house):
    takeoff = house[1]
    walls = {row.wall.wall_id: row.wall for row in takeoff.results}
    few = one_per_wall(takeoff, Severity.INFO)[:3]
    (topic,) = topics_of(few, walls)
    assert topic.description.splitlines()[0] == "Made up."
    assert topic.description.count("Made up.") == 1
    assert all(walls[each.wall_id].name in topic.description for each in few)
    other = Finding("wall-failed", Severity.INFO, "Another.", few[0].wall_id)
    (topic,) = topics_of([*few, other], walls)
    assert topic.description.count("Made up.") == 3
    assert topic.description.count("Another.") == 1
