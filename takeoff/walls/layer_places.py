"""Where each material layer lies across a wall, and which of them carry studs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geometry.frames import LocalAxes
from takeoff.building import ModelLayer, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.job import Job
from takeoff.layer_roles import Judgement, LayerSetFacts, roles_of
from takeoff.model import Layer, LayerRole
from takeoff.wall_rules import WallRule

_SAME_THICKNESS = 0.0015
"""m; models round layer thicknesses to a millimetre."""


@dataclass(frozen=True, slots=True)
class LayerPlaces:
    """Layers in the raw axes of their wall, in the model's own order, y growing from the first layer to the last."""

    layers: tuple[Layer, ...]
    findings: tuple[Finding, ...]

    @property
    def stud_numbers(self) -> tuple[int, ...]:
        """Positions of the stud layers, counted from 0."""
        return tuple(number for number, layer in enumerate(self.layers) if layer.role is LayerRole.STUD)


def layer_set_name(wall: ModelWall) -> str:
    """Name of the wall's layer set, empty where it has none."""
    return wall.layers.name if wall.layers is not None else ""


class LayerBook:
    """Roles of layer sets under one job, each set judged once: a model has many walls and few layer sets."""

    def __init__(self, job: Job) -> None:
        self._job = job
        self._known: dict[tuple[tuple[ModelLayer, ...], LayerSetFacts], tuple[Judgement, ...]] = {}

    def roles(self, layers: tuple[ModelLayer, ...], facts: LayerSetFacts) -> tuple[Judgement, ...]:
        """Role and reason of every layer of a set."""
        key = (layers, facts)
        if key not in self._known:
            self._known[key] = roles_of(layers, self._job, facts)
        return self._known[key]


def judged_layers(wall: ModelWall, rule: WallRule, book: LayerBook, *, has_frame: bool) -> tuple[Layer, ...]:
    """Layers with role and reason, not yet placed: they are stacked from y = 0."""
    layers = wall.layers.layers if wall.layers is not None else ()
    if not layers:
        return ()
    set_name = " ".join(text for text in (layer_set_name(wall), wall.type_name) if text)
    roles = book.roles(layers, LayerSetFacts(set_name, has_frame, rule.stud_layer))
    faces = np.concatenate([[0.0], np.cumsum([layer.thickness for layer in layers])])
    return tuple(
        Layer(
            layer.material or layer.name, layer.category, layer.thickness, role, reason,
            float(faces[number]), float(faces[number + 1]), layer.conductivity, layer.ventilated,
        )
        for number, (layer, (role, reason)) in enumerate(zip(layers, roles, strict=True))
    )  # fmt: skip


def placed_layers(
    wall: ModelWall, layers: Sequence[Layer], axes: LocalAxes, extent: tuple[float, float] | None
) -> LayerPlaces:
    """Layers moved to where they lie across the wall.

    axes: raw axes, y along the layers' direction. extent: nearest and farthest y of the wall's body, m, or None where
    it has none. A body as thick as its layers holds them from face to face; else the reference line says where they
    start. The layers of a leaning wall may be given as measured level: then all are thinner square to its faces.
    """
    if not layers or wall.layers is None:
        return LayerPlaces((), ())
    findings: list[Finding] = []
    total = layers[-1].y_max
    level = float(np.linalg.norm(axes.directions[1, :2]))
    if extent is not None and abs(extent[1] - extent[0] - total * level) <= _SAME_THICKNESS < total * (1.0 - level):
        findings.append(_measured_level(wall, total, total * level))
        layers = [
            replace(row, thickness=row.thickness * level, y_min=row.y_min * level, y_max=row.y_max * level)
            for row in layers
        ]
        total *= level
    by_reference = _by_reference(wall, axes)
    if extent is None:
        start = by_reference if by_reference is not None else 0.0
    elif abs(extent[1] - extent[0] - total) <= _SAME_THICKNESS:
        start = extent[0]
    else:
        findings.append(_not_as_thick(wall, extent[1] - extent[0], total))
        inside = by_reference is not None and by_reference < extent[1] and by_reference + total > extent[0]
        start = by_reference if inside and by_reference is not None else extent[0]
    moved = tuple(replace(layer, y_min=layer.y_min + start, y_max=layer.y_max + start) for layer in layers)
    return LayerPlaces(moved, tuple(findings))


def _by_reference(wall: ModelWall, axes: LocalAxes) -> float | None:
    """y at which the reference line and the offset let the first layer start."""
    if wall.layers is None or wall.layers.offset is None or wall.layers.direction is None:
        return None
    return float(axes.to_local(_on_reference_line(wall)[None])[0, 1]) + wall.layers.offset


def _on_reference_line(wall: ModelWall) -> NDArray[np.float64]:
    """A world point (3,) of the line that layers are offset from: the wall's axis, m."""
    origin = wall.placement[:3, 3]
    if wall.cylinder is None:
        return origin
    # The placement of a curved wall may lie anywhere, but its axis lies on the cylinder.
    outward = origin - wall.cylinder.centre
    outward = outward - float(outward @ wall.cylinder.axis) * wall.cylinder.axis
    reach = float(np.linalg.norm(outward))
    heading = outward / reach if reach > 1e-9 * wall.cylinder.radius else wall.placement[:3, 0]
    return wall.cylinder.centre + wall.cylinder.radius * heading


def _not_as_thick(wall: ModelWall, body: float, layers: float) -> Finding:
    return Finding(
        "layers-not-as-thick-as-body",
        Severity.WARNING,
        f"The layers add up to {layers * 1000:.0f} mm but the body is {body * 1000:.0f} mm thick; "
        "the stud layer was placed by the reference line. Have the layer set or the body mended.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, body, layers, "m",
    )  # fmt: skip


def _measured_level(wall: ModelWall, level: float, square: float) -> Finding:
    return Finding(
        "layers-measured-level", Severity.INFO,
        f"The wall leans: its layers add up to {level * 1000:.0f} mm measured level, which is {square * 1000:.0f} mm "
        "square to its faces; all were taken as much thinner.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, square, level, "m",
    )  # fmt: skip
