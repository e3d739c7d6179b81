"""The tolerances and limits by which a modelled frame is understood, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FrameSettings:
    """Lengths in m. Reasons marked (cp) are common practice, no published source.

    touch: members nearer than this meet: frames are drawn with joints of some millimetres (cp).
    line: a plate this near to the outline of the frame lies on it.
    outside: a part that reaches less far than this into the stud layer lies in another layer.
    twin: two solids whose boxes agree to this are the same solid given twice.
    least_volume: m3; a solid below this is a remnant of modelling, not a member (0.01 cm3).
    sheet: up to this thick a piece is sheet metal, one side of a cold-formed section (97 mil and some zinc).
    bay_bridge: a top plate missing over no more than this is a flaw, over more a step: one bay at 24 in with its studs.
    door_bridge: widest gap in the bottom plate that is still one opening (a wide garage door).
    door_height: least height of an opening that stands on the floor (lowest crawl or closet doors are lower, but they
        are never framed without a door in the model) (cp).
    least_opening: no window or door is framed narrower or lower than this (cp).
    wide: a gap is wide from this many usual bays on.
    usual_bay: clear width of a bay at 600 mm less one stud, used where the frame shows no usual bay of its own.
    widest_bay: wider gaps are not counted when the usual bay is sought: 625 mm spacing and some play.
    shim: what is left between an opening element and the members around it, up to this, belongs to the opening:
        packing, not a cavity (cp).
    header_overhang: a header runs past its opening no further than this: three studs each end (cp).
    least_share: a frame that covers less of the length of its wall than this is not taken for the wall's frame.
    block_length: pieces shorter than this are judged by what they touch, not by which way they are longer.
    widest_upright: an upright wider than this is no stud or post of a wall frame (cp).
    row_depth: least depth of a row of studs: below it are battens and furring (2x3 in is 64 mm) (cp).
    """

    touch: float = 0.012
    line: float = 0.015
    outside: float = 0.002
    twin: float = 1e-4
    least_volume: float = 1e-8
    sheet: float = 0.004
    bay_bridge: float = 0.70
    door_bridge: float = 8.0
    door_height: float = 1.7
    least_opening: float = 0.25
    wide: float = 1.5
    usual_bay: float = 0.57
    widest_bay: float = 0.65
    shim: float = 0.10
    header_overhang: float = 0.30
    least_share: float = 0.5
    block_length: float = 0.40
    widest_upright: float = 0.25
    row_depth: float = 0.06


DEFAULT_FRAME_SETTINGS = FrameSettings()
