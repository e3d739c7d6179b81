"""Writes a drawing as SVG: one file that browsers, drawing programs and the sheets read alike."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from reports.drawing import Area, Disc, Drawing, Line, Pen, Point, Shape, Strokes, Words
from reports.drawing_text import CAPITAL, FALLBACK_FONTS, FONT


def to_svg(drawing: Drawing) -> str:
    """The drawing as SVG text. Same drawing, same bytes; its size on paper is that of the page in mm."""
    width, height = _number(drawing.width), _number(drawing.height)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" font-family="\'{FONT}\', {FALLBACK_FONTS}" '
        'stroke-linecap="round" stroke-linejoin="round">',
        f"<title>{_text(drawing.title)}</title>",
        f'<rect width="{width}" height="{height}" fill="#fff"/>',
    ]
    on = None
    for shape in drawing.shapes:
        if shape.on != on:
            lines.append(f'</g><g class="{shape.on}">' if on else f'<g class="{shape.on}">')
            on = shape.on
        lines.append(_element(shape, drawing.height))
    if on:
        lines.append("</g>")
    return "\n".join([*lines, "</svg>", ""])


def _element(shape: Shape, height: float) -> str:
    match shape:
        case Line():
            return f'<path d="{_path(shape.points, height)}" fill="none"{_stroke(shape.pen)}/>'
        case Strokes():
            moves = "".join(_path(((a, b), (c, d)), height) for a, b, c, d in shape.ends)
            return f'<path d="{moves}" fill="none"{_stroke(shape.pen)}/>'
        case Area():
            moves = "".join(f"{_path(ring, height)}Z" for ring in shape.rings)
            return f'<path d="{moves}" fill-rule="evenodd"{_fill(shape.fill)}{_stroke(shape.pen)}/>'
        case Disc():
            centre = f'cx="{_number(shape.x)}" cy="{_number(height - shape.y)}" r="{_number(shape.radius)}"'
            return f"<circle {centre}{_fill(shape.fill)}{_stroke(shape.pen)}/>"
        case Words():
            return _words(shape, height)


def _words(words: Words, height: float) -> str:
    field = ""
    if words.margin is not None:
        x0, y0, x1, y1 = words.box
        pen = _stroke(Pen(0.15)) if words.framed else ""
        field = (
            f'<rect x="{_number(x0)}" y="{_number(height - y1)}" width="{_number(x1 - x0)}" '
            f'height="{_number(y1 - y0)}" fill="#fff"{pen}/>'
        )
    x, y = words.x, height - words.y
    turn = f' transform="rotate(-90 {_number(x)} {_number(y)})"' if words.upright else ""
    weight = ' font-weight="bold"' if words.bold else ""
    anchor = "" if words.align == "start" else f' text-anchor="{words.align}"'
    base = _number(y + 0.5 * CAPITAL * words.size)
    return (
        f'{field}<text x="{_number(x)}" y="{base}" font-size="{_number(words.size)}"{weight}{anchor}'
        f"{_fill(words.grey)}{turn}>{_text(words.text)}</text>"
    )


def _path(points: Sequence[Point], height: float) -> str:
    moves = [f"{_number(x)} {_number(height - y)}" for x, y in points]
    return f"M{moves[0]}L{' '.join(moves[1:])}"


def _stroke(pen: Pen | None) -> str:
    if pen is None:
        return ""
    dash = f' stroke-dasharray="{" ".join(map(_number, pen.dash))}"' if pen.dash else ""
    return f' stroke="{_grey(pen.grey)}" stroke-width="{_number(pen.width)}"{dash}'


def _fill(grey: float | None) -> str:
    return ' fill="none"' if grey is None else f' fill="{_grey(grey)}"'


def _grey(grey: float) -> str:
    level = round(255 * grey)
    return f"#{level:02x}{level:02x}{level:02x}"


def _number(value: float) -> str:
    """Hundredths of a millimetre, the shortest way."""
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown


def _text(text: str) -> str:
    """Text for XML: characters that it forbids become spaces."""
    return escape("".join(letter if letter.isprintable() else " " for letter in text))
