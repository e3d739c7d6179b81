"""A model that is hard to draw: raked, very long and very high walls, hundreds of small bays, names in other scripts.

Everything in it is invented. `python -m tests.odd_sheet_walls FILE.ifc` writes it, to be looked at.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from shapely import Polygon

from tests.ifc_builder import Builder

LAYERS = (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.0125), ("Wood siding", 0.02))
THICK = sum(depth for _, depth in LAYERS)
LONG_NAME = "Outside wall towards the garden, second stretch after the bay window, as agreed on site in spring " * 2
NAMES = {
    "long": "Внешняя стена вдоль сада, длинная, Εξωτερικός τοίχος",
    "high": "外墙 高墙 第二段 樓梯間",
    "raked": "جدار خارجي مائل",
    "gable": "ผนังด้านนอก चौड़ी दीवार",
    "many": LONG_NAME,
}
ROOMS = ("Wohn- und Esszimmer mit offener Küche, Wintergarten", "客厅 和 餐厅", "Склад № 12")


def odd_sheet_walls() -> Builder:
    """Five outside walls round three rooms."""
    model = Builder()
    long = model.wall(NAMES["long"], length=15.0, height=2.7, thickness=THICK, at=(0.0, 0.0, 0.0))
    for n in range(9):
        model.opening(long, x=0.9 + 1.55 * n, z=0.9 if n % 3 else 0.0, width=0.9, height=1.2 if n % 3 else 2.1,
                      filling="IfcWindow" if n % 3 else "IfcDoor")  # fmt: skip
    high = model.wall(NAMES["high"], length=4.0, height=6.0, thickness=THICK, at=(15.0, 0.0, 0.0), angle=90.0)
    model.opening(high, x=1.2, z=3.8, width=1.4, height=1.1, filling="IfcWindow")
    raked = _sloping(model, NAMES["raked"], Polygon([(0, 0), (6, 0), (6, 5.5), (0, 2.4)]), (15.0, 4.0, 0.0), 180.0)
    gable = _sloping(model, NAMES["gable"], Polygon([(0, 0), (9, 0), (9, 2.4), (4.5, 5.8), (0, 2.4)]), (9, 4, 0), 180)
    for wall in (long, high, raked, gable):
        model.layer_usage([wall], model.layer_set(LAYERS))
    for each in (long, high, raked, gable, _many_bays(model)):
        model.properties(each, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    for n, name in enumerate(ROOMS):
        model.space(name, size=(4.8, 3.6, 2.5), at=(0.2 + 4.9 * n, 0.3, 0.0))
    return model


def _sloping(model: Builder, name: str, outline: Polygon, at: tuple[float, float, float], angle: float) -> Any:
    """A wall whose elevation is an outline (x, z), m."""
    file, scale = model.file, model.scale
    curve = file.create_entity(
        "IfcPolyline",
        [
            file.create_entity("IfcCartesianPoint", [float(x) / scale, float(z) / scale])
            for x, z in outline.exterior.coords
        ],
    )
    profile = file.create_entity("IfcArbitraryClosedProfileDef", "AREA", None, curve)
    place = model.place((0.0, THICK, 0.0), x=(1.0, 0.0, 0.0), z=(0.0, -1.0, 0.0))
    solid = file.create_entity("IfcExtrudedAreaSolid", profile, place, model.direction((0.0, 0.0, 1.0)), THICK / scale)
    return model.element("IfcWall", [solid], name=name, at=at, angle=angle)


def _many_bays(model: Builder, length: float = 3.6, height: float = 2.4, stud: float = 0.03) -> Any:
    """A modelled frame with a stud every 0.2 m and blocks every 0.3 m: 120 bays, some narrower than the hose."""
    wall = model.element("IfcWall", name=NAMES["many"], at=(0.0, 4.0, 0.0), angle=-90.0)
    for z, name in ((0.0, "Bottom plate"), (height - stud, "Top plate")):
        model.member(wall, size=(length, 0.14, stud), at=(0.0, 0.0, z), name=name)
    places = [0.2 * n for n in range(int(length / 0.2))] + [length - stud]
    places += [0.09, 0.75]
    for x in sorted(places):
        model.member(wall, size=(stud, 0.14, height - 2 * stud), at=(x, 0.0, stud), name="Stud")
    for left, right in zip(sorted(places), sorted(places)[1:], strict=False):
        for n in range(1, 8):
            size = (right - left - stud, 0.14, stud)
            model.member(wall, size=size, at=(left + stud, 0.0, 0.3 * n), name="Blocking")
    return wall


if __name__ == "__main__":
    odd_sheet_walls().save(Path(sys.argv[1]))
