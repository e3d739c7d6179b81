"""The fill plan on cavities made by hand: method and reason, holes, rows, passes, what is left to the hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box

from geometry.frames import Axes
from geometry.reach import Reach
from takeoff.fill import Pass, plan_fill, plan_layer
from takeoff.fill_methods import FillPlace
from takeoff.hole_rows import Columns, RowWish, row_heights, slots_of
from takeoff.hose import LONG_HOSE, SHORT_HOSE
from takeoff.model import CavityKind, Method
from tests.records_builder import cavity, plain_wall, wall_axes

KEY = "WALL-A"
PLACE = FillPlace(KEY, KEY, wall_axes())
BOTTOM, TOP = 0.038, 2.391
"""m; a bay of an 8 ft wall between its plates."""


def bay(number, left=0.0, top=TOP, width=0.37, **changes):
    return cavity(number, box(left, BOTTOM, left + width, top), KEY, **changes)


def only(cavities, hose=SHORT_HOSE, place=PLACE):
    plan = plan_layer([cavities] if not isinstance(cavities, list) else cavities, place, hose)
    return plan, plan.cavities[0]
