"""How wide a text is in the font that this package ships, so that labels can be placed before anything is drawn.

The widths are those of Liberation Sans 2.1.5 (reports/data/fonts, SIL Open Font License 1.1), read from its own table
of advances; a test compares them with the font file.
"""

from __future__ import annotations

from pathlib import Path

FONT = "Liberation Sans"
FALLBACK_FONTS = "Arial, Helvetica, sans-serif"
"""Named after ours in drawings, for programs that do not have it; they are as wide."""
FONT_FOLDER = Path(__file__).parent / "data" / "fonts"
LINE_HEIGHT = 1.12
"""Height of a text's box over the size of its font: capital, descender and a little air."""
CAPITAL = 0.688
"""Height of a capital or a digit over the size of the font."""

_UNITS = 2048.0
# Advances of the characters from space to ~, in 1/2048 of the font's size.
_REGULAR = (
    569, 569, 727, 1139, 1139, 1821, 1366, 391, 682, 682, 797, 1196, 569, 682, 569, 569, 1139, 1139, 1139, 1139, 1139,
    1139, 1139, 1139, 1139, 1139, 569, 569, 1196, 1196, 1196, 1139, 2079, 1366, 1366, 1479, 1479, 1366, 1251, 1593,
    1479, 569, 1024, 1366, 1139, 1706, 1479, 1593, 1366, 1593, 1479, 1366, 1251, 1479, 1366, 1933, 1366, 1366, 1251,
    569, 569, 569, 961, 1139, 682, 1139, 1139, 1024, 1139, 1139, 569, 1139, 1139, 455, 455, 1024, 455, 1706, 1139,
    1139, 1139, 1139, 682, 1024, 569, 1139, 1024, 1479, 1024, 1024, 1024, 684, 532, 684, 1196,
)  # fmt: skip
_BOLD = (
    569, 682, 971, 1139, 1139, 1821, 1479, 487, 682, 682, 797, 1196, 569, 682, 569, 569, 1139, 1139, 1139, 1139, 1139,
    1139, 1139, 1139, 1139, 1139, 682, 682, 1196, 1196, 1196, 1251, 1997, 1479, 1479, 1479, 1479, 1366, 1251, 1593,
    1479, 569, 1139, 1479, 1251, 1706, 1479, 1593, 1366, 1593, 1479, 1366, 1251, 1479, 1366, 1933, 1366, 1366, 1251,
    682, 569, 682, 1196, 1139, 682, 1139, 1251, 1139, 1251, 1139, 682, 1251, 1251, 569, 569, 1139, 569, 1821, 1251,
    1251, 1251, 1251, 797, 1139, 682, 1251, 1139, 1593, 1139, 1139, 1024, 797, 573, 797, 1196,
)  # fmt: skip
_WIDEST = 2048


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """mm; width of a text at a font size in mm. Letters beyond ASCII count as wide as the font is high.

    >>> round(text_width("12", 2.048), 3)
    2.278
    """
    widths = _BOLD if bold else _REGULAR
    total = sum(widths[ord(letter) - 32] if " " <= letter <= "~" else _WIDEST for letter in text)
    return size * total / _UNITS


def shortened(text: str, size: float, width: float, *, bold: bool = False) -> str:
    """The text, or as much of it as fits a width in mm, with dots at its end.

    >>> shortened("Workroom", 2.0, 6.0)
    'Work...'
    """
    if text_width(text, size, bold=bold) <= width:
        return text
    for length in range(len(text) - 1, 0, -1):
        cut = f"{text[:length].rstrip()}..."
        if text_width(cut, size, bold=bold) <= width:
            return cut
    return ""


_COVERED = (
    (0x20, 0x17E),
    (0x1A0, 0x1B0),
    (0x1CD, 0x24F),
    (0x384, 0x3CE),
    (0x400, 0x513),
    (0x1E00, 0x1E9B),
    (0x1EA0, 0x1EF9),
)
_MARKS = "\n\t\xa0\u202f\u200b\u2060–—‘’‚“”„†‡•…‰′″‹›€№™→←↑↓−≈≠≤≥×÷²³°½¼¾"
"""Ranges and single characters beyond them that are sure to be in the font; it has more."""


def is_covered(text: str) -> bool:
    """True where the font that is shipped has all letters of a text: Latin, Greek and Cyrillic with their signs.

    >>> is_covered("Küche, Склад № 12"), is_covered("客厅")
    (True, False)
    """
    return all(any(low <= ord(c) <= high for low, high in _COVERED) or c in _MARKS for c in set(text))
