"""What the trade has to mind, for every report that reaches a person on site. Common practice, no published source."""

from __future__ import annotations

FIRST = "Local codes, the fibre's own instructions and the judgement of licensed trades come before anything here."

CAUTIONS = (
    "Eyes and breathing: wear closed goggles and a particle mask or respirator while cutting, blowing and cleaning up.",
    "Heights: upper holes are filled from a ladder or stilts; stand them on a clear, firm floor and mind open stairs.",
    "Heat: keep fibre off flues, chimneys and recessed lights by the clearance that their rating and the code ask for.",
    "Wiring and pipes: have live wiring made safe and inspected before it is covered; never staple through a cable.",
    "Air and moisture: keep eave ventilation open with baffles; do not fill a wet cavity or one that has to drain.",
)
"""Shown at the end of each summary; quantities never replace a look at the wall."""
