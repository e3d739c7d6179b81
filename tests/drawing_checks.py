"""Checks that every drawing has to pass, whatever it shows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reports.drawing import Drawing, On

HAIR = 1e-6
"""mm"""


def meeting_labels(drawing: Drawing) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes overlap."""
    names = [words.text for words in drawing.words]
    return _meeting(names, np.array([words.box for words in drawing.words]).reshape(-1, 4))


def marks_under_labels(drawing: Drawing) -> list[tuple[str, str]]:
    """Texts that lie on a hole mark that is not their own."""
    found: list[tuple[str, str]] = []
    for disc in drawing.discs:
        if disc.on is not On.HOLES:
            continue
        for words in drawing.words:
            if np.hypot(words.x - disc.x, words.y - disc.y) < HAIR:
                continue
            x0, y0, x1, y1 = words.box
            away = np.hypot(max(x0 - disc.x, 0.0, disc.x - x1), max(y0 - disc.y, 0.0, disc.y - y1))
            if away < disc.radius - HAIR:
                found.append((words.text, f"mark at {disc.x:.1f}, {disc.y:.1f}"))
    return found


def meeting_marks(drawing: Drawing) -> list[tuple[float, float]]:
    """Distances of hole marks that overlap, with the sum of their radii."""
    marks = [disc for disc in drawing.discs if disc.on is On.HOLES]
    return [
        (float(np.hypot(a.x - b.x, a.y - b.y)), a.radius + b.radius)
        for index, a in enumerate(marks)
        for b in marks[index + 1 :]
        if np.hypot(a.x - b.x, a.y - b.y) < a.radius + b.radius - HAIR
    ]


def labels_off_the_page(drawing: Drawing) -> list[str]:
    """Texts that leave the page."""
    return [
        words.text
        for words in drawing.words
        if words.box[0] < 0.0 or words.box[1] < 0.0 or words.box[2] > drawing.width or words.box[3] > drawing.height
    ]


def small_labels(drawing: Drawing, least: float) -> list[tuple[str, float]]:
    """Texts whose font is smaller than `least` mm."""
    return [(words.text, words.size) for words in drawing.words if words.size < least - HAIR]


def faults(drawing: Drawing) -> list[object]:
    """All of the above; 1.9 mm is a font of some 5.4 points, the least that a number in a mark may have."""
    return [
        *meeting_labels(drawing),
        *marks_under_labels(drawing),
        *meeting_marks(drawing),
        *labels_off_the_page(drawing),
        *small_labels(drawing, 1.9),
    ]


def _meeting(names: Sequence[str], boxes: NDArray[np.float64]) -> list[tuple[str, str]]:
    a, b = boxes[:, None], boxes[None]
    meet = (a[..., 0] < b[..., 2] - HAIR) & (b[..., 0] < a[..., 2] - HAIR)
    meet &= (a[..., 1] < b[..., 3] - HAIR) & (b[..., 1] < a[..., 3] - HAIR)
    first, second = np.nonzero(np.triu(meet, 1))
    return [(names[i], names[j]) for i, j in zip(first, second, strict=True)]
