"""Read a model file, and those of other disciplines beside it, into records."""

from __future__ import annotations

import os
from collections.abc import Sequence

import numpy as np

from takeoff.building import Model, ModelPart, ModelWall
from takeoff.errors import ReadingError
from takeoff.plurals import plural
from takeoff.reading.attributes import word
from takeoff.reading.connections import read_connections
from takeoff.reading.curtain_walls import read_curtain_walls
from takeoff.reading.discovery import Group, find_walls
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.georeference import MapPlace, between, map_place, true_north
from takeoff.reading.model_file import Findings, ModelFile, Progress, load, moved
from takeoff.reading.openings import read_loose_openings
from takeoff.reading.parts import WallBoxes, boxes_of, read_loose_parts
from takeoff.reading.roofs import read_roofs
from takeoff.reading.sharing import read_each
from takeoff.reading.spaces import read_spaces, rooms_by_element
from takeoff.reading.walls import read_wall

MAX_WALL_HEIGHT = 100.0
MIN_WALL_HEIGHT = 0.02
"""m; where most walls are higher or lower than this, the file's length unit is not the one it was drawn in."""


def read_model(
    path: str | os.PathLike[str],
    *,
    with_paths: Sequence[str | os.PathLike[str]] = (),
    progress: Progress | None = None,
    processes: int = 1,
) -> Model:
    """Read a building model (IFC2X3, IFC4, IFC4X3; .ifc or .ifczip) into records in world metres.

    with_paths: model files of other disciplines; those of their elements that touch a wall become loose parts with
    `source` set. They are brought to the first model's origin where both state a map conversion on the same map; else
    a shared origin is assumed, with a finding. progress: called with (stage, done, total) as elements are read.
    processes: among how many the reading is shared out (see `takeoff.shares`); it changes no record.

    World coordinates are the model's own, float64, however far from zero. Bodies come as modelled: openings are not
    subtracted. Everything is in file order. Flaws are in `findings`, and in `problem` of the wall or opening.

    Raises ReadingError where nothing can be read: no such file, not IFC, cut short, no length unit, no walls, ...
    """
    findings = Findings(str(path))
    model = load(path, findings, progress, processes)
    _note_parser_faults(model)
    groups = find_walls(model)
    if not groups:
        raise ReadingError(str(path), "the model has no walls", "export the walls, or name the file that has them")
    walls = _read_walls(model, groups)
    _check_size(model, walls)
    wall_of = {element.id(): model.identities.of(group.wall) for group in groups for element in group.elements}
    boxes = boxes_of(walls)
    loose = read_loose_parts(model, set(wall_of), boxes)
    known = {part.global_id for wall in walls for part in wall.parts} | {part.global_id for part in loose}
    for other in with_paths:
        loose = (*loose, *_read_other(other, model, boxes, known))
    spaces = read_spaces(model)
    loose_openings = read_loose_openings(model, boxes)
    connections = read_connections(model, wall_of)
    north = true_north(model)
    _note_repeated_ids(model)
    return Model(
        path=str(path),
        schema=model.entities.schema,
        length_unit=model.units.length_name,
        length_unit_m=model.units.length,
        true_north=north or (0.0, 1.0),
        project_name=_project_name(model),
        walls=walls,
        spaces=spaces,
        loose_parts=loose,
        loose_openings=loose_openings,
        connections=connections,
        findings=tuple(findings.found),
        roofs=read_roofs(model),
        true_north_stated=north is not None,
        curtain_walls=read_curtain_walls(model) if spaces else (),
    )


def _read_walls(model: ModelFile, groups: tuple[Group, ...]) -> tuple[ModelWall, ...]:
    rooms = rooms_by_element(model)
    # Walls have the first claim on a GlobalId that the file gives twice.
    for group in groups:
        model.identities.of(group.wall)
    return read_each(model, "walls", groups, lambda group: read_wall(model, group, rooms))


def _read_other(
    path: str | os.PathLike[str], main: ModelFile, boxes: WallBoxes | None, known: set[str]
) -> tuple[ModelPart, ...]:
    """Elements of another discipline's model that touch a wall of the main model."""
    other = load(path, main.findings, main.progress, main.processes)
    _note_parser_faults(other)
    places = map_place(main), map_place(other)
    if _on_one_map(places):
        main_place, other_place = places
        assert main_place is not None
        assert other_place is not None
        other = moved(other, between(main_place, other_place))
    else:
        main.findings.add(
            "shared-origin-assumed",
            f"{other.name} and {main.name} do not both state a map conversion on one map, so they were taken to "
            "share their origin; check that they fit.",
        )
    parts = read_loose_parts(other, set(), boxes, source=other.name)
    fresh = tuple(part for part in parts if part.global_id not in known)
    if len(fresh) < len(parts):
        main.findings.add(
            "part-in-both-models",
            f"{len(parts) - len(fresh)} elements of {other.name} are in {main.name} too and were taken once.",
            warning=False,
        )
    known.update(part.global_id for part in fresh)
    return fresh


def _on_one_map(places: tuple[MapPlace | None, MapPlace | None]) -> bool:
    first, second = places
    if first is None or second is None:
        return False
    return not first.system or not second.system or first.system.strip().lower() == second.system.strip().lower()


def _check_size(model: ModelFile, walls: tuple[ModelWall, ...]) -> None:
    heights = [
        float(np.ptp(np.concatenate([solid.vertices[:, 2] for solid in wall.body]))) for wall in walls if wall.body
    ]
    if not heights:
        return
    middle = float(np.median(heights))
    odd = sum(not MIN_WALL_HEIGHT <= height <= MAX_WALL_HEIGHT for height in heights)
    if 2 * odd > len(heights):
        raise ReadingError(
            model.path,
            f"its walls come out {middle:.3g} m high: the length unit {model.units.length_name!r} is not the one it "
            "was drawn in",
            "set the right unit in the program that exported it",
        )


def _note_parser_faults(model: ModelFile) -> None:
    if model.parser_faults:
        model.findings.add(
            "file-has-faults",
            f"{model.name}: the parser passed over {plural(len(model.parser_faults), 'fault')}, the first one: "
            f"{model.parser_faults[0]}; export the model again.",
        )


def _note_repeated_ids(model: ModelFile) -> None:
    for entity in model.identities.repeated:
        model.findings.add(
            "global-id-repeated",
            f"its GlobalId is missing or given twice; it is called {model.identities.of(entity)} in the results.",
            entity,
        )


def _project_name(model: ModelFile) -> str:
    try:
        return next((word(project, "Name") for project in model.of_class("IfcProject")), "")
    except BROKEN_ENTITY:
        return ""
