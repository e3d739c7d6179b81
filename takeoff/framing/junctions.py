"""Where walls meet: corners, partitions and crossings, from the model's connections or from the walls' places."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Junction:
    """A place where another stud layer meets this one, in the wall axes of this one, m.

    kind: 'corner' (ends meet), 'tee' (an end meets the other's middle), 'cross' (both run on).
    at: 'start', 'end' or 'path': where along this layer.
    x_min, x_max: what the other stud layer's depth takes along this one. It may lie beyond this layer's own end.
    z_min, z_max: heights over which both stand. face: 'fill', 'far' or 'both': from which side the other comes.
    through: True where this layer runs past the other one and so carries the corner's third stud.
    """

    kind: str
    at: str
    x_min: float
    x_max: float
    z_min: float
    z_max: float
    face: str
    through: bool
    other_key: str
    evidence: str
