"""The bare job that a takeoff is compared with: open a model, tessellate its walls, nothing else.

`python bare.py FILE` prints the number of walls and how many of them gave a shape.
"""

from __future__ import annotations

import json
import sys
from typing import Any

import ifcopenshell
import ifcopenshell.geom


def main(path: str) -> None:
    model: Any = ifcopenshell.open(path)
    walls: Any = model.by_type("IfcWall")
    iterator = ifcopenshell.geom.iterator(ifcopenshell.geom.settings(), model, 1, include=walls)
    shapes = 0
    if iterator.initialize():
        while True:
            iterator.get()
            shapes += 1
            if not iterator.next():
                break
    print(json.dumps({"walls": len(walls), "shapes": shapes}))


if __name__ == "__main__":
    main(sys.argv[1])
