"""The scene's second-order statistics are those of natural pictures.

D. J. Field, "Relations between the statistics of natural images and the response properties
of cortical cells", J. Opt. Soc. Am. A 4(12), 1987, 2379–2394: the power spectrum of natural
scenes falls about as 1/f². Burton & Moorhead, "Color and spatial structure in natural scenes",
Appl. Opt. 26(1), 1987, 157–170, and Tolhurst et al., Ophthal. Physiol. Opt. 12, 1992, found
exponents of the power from 1.6 to 3.0 for single pictures, about 2.1 to 2.4 on average
(values from memory); the tolerance here is that spread.
"""

from __future__ import annotations

import itertools

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.rehearse.harbour import HarbourScene


@pytest.fixture(scope="module")
def scene() -> HarbourScene:
    return HarbourScene(7)


def _power_exponent(grey: NDArray[np.float64]) -> float:
    """Slope a of power ~ f^-a between 1/64 and 1/4 cycles/px, over a Hann window."""
    n = grey.shape[0]
    taper = np.hanning(n)
    spectrum = np.abs(np.fft.fft2((grey - grey.mean()) * taper[:, None] * taper[None, :])) ** 2
    f = np.hypot(np.fft.fftfreq(n)[:, None], np.fft.fftfreq(n)[None, :])
    edges = np.geomspace(1 / 64, 1 / 4, 9)
    power = [spectrum[(f >= a) & (f < b)].mean() for a, b in itertools.pairwise(edges)]
    middle = np.sqrt(edges[:-1] * edges[1:])
    return float(-np.polyfit(np.log(middle), np.log(power), 1)[0])


@pytest.mark.parametrize(
    ("what", "left", "top"),
    [
        ("houses by the quay", -8.0, 1.8),
        ("houses on the hill", 2.0, 5.2),
        ("headland", -41.0, 1.6),
        ("wood on the right", 36.0, 2.2),
        ("mole", -4.0, -7.9),
        ("crowd before the ropewalk", 110.0, 0.6),
        ("ropewalk", 118.0, 3.0),
        ("printed wall", -103.0, -5.0),
    ],
)
def test_power_falls_about_as_one_over_frequency_squared(
    scene: HarbourScene, what: str, left: float, top: float
) -> None:
    patch = scene.patch(left, top, 180.0, 512, 512)
    grey = cv2.cvtColor(patch, cv2.COLOR_RGB2GRAY).astype(np.float64)
    exponent = _power_exponent(np.log(grey + 0.01))
    assert 1.6 < exponent < 3.0, what


@pytest.mark.parametrize(
    ("what", "left", "top"),
    [("wood on the headland", -37.0, 0.8), ("mole", -4.0, -8.2)],
)
def test_it_does_so_for_the_longest_lens_too(
    scene: HarbourScene, what: str, left: float, top: float
) -> None:
    # Grown things only: dressed stone and faces are flat from so near, and fall with 3.0 to 3.3.
    patch = scene.patch(left, top, 2000.0, 512, 512)
    grey = cv2.cvtColor(patch, cv2.COLOR_RGB2GRAY).astype(np.float64)
    assert 1.6 < _power_exponent(np.log(grey + 0.01)) < 3.0, what
