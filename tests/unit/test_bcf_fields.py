"""BCF files read back: each field that is written, and the schemas of the standard.

Read with the general-purpose library bcf-client, whose records were generated from the schemas of BCF 2.1, so that a
strict reading holds a file against names, order of nesting, needed fields and patterns. Where the schema files
themselves are at hand they are used too: `BAYFILL_BCF_SCHEMAS` names a folder with `markup.xsd`, `visinfo.xsd` and
`version.xsd` of BCF 2.1 (buildingSMART's public repository BCF-XML). They are not ours to pass on.
"""

from __future__ import annotations

import dataclasses
import os
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from bcf.v2.bcfxml import BcfXml
from bcf.v2.model import Markup, ProjectExtension, Version, VisualizationInfo
from xsdata.formats.dataclass.parsers import XmlParser
from xsdata.formats.dataclass.parsers.config import ParserConfig

from reports.bcf_out import AUTHOR, write_bcf
from reports.bcf_topics import Topic, facts, topics_of
from reports.bcf_views import FIELD_OF_VIEW, Scene
from takeoff.building import Model
from takeoff.finding import Finding, Severity
from takeoff.job import default_job
from takeoff.pipeline import take_off_model
from takeoff.reading import read_model
from takeoff.result import Takeoff
from tests.ifc_builder import Builder

SAMPLES = Path(__file__).resolve().parents[2] / "sample_models"
MOMENT = datetime(2026, 5, 4, 3, 2, 1, tzinfo=UTC)
SCHEMAS = os.environ.get("BAYFILL_BCF_SCHEMAS", "")

READ_BACK = {
    "Version": {"@VersionId", "DetailedVersion"},
    "ProjectExtension": {"Project", "ExtensionSchema"},
    "Project": {"@ProjectId", "Name"},
    "Markup": {"Header", "Topic", "Comment", "Viewpoints"},
    "Header": {"File"},
    "File": {"@isExternal", "Filename", "Date"},
    "Topic": {"@Guid", "@TopicType", "@TopicStatus", "Title", "Priority", "Index", "Labels", "CreationDate",
              "CreationAuthor", "Description"},
    "Comment": {"@Guid", "Date", "Author", "Comment", "Viewpoint"},
    "Viewpoints": {"@Guid", "Viewpoint", "Index"},
    "Viewpoint": {"@Guid"},
    "VisualizationInfo": {"@Guid", "Components", "PerspectiveCamera"},
    "Components": {"Selection", "Visibility"},
    "Selection": {"Component"},
    "Visibility": {"@DefaultVisibility", "Exceptions"},
    "Exceptions": {"Component"},
    "Component": {"@IfcGuid"},
    "PerspectiveCamera": {"CameraViewPoint", "CameraDirection", "CameraUpVector", "FieldOfView"},
    "CameraViewPoint": {"X", "Y", "Z"},
    "CameraDirection": {"X", "Y", "Z"},
    "CameraUpVector": {"X", "Y", "Z"},
}  # fmt: skip
"""Fields by element, attributes with '@', that the tests below compare; the words of extensions.xsd are compared in
test_bcf_out."""


@dataclass(frozen=True, slots=True, eq=False)
class Written:
    """A file with what it was made from."""

    file: Path
    takeoff: Takeoff
    model: Model
    topics: tuple[Topic, ...]


def of_each_kind(takeoff: Takeoff, model: Model) -> list[Finding]:
    """Findings on walls, cavities, openings, a room, a place, the whole model and ids that are no GlobalIds."""
    made: list[Finding] = [*takeoff.findings, Finding("file-has-faults", Severity.ERROR, "A < b & \x01 c.")]
    for row in takeoff.results:
        made.append(Finding("wall-failed", Severity.WARNING, "Made up.", row.wall.wall_id, measured=1.5, unit="m"))
        for layer in row.layers[:1]:
            ids = [cavity.cavity_id for cavity in layer.cavities[:2]]
            ids += [opening.opening_id for opening in layer.frame.openings]
            made += [Finding("opening-clipped", Severity.ERROR, "Cut.", row.wall.wall_id, each) for each in ids]
            spot = layer.frame.layer.axes.to_world([[0.5, 0.05, 1.0]])[0].tolist()
            made.append(Finding("walls-overlap", Severity.INFO, "There.", row.wall.wall_id, place=tuple(spot)))
    made += [Finding("room-without-wall", Severity.WARNING, "Bare.", "", room.global_id) for room in model.spaces[:2]]
    made.append(Finding("part-shape-unreadable", Severity.WARNING, "No id.", "", "element 17"))
    return made


def written(path: Path, file: Path) -> Written:
    model = read_model(path)
    takeoff = take_off_model(model, default_job())
    findings = of_each_kind(takeoff, model)
    write_bcf(takeoff, findings, file, model, MOMENT)
    walls = {row.wall.wall_id: row.wall for row in takeoff.results}
    return Written(file, takeoff, model, topics_of(findings, walls))


@pytest.fixture(scope="module", params=["two_storey_house", "garden_studio", "crowded"])
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Written:
    folder = tmp_path_factory.mktemp("bcf")
    path = SAMPLES / f"{request.param}.ifc"
    if request.param == "crowded":
        path = crowded_model(folder / "crowded.ifc")
    return written(path, folder / "findings.bcf")


def crowded_model(path: Path) -> Path:
    """Walls so near to each other that some have to be hidden, and two that bear one GlobalId."""
    model = Builder()
    layers = (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012))
    for number in range(4):
        model.wall(f"Wall {number} <&>", layers=layers, thickness=0.1645, at=(0.0, 0.2 * number, 0.0))
    second, last = model.file.by_type("IfcWall")[1::2]
    last.GlobalId = second.GlobalId
    return model.save(path)


def parts(file: Path) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(file) as archive:
        for name in archive.namelist():
            yield name, archive.read(name)


def plain(text: str) -> str:
    """A text as XML can hold it."""
    return re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", " ", text)


def moment(value: Any) -> datetime:
    return value.to_datetime()


def test_every_field_that_is_written_is_read_back_below(case: Written) -> None:
    found: dict[str, set[str]] = {}
    for name, content in parts(case.file):
        if name.endswith(".xsd"):
            continue
        for node in ElementTree.fromstring(content).iter():
            if len(node) or node.attrib:
                fields = {child.tag for child in node} | {f"@{attribute}" for attribute in node.attrib}
                found.setdefault(node.tag, set()).update(fields)
    assert found.keys() <= READ_BACK.keys()
    assert all(fields <= READ_BACK[tag] for tag, fields in found.items())


def test_version_project_and_header_are_read_back(case: Written) -> None:
    with BcfXml.load(case.file) as read:
        assert (read.version.version_id, read.version.detailed_version) == ("2.1", "2.1")
        extension = read.project_info
        assert extension is not None
        assert extension.extension_schema == "extensions.xsd"
        assert extension.project is not None
        assert extension.project.name == plain(case.takeoff.project_name or case.takeoff.model_name)
        assert re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", extension.project.project_id)
        for handler in read.topics.values():
            (header,) = handler.markup.header.file
            assert header.filename == case.takeoff.model_name
            assert moment(header.date) == MOMENT
            assert header.is_external is True


def test_topics_are_read_back_field_by_field(case: Written) -> None:
    with BcfXml.load(case.file) as read:
        assert set(read.topics) == {topic.guid for topic in case.topics}
        for number, topic in enumerate(case.topics):
            got = read.topics[topic.guid].topic
            assert got.guid == topic.guid
            assert got.topic_type == {"error": "Error", "warning": "Warning", "info": "Information"}[topic.severity]
            assert got.topic_status == "Open"
            assert got.priority == {"error": "High", "warning": "Normal", "info": "Low"}[topic.severity]
            assert (got.title, got.description) == (plain(topic.title), plain(topic.description))
            assert got.index == number
            assert got.labels == [topic.code]
            assert moment(got.creation_date) == MOMENT
            assert got.creation_author == AUTHOR
            assert (got.modified_date, got.due_date, got.assigned_to, got.stage) == (None, None, None, None)


def test_comments_are_read_back_with_the_viewpoint_of_their_finding(case: Written) -> None:
    walls = {row.wall.wall_id: row.wall for row in case.takeoff.results}
    scene = Scene(case.takeoff, case.model)
    with BcfXml.load(case.file) as read:
        for topic in case.topics:
            handler = read.topics[topic.guid]
            told = topic.findings if len(topic.findings) > 1 else ()
            assert len(handler.comments) == len(told)
            infos = {info.guid: info for info in map(visualization, handler.viewpoints.values())}
            for finding, comment in zip(told, handler.comments, strict=True):
                assert comment.comment == plain("\n".join([finding.message, *facts(finding, walls)]))
                assert moment(comment.date) == MOMENT
                assert comment.author == AUTHOR
                expected = scene.viewpoint(finding)
                if comment.viewpoint is None:
                    assert expected.view is None
                    assert not expected.selected
                else:
                    assert selected(infos[comment.viewpoint.guid]) == list(expected.selected)
            assert len({comment.guid for comment in handler.comments}) == len(told)


def visualization(handler: Any) -> VisualizationInfo:
    return handler.visualization_info


def selected(info: VisualizationInfo) -> list[str]:
    components = info.components
    assert components is not None
    return [each.ifc_guid for each in components.selection.component] if components.selection else []


def test_viewpoints_are_read_back_field_by_field(case: Written) -> None:
    scene = Scene(case.takeoff, case.model)
    hidden_walls = seen = 0
    with BcfXml.load(case.file) as read:
        for topic in case.topics:
            handler = read.topics[topic.guid]
            views = [scene.viewpoint(finding) for finding in topic.findings]
            expected = [view for view in views if view.view is not None or view.selected]
            assert len(handler.markup.viewpoints) == len(expected)
            for place, (listed, view) in enumerate(zip(handler.markup.viewpoints, expected, strict=True)):
                assert listed.index == place
                assert listed.snapshot is None
                info = handler.viewpoints[listed.viewpoint].visualization_info
                assert info.guid == listed.guid
                assert selected(info) == list(view.selected)
                assert info.components is not None
                visibility = info.components.visibility
                assert visibility.default_visibility is True
                hidden = [each.ifc_guid for each in visibility.exceptions.component] if visibility.exceptions else []
                assert hidden == list(view.hidden)
                hidden_walls += len(hidden)
                assert info.orthogonal_camera is None
                assert (info.perspective_camera is None) is (view.view is None)
                if view.view is not None:
                    assert_camera(info.perspective_camera, view.view)
                    seen += 1
    assert seen > 3
    if case.file.parent.joinpath("crowded.ifc").exists():
        assert hidden_walls


def assert_camera(camera: Any, view: Any) -> None:
    for got, expected in (
        (camera.camera_view_point, view.position),
        (camera.camera_direction, view.direction),
        (camera.camera_up_vector, view.up),
    ):
        assert [got.x, got.y, got.z] == pytest.approx(np.asarray(expected).tolist(), abs=5.1e-7)
    assert camera.field_of_view == FIELD_OF_VIEW
    away = np.array([camera.camera_direction.x, camera.camera_direction.y, camera.camera_direction.z])
    up = np.array([camera.camera_up_vector.x, camera.camera_up_vector.y, camera.camera_up_vector.z])
    assert np.linalg.norm(away) == pytest.approx(1.0, abs=1e-5)
    assert float(away @ up) == pytest.approx(0.0, abs=1e-5)


RECORDS = {"bcf.version": Version, "project.bcfp": ProjectExtension, ".bcf": Markup, ".bcfv": VisualizationInfo}


def record_of(name: str) -> type:
    return next(record for ending, record in RECORDS.items() if name.endswith(ending))


def test_a_strict_reading_finds_nothing_that_the_standard_does_not_know_or_misses(case: Written) -> None:
    parser = XmlParser(
        config=ParserConfig(
            fail_on_unknown_properties=True, fail_on_unknown_attributes=True, fail_on_converter_warnings=True
        )
    )
    checked = 0
    for name, content in parts(case.file):
        if not name.endswith(".xsd"):
            checked += facets_hold(parser.from_bytes(content, record_of(name)))
    assert checked > 100


def facets_hold(record: Any) -> int:
    """Asserts patterns, lengths, limits and needed fields that the generated records carry; returns how many."""
    checked = 0
    for field in dataclasses.fields(record):
        value, rules = getattr(record, field.name), field.metadata
        for each in value if isinstance(value, list) else [value]:
            if dataclasses.is_dataclass(each) and not isinstance(each, type):
                checked += facets_hold(each)
            elif each is None:
                assert not rules.get("required"), field.name
            else:
                checked += 1
                assert not rules.get("pattern") or re.fullmatch(rules["pattern"], str(each)), (field.name, each)
                assert not rules.get("length") or len(str(each)) == rules["length"], (field.name, each)
                assert rules.get("min_inclusive", each) <= each <= rules.get("max_inclusive", each)
        assert not isinstance(value, list) or len(value) >= rules.get("min_occurs", 0), field.name
    return checked


def test_a_strict_reading_is_strict() -> None:
    """The check above can fail: a field out of the standard, a bad id, a missing title."""
    config = ParserConfig(fail_on_unknown_properties=True, fail_on_unknown_attributes=True)
    good = b'<VisualizationInfo Guid="00000000-0000-0000-0000-000000000000"/>'
    assert facets_hold(XmlParser(config=config).from_bytes(good, VisualizationInfo)) == 1
    with pytest.raises(AssertionError):
        facets_hold(XmlParser(config=config).from_bytes(b'<VisualizationInfo Guid="x"/>', VisualizationInfo))
    with pytest.raises(Exception, match="Unknown property"):
        XmlParser(config=config).from_bytes(good.replace(b"/>", b"><Extra/></VisualizationInfo>"), VisualizationInfo)


@pytest.mark.skipif(not SCHEMAS, reason="BAYFILL_BCF_SCHEMAS names no folder with the schemas of BCF 2.1")
def test_the_schemas_of_the_standard_hold(case: Written) -> None:
    import xmlschema

    schemas = {
        ending: xmlschema.XMLSchema(str(Path(SCHEMAS) / f"{schema}.xsd"))
        for ending, schema in (("bcf.version", "version"), (".bcf", "markup"), (".bcfv", "visinfo"))
    }
    checked: Sequence[str] = []
    for name, content in parts(case.file):
        schema = next((schema for ending, schema in schemas.items() if name.endswith(ending)), None)
        if schema is not None:
            assert [error.reason for error in schema.iter_errors(content)] == [], name
            checked = [*checked, name]
    assert len(checked) > 2
