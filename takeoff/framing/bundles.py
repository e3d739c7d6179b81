"""Solids that are one member: the sheets of a cold-formed section that a model gives side by side, not as one body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from takeoff.building import ModelPart
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.layer_solids import LayerSolids
from takeoff.framing.member_shapes import Shapes, joined_shapes
from takeoff.framing.sheets import sheet_groups


@dataclass(frozen=True, slots=True, eq=False)
class Bundles:
    """Members as the trade counts them, one row each: most are one solid, a section made of sheets is several.

    rows: the rows of the solids in each. parts: the element of its first solid. ids: its first solid's member id.
    """

    rows: tuple[NDArray[np.int64], ...]
    shapes: Shapes
    parts: tuple[ModelPart, ...]
    ids: tuple[str, ...]


def bundles_of(pieces: LayerSolids, settings: FrameSettings) -> Bundles:
    """Join sheets that touch, run the same way and end together; every other solid stays alone."""
    groups = sheet_groups(pieces.shapes, settings)
    shapes = pieces.shapes if len(groups) == len(pieces.ids) else joined_shapes(pieces.shapes, groups)
    first = [int(rows[0]) for rows in groups]
    return Bundles(
        tuple(groups), shapes, tuple(pieces.parts[row] for row in first), tuple(pieces.ids[row] for row in first)
    )
