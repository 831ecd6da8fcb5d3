"""A simulated sensor: photons counted, what the dark adds, pixels that are wrong, whole numbers."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from belvedere.rehearse.camera_model import NORMAL_ISO, CameraTraits, Flicker

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]
Numbers = NDArray[np.uint16]

#: Dark current of hot pixels: the middle one's, electrons a second, and the spread (of its ln).
#: About what small sensors show at room temperature (common practice, no source).
_HOT_E_S, _HOT_SPREAD = 60.0, 1.0
_HOT, _BAD = 11, 12  # random streams of the camera's seed


@dataclass(frozen=True, slots=True)
class Counting:
    """How a sensor counts during one exposure, electrons as a share of those at white.

    `well_e` is what fills the sensor at the ISO in use; `still_variance` is all noise but that
    of the photons; `dark` is what the dark adds to the mean.
    """

    well_e: float
    still_variance: float
    dark: float
    largest: int


def counting(traits: CameraTraits, iso: float, exposure_s: float, dark_frame: bool) -> Counting:
    """The noise of one exposure.

    J. R. Janesick, "Photon Transfer", SPIE Press 2007: the variance in electrons is the mean, of
    photons and of dark current, plus the square of the read noise. Gain by ISO uses only a part
    of the well. A dark frame takes the mean of the dark away and brings its noise once more.
    """
    well_e = traits.full_well_e * NORMAL_ISO / iso
    dark_e = traits.dark_current_e_s * exposure_s
    still_e2 = (traits.read_noise_e**2 + dark_e) * (2.0 if dark_frame else 1.0)
    return Counting(
        well_e, still_e2 / well_e**2, 0.0 if dark_frame else dark_e / well_e, 2**traits.bits - 1
    )


def counted(light: LinearImage, how: Counting, rng: np.random.Generator) -> LinearImage:
    """Light, 0 to 1 at white, as the sensor counts it; not yet cut at black and white.

    Photon counts are taken as normal, which holds above some twenty electrons.
    """
    lots = rng.integers(0, len(_NORMAL), light.shape, dtype=np.uint16)
    noisy: LinearImage = cv2.LUT(lots, _NORMAL).astype(np.float32, copy=False)
    deviation = np.maximum(light, np.float32(0.0))
    deviation *= np.float32(1.0 / how.well_e)
    deviation += np.float32(how.still_variance)
    noisy *= np.sqrt(deviation, out=deviation)
    noisy += light
    if how.dark > 0.0:
        noisy += np.float32(how.dark)
    return noisy


def _equally_likely_normals(count: int) -> LinearImage:
    """So many values, ascending, that stand for the normal distribution: (count,).

    Each is the mean of an equal share of it (for z between a and b that is φ(a) - φ(b) over the
    share); what the shares lose of the variance, below 1 in 10,000, is given back.
    """
    edges = ndtri(np.linspace(0.0, 1.0, count + 1))
    density = np.exp(-0.5 * edges**2) / np.sqrt(2.0 * np.pi)
    means = -np.diff(density) * count
    return np.asarray(means / means.std(), dtype=np.float32)


#: A lot of 16 bits is quicker to draw than a normal number: it says which of these it is.
_NORMAL = _equally_likely_normals(1 << 16)


def numbers(signal: LinearImage, how: Counting) -> Numbers:
    """Whole numbers from black, 0, to white, the largest one; `signal` is used up."""
    signal *= np.float32(how.largest)
    signal += np.float32(0.5)
    np.clip(signal, 0.0, np.float32(how.largest), out=signal)
    return signal.astype(np.uint16)


@dataclass(frozen=True, slots=True)
class WrongPixels:
    """Pixels that add something, and pixels that say the same whatever they see.

    `rows`, `columns`, `channels` (n,) say where, `values` (n,) what: with `added` true it goes on
    top of the signal, else it takes its place. Sorted by row.
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    channels: NDArray[np.int64]
    values: LinearImage
    added: NDArray[np.bool_]

    def put_into(self, signal: LinearImage, top: int) -> None:
        """Change the strip of rows from `top` on."""
        first, last = np.searchsorted(self.rows, [top, top + signal.shape[0]])
        if first == last:
            return
        part = slice(int(first), int(last))
        place = self.rows[part] - top, self.columns[part], self.channels[part]
        signal[place] = np.where(self.added[part], signal[place], 0.0) + self.values[part]


def wrong_pixels(
    traits: CameraTraits,
    shape: tuple[int, int],
    how: Counting,
    exposure_s: float,
    dark_frame: bool,
    rng: np.random.Generator,
) -> WrongPixels:
    """The hot and the bad pixels of a camera, (height, width), in one exposure.

    Where they lie and how hot they run is the camera's; `rng` is the noise of this exposure.
    Dark frames take hot pixels away, and leave their noise twice.
    """
    hot_at, hot_e_s = _hot(traits, shape)
    hot_e = hot_e_s * exposure_s
    noise_e = rng.standard_normal(len(hot_e)) * np.sqrt(hot_e * (2.0 if dark_frame else 1.0))
    glow = ((0.0 if dark_frame else hot_e) + noise_e) / how.well_e
    bad_at, stuck = _bad(traits, shape)
    at = np.concatenate([hot_at, bad_at], axis=1)
    values = np.concatenate([glow, stuck]).astype(np.float32)
    added = np.arange(len(values)) < len(glow)
    order = np.argsort(at[0], kind="stable")
    rows, columns, channels = at[:, order]
    return WrongPixels(rows, columns, channels, values[order], added[order])


def flicker_of_rows(
    flicker: Flicker, rows: int, exposure_s: float, readout_s: float
) -> LinearImage:
    """What each row gets of a light that follows the mains, (rows,), 1 on average.

    Rows open one after the other over `readout_s`; each takes the mean of the light over its own
    exposure, ``sinc(2 f t)`` of the swing for lamps that are brightest at twice the mains' f.
    """
    twice_hz = 2.0 * flicker.mains_hz
    opens_s = np.arange(rows) / rows * readout_s
    kept = np.sinc(twice_hz * exposure_s)
    turns = twice_hz * (opens_s + exposure_s / 2.0) + flicker.phase
    share = 1.0 + flicker.depth * kept * np.cos(2.0 * np.pi * turns)
    return np.asarray(share, dtype=np.float32)


def _hot(traits: CameraTraits, shape: tuple[int, int]) -> tuple[NDArray[np.int64], FloatArray]:
    rng = np.random.default_rng([traits.camera_seed, _HOT])
    at = _places(rng, traits.hot_pixels_per_mp, shape)
    return at, np.asarray(rng.lognormal(np.log(_HOT_E_S), _HOT_SPREAD, at.shape[1]))


def _bad(traits: CameraTraits, shape: tuple[int, int]) -> tuple[NDArray[np.int64], FloatArray]:
    rng = np.random.default_rng([traits.camera_seed, _BAD])
    at = _places(rng, traits.bad_pixels_per_mp, shape)
    return at, np.asarray(rng.integers(0, 2, at.shape[1]), dtype=np.float64)


def _places(rng: np.random.Generator, per_mp: float, shape: tuple[int, int]) -> NDArray[np.int64]:
    """Row, column and colour of so many pixels, (3, n)."""
    count = round(per_mp * shape[0] * shape[1] / 1e6)
    return np.stack([rng.integers(0, size, count) for size in (*shape, 3)])
