"""The colours of heat maps: even steps of lightness, told apart by everyone and in grey.

CIELAB as CIE 15:2004 defines it (D65, 2 degrees), sRGB as IEC 61966-2-1 does; colour blindness simulated by
the matrices of Machado, Oliveira and Fernandes (IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291), for linear
light and full severity; the matrices are from memory, checked to keep white white.
"""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt
import pytest

from reports.render.palette import DARK, HEAT, LIGHT

Floats = npt.NDArray[np.float64]
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = np.array([0.95047, 1.0, 1.08883])
BLIND = {
    "no red": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "no green": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "no blue": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour: str) -> Floats:
    shares = np.array([int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)])
    return np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)


def lab(light: Floats) -> Floats:
    ratio = TO_XYZ @ light / WHITE
    cube = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * cube[1] - 16, 500 * (cube[0] - cube[1]), 200 * (cube[1] - cube[2])])


def test_lightness_by_known_values() -> None:
    """White 100, black 0, and the middle grey #777777 at 50.0 (CIE 15:2004)."""
    assert lab(linear("#ffffff"))[0] == pytest.approx(100.0, abs=0.01)
    assert lab(linear("#000000"))[0] == pytest.approx(0.0, abs=0.01)
    assert lab(linear("#777777"))[0] == pytest.approx(50.0, abs=0.1)


def test_the_matrices_keep_white_white() -> None:
    for matrix in BLIND.values():
        assert np.array(matrix).sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-5)


@pytest.mark.parametrize(("colours", "way"), [(LIGHT, -1.0), (DARK, 1.0)], ids=["light", "dark"])
def test_steps_of_lightness_are_even_away_from_the_paper(colours: dict[str, str], way: float) -> None:
    steps = way * np.diff([lab(linear(colours[name]))[0] for name in HEAT])
    assert steps.min() > 0.9 * steps.mean()
    assert steps.max() < 1.1 * steps.mean()
    paper = lab(linear(colours["sheet"]))[0]
    assert abs(lab(linear(colours[HEAT[0]]))[0] - paper) < abs(lab(linear(colours[HEAT[-1]]))[0] - paper) / 4


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("eye", ["usual", *BLIND])
def test_neighbours_are_told_apart_by_every_eye(colours: dict[str, str], eye: str) -> None:
    """Five units of CIELAB are a plain difference (about two are just noticed; common practice, no source),
    and lightness alone keeps their order.
    """
    matrix = np.eye(3) if eye == "usual" else np.array(BLIND[eye])
    seen = [lab(np.clip(matrix @ linear(colours[name]), 0.0, 1.0)) for name in HEAT]
    distances = [np.linalg.norm(after - before) for before, after in itertools.pairwise(seen)]
    assert min(distances) > 5.0
    lightness = np.array([each[0] for each in seen])
    assert np.all(np.diff(lightness) > 0) or np.all(np.diff(lightness) < 0)
