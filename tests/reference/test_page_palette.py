"""Colours of the page are told apart with and without each kind of colour blindness.

Sources: simulation of missing cones by the matrices of Machado, Oliveira and Fernandes, 'A physiologically-based model
for simulation of color vision deficiency', IEEE TVCG 15 (2009), severity 1.0 (matrices from memory); colour
difference in CIELAB, ISO/CIE 11664-4:2019 (its plain Euclidean form of 1976). That a difference of 20 is seen at a
glance is common practice, no published source.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import numpy as np
import pytest

SOURCE = Path(__file__).resolve().parents[2] / "reports" / "page" / "src" / "palette.ts"
VISION = {
    "full": np.eye(3),
    "no long-wave cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no middle-wave cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no short-wave cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# IEC 61966-2-1: linear sRGB to CIE XYZ, D65
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
SEEN_APART = {"METHOD_COLOURS": 30.0, "KIND_COLOURS": 20.0}


def colours(name: str) -> dict[str, str]:
    block = re.search(rf"{name}[^=]*= \{{(.*?)\}};", SOURCE.read_text(encoding="utf-8"), re.DOTALL)
    assert block is not None
    return dict(re.findall(r'(\w+): "(#[0-9a-f]{6})"', block[1]))


def lab(colour: str, vision: np.ndarray) -> np.ndarray:
    coded = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    xyz = TO_XYZ @ np.clip(vision @ linear, 0.0, 1.0) / (TO_XYZ @ np.ones(3))
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("name", SEEN_APART)
def test_any_two_colours_of_a_legend_are_told_apart(name, vision):
    shown = colours(name)
    assert len(shown) >= 5
    for (one, a), (other, b) in itertools.combinations(shown.items(), 2):
        apart = float(np.linalg.norm(lab(a, VISION[vision]) - lab(b, VISION[vision])))
        assert apart >= SEEN_APART[name], f"{one} and {other} are {apart:.1f} apart"


def test_depths_grow_darker_for_every_eye():
    text = SOURCE.read_text(encoding="utf-8")
    ramp = re.search(r"DEPTH_RAMP[^=]*= \[(.*?)\];", text)
    assert ramp is not None
    stops = [tuple(map(int, each)) for each in re.findall(r"\[(\d+), (\d+), (\d+)\]", ramp[1])]
    assert len(stops) >= 3
    for vision in VISION.values():
        lightness = [float(lab("#{:02x}{:02x}{:02x}".format(*stop), vision)[0]) for stop in stops]
        assert all(b < a - 10 for a, b in itertools.pairwise(lightness))
