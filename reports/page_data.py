"""What the page shows, taken from a takeoff.json document and packed small: columns instead of rows, words once each.

Cells are those of the document digit for digit; shapes are rounded to a tenth of a millimetre (`reports.page_shapes`).
Nothing is computed here: what the document and its schedule do not hold, the page does not show.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reports.page_shapes import mesh_code, outline_codes, solid_codes, steps
from takeoff.columns import tidy_number
from takeoff.schedule import Schedule
from takeoff.units import prose_in_units

Row = Mapping[str, Any]
FIBRE = "fibre"
"""Code of the line of the schedule that holds the fibre."""
SCHEDULE = ("code", "description", "unit", "net", "gross", "modelled", "laid_out", "basis")
"""What the page shows of a line of the schedule."""
SCHEDULE_PROSE = ("description", "basis")
"""Texts of a line that hold quantities: the page has them in both systems of units."""

WALL_TEXTS = (
    "wall_id", "name", "type", "storey", "ifc_class", "framing_source", "framing_rule", "status", "reason", "rooms",
    "insulated_reason", "external_reason", "job_rules",
)  # fmt: skip
WALL_VALUES = (
    "external", "insulated", "length_m", "height_m", "stud_depth_m", "gross_area_m2", "opening_area_m2",
    "framing_fraction", "cavities", "insulated_area_m2", "cavity_volume_m3", "fill_volume_m3", "balance_residual",
    "storey_elevation_m",
)  # fmt: skip
CAVITY_TEXTS = ("number", "room", "kind", "method", "reason", "obstructions")
CAVITY_VALUES = (
    "x_min_m", "x_max_m", "z_min_m", "z_max_m", "clear_width_m", "depth_m", "area_m2", "volume_m3", "open_area_m2",
)  # fmt: skip
MEMBER_TEXTS = ("role", "section", "source", "element_name")
OPENING_TEXTS = ("filling_class", "filling_name", "evidence")
HOLE_VALUES = ("x_m", "z_m", "height_above_floor_m", "diameter_m")
FINDING_TEXTS = ("code", "severity", "element_id", "element_class", "element_name", "message", "unit")
FINDING_VALUES = ("measured", "limit")


def page_data(document: Row, schedule: Schedule) -> dict[str, Any]:
    """The data of the page from a whole takeoff.json document and the schedule of its basis."""
    walls: Sequence[Row] = document["walls"]
    wall_numbers = {wall["wall_id"]: number for number, wall in enumerate(walls)}
    layers = [
        (number, layer)
        for number, wall in enumerate(walls)
        for layer in (*wall["layers"], *wall["stud_layers_not_taken_off"])
    ]
    cavities = _pieces(layers, "cavities")
    return {
        "schema_version": document["schema_version"],
        "model": document["model"],
        "totals": document["totals"],
        "assumptions": document["assumptions"],
        "walls": _table(walls, WALL_TEXTS, WALL_VALUES),
        "bodies": [[mesh_code(mesh) for mesh in wall.get("body_world", ())] for wall in walls],
        "layers": _layers(layers),
        "cavities": _cavities(
            cavities, {share.cavity_id: share.net for share in schedule.shares if share.code == FIBRE}
        ),
        "members": _members(_pieces(layers, "members")),
        "openings": _openings(_pieces(layers, "openings")),
        "holes": _holes(_pieces(layers, "holes"), [row["cavity_id"] for _, row in cavities]),
        "hand_fills": _hand_fills(_pieces(layers, "hand_fills"), [row["cavity_id"] for _, row in cavities]),
        "findings": _findings(document["findings"], wall_numbers),
        "schedule": _schedule(schedule),
    }


def _table(rows: Sequence[Row], texts: Sequence[str], values: Sequence[str]) -> dict[str, Any]:
    """Columns of rows: texts as a list of distinct words and the number of the word in each row, the rest as it is."""
    packed: dict[str, Any] = {name: _words([str(row.get(name, "") or "") for row in rows]) for name in texts}
    return {**packed, **{name: [row.get(name) for row in rows] for name in values}}


def _words(texts: Sequence[str]) -> dict[str, Any]:
    """A column of texts, each distinct one written once."""
    numbers: dict[str, int] = {}
    rows = [numbers.setdefault(text, len(numbers)) for text in texts]
    return {"words": list(numbers), "rows": rows}


def _pieces(layers: Sequence[tuple[int, Row]], name: str) -> list[tuple[int, Row]]:
    """Every row of one list of the stud layers, with the number of its layer; layers without a result have none."""
    return [(number, row) for number, (_, layer) in enumerate(layers) for row in layer.get(name, ())]


def _layers(layers: Sequence[tuple[int, Row]]) -> dict[str, Any]:
    return {
        "wall": [number for number, _ in layers],
        "key": [layer["layer_key"] for _, layer in layers],
        "depth_m": [layer.get("depth_m") for _, layer in layers],
        "rooms": _words([layer.get("rooms", "") for _, layer in layers]),
        "fill_side": _words([layer.get("fill_side", "") for _, layer in layers]),
        "axes": [_axes(layer["axes"]) for _, layer in layers],
        "body": solid_codes([layer["body"] for _, layer in layers]),
    }


def _axes(axes: Row) -> list[float]:
    """Origin, directions x, y, z, and of a curved wall the centre and the two radii: 12 or 17 numbers."""
    flat = [*axes["origin_m"], *axes["x"], *axes["y"], *axes["z"]]
    arc = axes.get("arc")
    return flat if arc is None else [*flat, *arc["centre_m"], arc["radius_of_x_m"], arc["radius_of_fill_face_m"]]


def _cavities(cavities: Sequence[tuple[int, Row]], masses: Mapping[str, float]) -> dict[str, Any]:
    rows = [{**row, "number": row["cavity_id"].rpartition("/")[2]} for _, row in cavities]
    return {
        "layer": [number for number, _ in cavities],
        **_table(rows, CAVITY_TEXTS, CAVITY_VALUES),
        "mass_kg": [tidy_number(masses.get(row["cavity_id"])) for row in rows],
        "shape": outline_codes([row["outline_wkt"] for row in rows]),
        "y": [[steps(row["y_min_m"]), steps(row["y_max_m"])] for row in rows],
    }


def _members(members: Sequence[tuple[int, Row]]) -> dict[str, Any]:
    rows = [row for _, row in members]
    return {
        "layer": [number for number, _ in members],
        **_table(rows, MEMBER_TEXTS, ()),
        "solid": solid_codes([row["solid"] for row in rows]),
    }


def _openings(openings: Sequence[tuple[int, Row]]) -> dict[str, Any]:
    rows = [row for _, row in openings]
    return {
        "layer": [number for number, _ in openings],
        **_table(rows, OPENING_TEXTS, ("width_m", "height_m", "recess")),
        "shape": outline_codes([row["outline_wkt"] for row in rows]),
    }


def _holes(holes: Sequence[tuple[int, Row]], cavity_ids: Sequence[str]) -> dict[str, Any]:
    numbers = {cavity_id: number for number, cavity_id in enumerate(cavity_ids)}
    rows = [row for _, row in holes]
    return {
        "cavity": [numbers[row["cavity_id"]] for row in rows],
        "hole": [row["hole"] for row in rows],
        "upper": [int(row["pass"] == "upper") for row in rows],
        "ladder": [int(bool(row["ladder"])) for row in rows],
        **{name: [row[name] for row in rows] for name in HOLE_VALUES},
    }


def _hand_fills(parts: Sequence[tuple[int, Row]], cavity_ids: Sequence[str]) -> dict[str, Any]:
    """The parts of cavities that no hole reaches; whole cavities say so themselves."""
    numbers = {cavity_id: number for number, cavity_id in enumerate(cavity_ids)}
    rows = [row for _, row in parts if not row["whole"]]
    return {
        "cavity": [numbers[row["cavity_id"]] for row in rows],
        **_table(rows, ("method", "reason"), ("volume_m3",)),
        "shape": outline_codes([row["outline_wkt"] for row in rows]),
    }


def _findings(findings: Sequence[Row], wall_numbers: Mapping[str, int]) -> dict[str, Any]:
    """Findings with the number of their wall, -1 where they concern none."""
    return {
        "wall": [wall_numbers.get(row["wall_id"], -1) for row in findings],
        **_table(findings, FINDING_TEXTS, FINDING_VALUES),
    }


def _schedule(schedule: Schedule) -> dict[str, list[Any]]:
    """The material schedule by column, quantities in the unit of each line."""
    columns = {name: [getattr(line, name) for line in schedule.lines] for name in SCHEDULE}
    for name in SCHEDULE_PROSE:
        columns[f"{name}_us"] = [prose_in_units(text, "us", names=False) for text in columns[name]]
    return {
        name: [tidy_number(cell) if isinstance(cell, float) else cell for cell in cells]
        for name, cells in columns.items()
    }
