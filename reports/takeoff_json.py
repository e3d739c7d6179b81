"""takeoff.json: all of a takeoff in one file, the same bytes for the same takeoff.

One line for each wall, finding and assumption, so that two runs can be compared line by line. No clock, no paths.
Cells are those of the tables, so the file agrees with the CSV files digit for digit.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import Mesh, Prism, Solid
from takeoff.columns import column_texts, json_rows, tidy_number
from takeoff.hole_tables import HAND_FILLS, HOLES
from takeoff.job_writer import stated_job
from takeoff.model import WallTakeoff
from takeoff.piece_tables import CAVITIES, MEMBERS, OPENINGS, OUTLINE_DECIMALS, outline_texts
from takeoff.preparation_tables import PREPARATIONS
from takeoff.result import Takeoff
from takeoff.schedule_basis import Basis
from takeoff.schedule_stored import basis_data
from takeoff.tables import FINDINGS, FilledTable
from takeoff.totals import cavity_groups, totals
from takeoff.wall_tables import BUILD_UP, STUD_LAYERS, WALLS, stud_layers_of

SCHEMA_VERSION = "1.5"
"""Grows in the first number when a reader of the old form would misread the new one, else in the second."""

OPENING_LINES = '{\n"program": "bayfill",\n'
"""How every takeoff.json begins: a folder of ours is known by it."""

SAID_BY_NESTING = frozenset({"wall_id", "layer_key"})
"""Columns that the place of a row in the file already says."""

SAID_BY_SOLID = frozenset({"x_min_m", "x_max_m", "y_min_m", "y_max_m", "z_min_m", "z_max_m"})
"""Columns of members.csv that the solid beside them says exactly."""


_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)


def takeoff_json(takeoff: Takeoff) -> str:
    """The whole takeoff as JSON text; lengths m, areas m2, volumes m3."""
    return json_head(takeoff) + ",\n".join(json_walls(takeoff, takeoff.tables())) + json_tail(takeoff)


def json_head(takeoff: Takeoff) -> str:
    """The file up to its first wall."""
    parts = [
        f'"schema_version": {_text(SCHEMA_VERSION)}',
        f'"model": {_text(_model(takeoff))}',
        '"units": {"length": "m", "area": "m2", "volume": "m3"}',
        f'"totals": {_text(_totals(takeoff))}',
        _lines("assumptions", [_text(plain(row)) for row in takeoff.assumptions]),
        '"walls": [',
    ]
    return OPENING_LINES + ",\n".join(parts) + ("\n" if takeoff.results else "")


def json_tail(takeoff: Takeoff) -> str:
    """The file after its last wall."""
    rows = json_rows(FINDINGS, column_texts(FINDINGS, takeoff.findings))
    parts = [
        ("\n" if takeoff.results else "") + "]",
        _lines("findings", [f"{{{row}}}" for row in rows]),
        f'"job": {_text(stated_job(takeoff.job))}',
        f'"basis": {_basis_text(takeoff.schedule_basis())}',
    ]
    return ",\n".join(parts) + "\n}\n"


def plain(value: Any) -> Any:
    """Records, sequences and numbers as JSON can hold them, numbers tidied to 12 significant digits."""
    if isinstance(value, float):
        return tidy_number(value)
    if value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, tuple | list):
        return [plain(row) for row in value]
    if isinstance(value, dict):
        return {str(name): plain(row) for name, row in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    return str(value)


def _basis_text(basis: Basis) -> str:
    """The basis of schedule and quote, each kind of rows on a line of its own."""
    tables = [f"{_text(name)}: {_text(value)}" for name, value in basis_data(basis).items()]
    return "{\n" + ",\n".join(tables) + "\n}"


def _text(value: Any) -> str:
    return _ENCODER.encode(value)


def _lines(name: str, rows: Sequence[str]) -> str:
    return f'"{name}": [' + (("\n" + ",\n".join(rows) + "\n") if rows else "") + "]"


def _model(takeoff: Takeoff) -> dict[str, Any]:
    return {
        "file": takeoff.model_name,
        "project": takeoff.project_name,
        "schema": takeoff.schema,
        "length_unit": takeoff.length_unit,
        "length_unit_m": takeoff.length_unit_m,
    }


def _totals(takeoff: Takeoff) -> dict[str, Any]:
    groups = [plain(group) for group in cavity_groups(takeoff.results)]
    return {**plain(totals(takeoff.results)), "cavity_groups": groups}


def json_walls(takeoff: Takeoff, tables: Mapping[str, FilledTable]) -> list[str]:
    """Each wall as one JSON object on one line. `tables` are `takeoff.tables()`."""
    results = takeoff.results
    layers = _layers(tables)
    rows = json_rows(WALLS, tables[WALLS.name].columns)
    places = _places(results, tables)
    texts: list[str] = []
    for result, row in zip(results, rows, strict=True):
        done = {layer.frame.layer.key for layer in result.layers}
        keys = [layer.key for layer in stud_layers_of(result)]
        inner = ", ".join(f"{{{layers[key]}, {places[key]}}}" for key in keys if key in done)
        rest = ", ".join(f'{{"layer_key": {_text(key)}, {places[key]}}}' for key in keys if key not in done)
        texts.append(
            f"{{{row}, "
            f'"storey_elevation_m": {_text(plain(result.wall.storey_elevation))}, '
            f'"declared_quantities": {_text(plain(result.wall.quantities))}, '
            f'"body_world": [{", ".join(map(_mesh_text, result.wall.body))}], '
            f'"layers": [{inner}], "stud_layers_not_taken_off": [{rest}]}}'
        )
    return texts


def _layers(tables: Mapping[str, FilledTable]) -> dict[str, str]:
    """By stud layer: its own row and the rows of what stands in it, as the inside of a JSON object."""
    solids = solid_texts([record.member.solid for record in tables[MEMBERS.name].records])
    members = _by_layer(tables[MEMBERS.name], solids, SAID_BY_SOLID)
    openings, cavities = _by_layer(tables[OPENINGS.name]), _by_layer(tables[CAVITIES.name])
    holes, hand_fills = _by_layer(tables[HOLES.name]), _by_layer(tables[HAND_FILLS.name])
    preparations = _by_layer(tables[PREPARATIONS.name])
    filled = tables[STUD_LAYERS.name]
    rows = json_rows(STUD_LAYERS, filled.columns, frozenset({"wall_id"}))
    keys = [record.layer.frame.layer.key for record in filled.records]
    return {
        key: f"{row}, "
        f'"members": [{members.get(key, "")}], '
        f'"openings": [{openings.get(key, "")}], '
        f'"cavities": [{cavities.get(key, "")}], '
        f'"holes": [{holes.get(key, "")}], '
        f'"hand_fills": [{hand_fills.get(key, "")}], '
        f'"preparations": [{preparations.get(key, "")}]'
        for key, row in zip(keys, rows, strict=True)
    }


def _by_layer(filled: FilledTable, extra: Sequence[str] = (), without: frozenset[str] = frozenset()) -> dict[str, str]:
    """Rows of a table as JSON objects, those of one stud layer joined; `extra` is added to each row."""
    rows = json_rows(filled.table, filled.columns, SAID_BY_NESTING | without)
    if extra:
        rows = [f"{row}, {more}" for row, more in zip(rows, extra, strict=True)]
    gathered: dict[str, list[str]] = {}
    for key, row in zip(filled.column("layer_key"), rows, strict=True):
        gathered.setdefault(key, []).append(row)
    return {key: "{" + "}, {".join(group) + "}" for key, group in gathered.items()}


def solid_texts(solids: Sequence[Solid]) -> list[str]:
    """Solids in wall axes, m, as `"solid": {...}`: a prism's section and depths, or a mesh's points and triangles."""
    prisms = [solid for solid in solids if isinstance(solid, Prism)]
    outlines = iter(outline_texts([prism.outline for prism in prisms]))
    # Most members are as deep as their stud layer.
    depths = {depth: _depth_text(*depth) for depth in {(prism.y_min, prism.y_max) for prism in prisms}}
    return [
        f'"solid": {_mesh_text(solid)}'
        if isinstance(solid, Mesh)
        else f'"solid": {{"shape": "prism", "outline_wkt": "{next(outlines)}", {depths[solid.y_min, solid.y_max]}}}'
        for solid in solids
    ]


def _depth_text(y_min: float, y_max: float) -> str:
    return f'"y_min_m": {y_min + 0.0:.12g}, "y_max_m": {y_max + 0.0:.12g}'


def _mesh_text(mesh: Mesh) -> str:
    vertices = (np.round(mesh.vertices, OUTLINE_DECIMALS) + 0.0).tolist()
    return _text({"shape": "mesh", "vertices_m": vertices, "faces": mesh.faces.tolist()})


def _places(results: Sequence[WallTakeoff], tables: Mapping[str, FilledTable]) -> dict[str, str]:
    """By stud layer: axes, body and build-up, as the inside of a JSON object."""
    stud_layers = {layer.key: layer for result in results for layer in stud_layers_of(result)}
    bodies = solid_texts([layer.outline for layer in stud_layers.values()])
    build_up = _by_layer(tables[BUILD_UP.name])
    return {
        key: f'"axes": {_axes_text(layer.axes)}, {body.replace("solid", "body", 1)}, '
        f'"build_up": [{build_up.get(key, "")}]'
        for (key, layer), body in zip(stud_layers.items(), bodies, strict=True)
    }


def _axes_text(axes: LocalAxes) -> str:
    """Origin of the wall axes in the world, m, and the world directions of x, y and z there; the arc of a bent wall."""
    x, y, z = (np.round(axes.directions, 12) + 0.0).tolist()
    values: dict[str, Any] = {"origin_m": _point(axes.origin), "x": x, "y": y, "z": z}
    if isinstance(axes, Developed):
        values["arc"] = {
            "centre_m": _point(axes.centre),
            "radius_of_x_m": tidy_number(axes.radius),
            "radius_of_fill_face_m": tidy_number(axes.face),
        }
    return _text(values)


def _point(point: NDArray[np.float64]) -> list[float]:
    return (np.round(point, OUTLINE_DECIMALS) + 0.0).tolist()
