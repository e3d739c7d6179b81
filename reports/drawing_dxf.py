"""Writes a drawing as DXF at full size: one unit is one millimetre of the building. Needs ezdxf (extra `dxf`)."""

from __future__ import annotations

import io
from importlib.util import find_spec
from math import cos, radians, sin
from typing import TYPE_CHECKING

from reports.drawing import Area, Disc, Drawing, Line, On, Shape, Strokes, Words
from reports.drawing_text import CAPITAL

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_STYLE = "BAYFILL"
_ALIGN = {"start": "MIDDLE_LEFT", "middle": "MIDDLE_CENTER", "end": "MIDDLE_RIGHT"}
_BLACK, _GREY = 7, 8


def has_dxf() -> bool:
    """Whether the library that writes DXF is installed."""
    return find_spec("ezdxf") is not None


def to_dxf(drawing: Drawing) -> bytes:
    """The drawing as DXF (R2010), its zero at the lower left corner of the page. Same drawing, same bytes.

    Solid fills are drawn for members and seals only; white fields, which only hide what is behind, are left out.
    """
    from ezdxf import (
        new,  # pyright: ignore[reportPrivateImportUsage]
        options,  # pyright: ignore[reportPrivateImportUsage]
        units,
    )

    # Without this, times and ids of the moment stand in the file.
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document = new("R2010", units=units.MM)
        document.header["$MEASUREMENT"] = 1
        document.styles.add(_STYLE, font="LiberationSans-Regular.ttf")
        for on in On:
            document.layers.add(str(on), color=_GREY if on is On.HATCHING else _BLACK)
        space = document.modelspace()
        for shape in drawing.shapes:
            _add(shape, space, drawing.scale)
        # The library lists classes in the order of a set, which changes from run to run.
        classes = document.classes
        classes.add_required_classes(document.dxfversion)
        classes.classes = dict(sorted(classes.classes.items()))
        stream = io.StringIO()
        document.write(stream)
    finally:
        options.write_fixed_meta_data_for_testing = before
    return stream.getvalue().encode(document.encoding, "replace")


def _add(shape: Shape, space: Modelspace, scale: float) -> None:
    on = {"layer": str(shape.on)}
    match shape:
        case Line():
            space.add_lwpolyline([(x * scale, y * scale) for x, y in shape.points], dxfattribs=on)
        case Strokes():
            _add_hatch(shape, space, scale)
        case Area():
            _add_area(shape, space, scale)
        case Disc():
            space.add_circle((shape.x * scale, shape.y * scale), shape.radius * scale, dxfattribs=on)
        case Words():
            _add_words(shape, space, scale)


def _add_hatch(strokes: Strokes, space: Modelspace, scale: float) -> None:
    """A real hatch, whose pattern the drawing program keeps."""
    hatch = space.add_hatch(color=256, dxfattribs={"layer": str(strokes.on)})
    for ring in strokes.rings:
        hatch.paths.add_polyline_path([(x * scale, y * scale) for x, y in ring], is_closed=True)
    step = strokes.spacing * scale
    lines = [
        [angle, (0.0, 0.0), (-step * sin(radians(angle)), step * cos(radians(angle))), []] for angle in strokes.angles
    ]
    hatch.set_pattern_fill("LINES", definition=lines)


def _add_area(area: Area, space: Modelspace, scale: float) -> None:
    rings = [[(x * scale, y * scale) for x, y in ring] for ring in area.rings]
    if area.fill == 0.0:
        hatch = space.add_hatch(color=_BLACK, dxfattribs={"layer": str(area.on)})
        for ring in rings:
            hatch.paths.add_polyline_path(ring, is_closed=True)
    if area.pen is not None:
        for ring in rings:
            space.add_lwpolyline(ring, close=True, dxfattribs={"layer": str(area.on)})


def _add_words(words: Words, space: Modelspace, scale: float) -> None:
    from ezdxf.enums import TextEntityAlignment

    text = space.add_text(
        words.text,
        height=CAPITAL * words.size * scale,
        rotation=90.0 if words.upright else 0.0,
        dxfattribs={"layer": str(words.on), "style": _STYLE},
    )
    text.set_placement((words.x * scale, words.y * scale), align=TextEntityAlignment[_ALIGN[words.align]])
    if words.framed:
        x0, y0, x1, y1 = (each * scale for each in words.box)
        space.add_lwpolyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], close=True, dxfattribs={"layer": str(words.on)})
