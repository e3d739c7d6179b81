"""From what the model says of a wall to a wall understood: axes, layers, sides, openings, stud layers."""

from takeoff.walls.understanding import Site, site_of, understand

__all__ = ["Site", "site_of", "understand"]
