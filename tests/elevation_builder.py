"""IFC models of one wall, drawn in elevation: sections in (x, z) swept along the depth, at any place and in any unit.

    model = ElevationModel(Polygon([(0, 0), (4, 0), (4, 2.4), (0, 2.4)]), 0.14, Setting("INCH", (5, 2, 0), 30.0))
    model.add([Prism(box(0, 0, 0.038, 2.4), 0.0, 0.14)])
    path = model.made.save(tmp_path / "wall.ifc")

The wall's own axes are x along, y through it (body from y = 0), z up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import Polygon, affinity

from geometry.frames import LocalAxes
from geometry.solids import Prism, polygons_of
from tests.ifc_builder import Builder


@dataclass(frozen=True)
class Setting:
    """Unit of the file, and place (m) and turn (degrees about z) of the storey in it."""

    unit: str = "MILLIMETRE"
    place: tuple[float, float, float] = (0.0, 0.0, 0.0)
    angle: float = 0.0
    schema: str = "IFC4"


class ElevationModel:
    """One wall with a single layer of studs."""

    def __init__(self, outline: Polygon, depth: float, setting: Setting) -> None:
        self.made = Builder(setting.schema, setting.unit)
        self.depth, self.length = depth, outline.bounds[2]
        turn = math.radians(setting.angle)
        self._along = np.array([math.cos(turn), math.sin(turn), 0.0])
        self.made.level.ObjectPlacement = self.made.local_placement(
            self.made.building.ObjectPlacement, setting.place, tuple(self._along.tolist())
        )
        self.wall = self.made.element("IfcWall", [self.across(outline, 0.0, depth)], name="Wall")
        self.made.layer_usage([self.wall], self.made.layer_set([("Timber studs", depth)]))

    def across(self, outline: Polygon, near: float, far: float) -> Any:
        """A section in elevation swept along the depth."""
        file, scale = self.made.file, self.made.scale
        curves = [
            file.create_entity(
                "IfcPolyline",
                [
                    file.create_entity("IfcCartesianPoint", [float(x) / scale, -float(z) / scale])
                    for x, z in ring.coords
                ],
            )
            for ring in (outline.exterior, *outline.interiors)
        ]
        if len(curves) == 1:
            profile = file.create_entity("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=curves[0])
        else:
            profile = file.create_entity(
                "IfcArbitraryProfileDefWithVoids", ProfileType="AREA", OuterCurve=curves[0], InnerCurves=curves[1:]
            )
        solid = self.made.extruded_profile(profile, far - near)
        solid.Position = self.made.place((0.0, near, 0.0), x=(1.0, 0.0, 0.0), z=(0.0, 1.0, 0.0))
        return solid

    def add(self, prisms: Sequence[Prism], *, axes: LocalAxes | None = None, ifc_class: str = "IfcMember") -> Any:
        """One element of the wall with some solids. axes: the wall axes that they are given in, where those may look at
        the wall from behind; else the wall's own."""
        turned = axes is not None and float(axes.directions[0] @ self._along) < 0.0
        solids = []
        for prism in prisms:
            near, far = (self.depth - prism.y_max, self.depth - prism.y_min) if turned else (prism.y_min, prism.y_max)
            for part in polygons_of(prism.outline):
                seen = (
                    affinity.translate(affinity.scale(part, -1.0, 1.0, origin=(0, 0)), self.length) if turned else part
                )
                solids.append(self.across(seen, near, far))
        return self.made.element(ifc_class, solids, name="", whole=self.wall)

    def opening(self, x: float, z: float, width: float, height: float, filling: str) -> Any:
        """A hole with a door or window in it."""
        return self.made.opening(self.wall, x=x, z=z, width=width, height=height, filling=filling)
