"""The tolerances of the kernel, each with its reason. They are arguments everywhere; nothing reads them as globals."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Lengths in m, areas in m2.

    coincident: planes and points nearer than this are the same. Model files carry about seven decimals of a metre and
        the tessellation adds rounding of the same order, while no building part is thinner.
    sliver_width: a gap narrower than this in elevation is closed (sealed), and joins nothing. 6 mm: loose fibre does
        not flow through it and a bead of sealant does (common practice, no published source).
    sliver_depth: the same for a gap across the depth, such as between the boards of a built-up header.
    least_area: a cell smaller than this in elevation is rounding, not a place: 1 mm2.
    """

    coincident: float = 1e-7
    sliver_width: float = 0.006
    sliver_depth: float = 0.006
    least_area: float = 1e-6

    @property
    def closing_width(self) -> float:
        """Just under the sliver width: a gap of exactly that width stays open however the model is turned."""
        return self.sliver_width - min(10.0 * self.coincident, 0.1 * self.sliver_width)

    @property
    def closing_depth(self) -> float:
        """Just under the sliver depth, for the same reason."""
        return self.sliver_depth - min(10.0 * self.coincident, 0.1 * self.sliver_depth)


DEFAULT_TOLERANCES = Tolerances()
