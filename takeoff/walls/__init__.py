"""From what the model says of a wall to a wall understood: axes, layers, sides, openings, stud layers."""

from takeoff.walls.cut_openings import lies_in_gap, notch_findings, restored
from takeoff.walls.filling_outline import filling_outline
from takeoff.walls.frame_bodies import with_frame_bodies_told
from takeoff.walls.insulation_parts import without_insulation
from takeoff.walls.layer_parts import with_layer_parts_told
from takeoff.walls.measured import Site, site_of
from takeoff.walls.one_place import each_place_once
from takeoff.walls.overlaps import without_overlaps
from takeoff.walls.standing import told_where_they_stand
from takeoff.walls.understanding import understand

__all__ = [
    "Site",
    "each_place_once",
    "filling_outline",
    "lies_in_gap",
    "notch_findings",
    "restored",
    "site_of",
    "told_where_they_stand",
    "understand",
    "with_frame_bodies_told",
    "with_layer_parts_told",
    "without_insulation",
    "without_overlaps",
]
