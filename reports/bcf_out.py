"""Findings as a BCF 2.1 file (open standard of buildingSMART for notes on a model), same input, same bytes.

Version 2.1, not 3.0, since viewers of 3.0 read 2.1 too, but not the other way round (common practice, no published
source). A topic is a folder with `markup.bcf` and a file for each viewpoint; types, statuses, priorities, labels and
the author are declared in `extensions.xsd`, as 2.1 asks. Lengths are metres in the model's own world axes.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
from numpy.typing import ArrayLike

from reports.bcf_topics import PRIORITIES, STATUSES, TOPIC_TYPES, Topic, facts, guid_of, topics_of
from reports.bcf_views import FIELD_OF_VIEW, Scene, View, Viewpoint
from reports.files import write_bytes
from reports.moments import NO_MOMENT, moment_in
from takeoff.building import Model
from takeoff.finding import Finding
from takeoff.model import Wall
from takeoff.result import Takeoff

AUTHOR = "bayfill"
_XSD = "http://www.w3.org/2001/XMLSchema"
_DECIMALS = 6
"""Of a metre, for cameras."""


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """A finding with its viewpoint. guid: of the viewpoint; file: its name in the topic's folder."""

    finding: Finding
    viewpoint: Viewpoint
    guid: str
    file: str


def write_bcf(
    takeoff: Takeoff,
    findings: Iterable[Finding],
    file: Path,
    model: Model | None = None,
    moment: datetime | None = None,
) -> int:
    """Writes findings as BCF topics and returns how many topics there are.

    findings: those of the takeoff or of any check of it; each stands in exactly one topic. model: as read, so that
    walls that were left out can be looked at and walls that stand in the way are seen. moment: time that the file
    bears, else that of the model file's own header: never the clock's. Raises OutputError where the file cannot be
    written.
    """
    content, count = bcf_bytes(takeoff, findings, model, moment)
    write_bytes(file, content)
    return count


def bcf_bytes(
    takeoff: Takeoff, findings: Iterable[Finding], model: Model | None = None, moment: datetime | None = None
) -> tuple[bytes, int]:
    """The file that `write_bcf` writes, and its number of topics."""
    if moment is None:
        moment = NO_MOMENT if model is None else moment_in(Path(model.path))
    walls = {row.wall.wall_id: row.wall for row in takeoff.results}
    topics = topics_of(findings, walls)
    scene = Scene(takeoff, model)
    texts: dict[str, bytes] = {
        "bcf.version": _version(),
        "project.bcfp": _project(takeoff),
        "extensions.xsd": _extensions(topics),
    }
    for number, topic in enumerate(topics):
        seen = _seen(topic, scene)
        texts[f"{topic.guid}/markup.bcf"] = _markup(topic, number, seen, _Context(takeoff.model_name, walls, moment))
        for each in seen:
            texts[f"{topic.guid}/{each.file}"] = _visualization(each)
    return _zipped(texts, moment), len(topics)


@dataclass(frozen=True, slots=True, eq=False)
class _Context:
    """What all topics share."""

    model_name: str
    walls: dict[str, Wall]
    moment: datetime


def _seen(topic: Topic, scene: Scene) -> tuple[_Seen, ...]:
    """The findings of a topic that a viewpoint can be made for; a finding on the whole model has none."""
    found = []
    for number, finding in enumerate(topic.findings):
        viewpoint = scene.viewpoint(finding)
        if viewpoint.view is None and not viewpoint.selected:
            continue
        guid = guid_of(topic.guid, "viewpoint", finding.wall_id, finding.element_id, finding.message)
        # The first has the name that older readers look for.
        found.append(_Seen(finding, viewpoint, guid, "viewpoint.bcfv" if not found else f"viewpoint-{number + 1}.bcfv"))
    return tuple(found)


# ---------------------------------------------------------------- the files


def _version() -> bytes:
    root = ElementTree.Element("Version", VersionId="2.1")
    _text(root, "DetailedVersion", "2.1")
    return _xml(root)


def _project(takeoff: Takeoff) -> bytes:
    root = ElementTree.Element("ProjectExtension")
    name = takeoff.project_name or takeoff.model_name
    project = ElementTree.SubElement(root, "Project", ProjectId=guid_of("project", name))
    _text(project, "Name", name)
    _text(root, "ExtensionSchema", "extensions.xsd")
    return _xml(root)


def _extensions(topics: Sequence[Topic]) -> bytes:
    """The words that topics use, declared as restrictions of the standard's own simple types."""
    declared = {
        "TopicType": list(TOPIC_TYPES.values()),
        "TopicStatus": list(STATUSES),
        "TopicLabel": sorted({topic.code for topic in topics}),
        "Priority": list(PRIORITIES.values()),
        "UserIdType": [AUTHOR],
    }
    root = ElementTree.Element(f"{{{_XSD}}}schema")
    redefined = ElementTree.SubElement(root, f"{{{_XSD}}}redefine", schemaLocation="markup.xsd")
    for name, values in declared.items():
        kind = ElementTree.SubElement(redefined, f"{{{_XSD}}}simpleType", name=name)
        restriction = ElementTree.SubElement(kind, f"{{{_XSD}}}restriction", base=name)
        for value in values:
            ElementTree.SubElement(restriction, f"{{{_XSD}}}enumeration", value=value)
    ElementTree.register_namespace("xs", _XSD)
    return _xml(root)


def _markup(topic: Topic, number: int, seen: Sequence[_Seen], context: _Context) -> bytes:
    """Topic, then a comment for each of several findings, then the viewpoints, in the order that the standard asks."""
    root = ElementTree.Element("Markup")
    header = ElementTree.SubElement(ElementTree.SubElement(root, "Header"), "File", isExternal="true")
    _text(header, "Filename", context.model_name)
    _text(header, "Date", _stamp(context.moment))
    node = ElementTree.SubElement(
        root, "Topic", Guid=topic.guid, TopicType=TOPIC_TYPES[topic.severity], TopicStatus=STATUSES[0]
    )
    _text(node, "Title", topic.title)
    _text(node, "Priority", PRIORITIES[topic.severity])
    _text(node, "Index", str(number))
    _text(node, "Labels", topic.code)
    _text(node, "CreationDate", _stamp(context.moment))
    _text(node, "CreationAuthor", AUTHOR)
    _text(node, "Description", topic.description)
    if len(topic.findings) > 1:
        by_finding = {each.finding: each for each in seen}
        for finding in topic.findings:
            _comment(root, topic, finding, by_finding.get(finding), context)
    for place, each in enumerate(seen):
        view = ElementTree.SubElement(root, "Viewpoints", Guid=each.guid)
        _text(view, "Viewpoint", each.file)
        _text(view, "Index", str(place))
    return _xml(root)


def _comment(root: ElementTree.Element, topic: Topic, finding: Finding, seen: _Seen | None, context: _Context) -> None:
    guid = guid_of(topic.guid, "comment", finding.wall_id, finding.element_id, finding.message)
    node = ElementTree.SubElement(root, "Comment", Guid=guid)
    _text(node, "Date", _stamp(context.moment))
    _text(node, "Author", AUTHOR)
    _text(node, "Comment", "\n".join([finding.message, *facts(finding, context.walls)]))
    if seen is not None:
        ElementTree.SubElement(node, "Viewpoint", Guid=seen.guid)


def _visualization(seen: _Seen) -> bytes:
    root = ElementTree.Element("VisualizationInfo", Guid=seen.guid)
    components = ElementTree.SubElement(root, "Components")
    if seen.viewpoint.selected:
        _components(ElementTree.SubElement(components, "Selection"), seen.viewpoint.selected)
    visibility = ElementTree.SubElement(components, "Visibility", DefaultVisibility="true")
    if seen.viewpoint.hidden:
        _components(ElementTree.SubElement(visibility, "Exceptions"), seen.viewpoint.hidden)
    if seen.viewpoint.view is not None:
        _camera(root, seen.viewpoint.view)
    return _xml(root)


def _components(parent: ElementTree.Element, ids: Sequence[str]) -> None:
    for guid in ids:
        ElementTree.SubElement(parent, "Component", IfcGuid=guid)


def _camera(root: ElementTree.Element, view: View) -> None:
    camera = ElementTree.SubElement(root, "PerspectiveCamera")
    for name, values in (
        ("CameraViewPoint", view.position),
        ("CameraDirection", view.direction),
        ("CameraUpVector", view.up),
    ):
        _vector(ElementTree.SubElement(camera, name), values)
    _text(camera, "FieldOfView", f"{FIELD_OF_VIEW:g}")


def _vector(parent: ElementTree.Element, values: ArrayLike) -> None:
    for name, value in zip("XYZ", np.asarray(values, dtype=np.float64).tolist(), strict=True):
        _text(parent, name, repr(round(float(value), _DECIMALS) + 0.0))


def _text(parent: ElementTree.Element, name: str, text: str) -> None:
    # XML 1.0 has no sign for most control characters, which broken names of a model may hold.
    clean = "".join(sign if sign in "\t\n" or sign >= " " else " " for sign in text)
    ElementTree.SubElement(parent, name).text = clean


def _stamp(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _xml(root: ElementTree.Element) -> bytes:
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def _zipped(texts: dict[str, bytes], moment: datetime) -> bytes:
    """A zip archive with the same bytes for the same texts: order, times and rights are fixed."""
    target = io.BytesIO()
    stamp = moment.astimezone(UTC).timetuple()[:6]
    with zipfile.ZipFile(target, "w") as archive:
        for name, text in texts.items():
            entry = zipfile.ZipInfo(name, stamp)
            entry.create_system = 0
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, text)
    return target.getvalue()
