"""What the settings say: a frame taken otherwise than the rest may be no part of the sweep."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.shoot import Frame

#: Chance that a test picture, or another foreign frame, has other settings than the sweep.
_FOREIGN_DIFFERS = 0.6
#: Least chance that a frame of the sweep has settings of its own: a fault to be found.
_SWEEP_DIFFERS = 0.02


def foreign_ratio(frames: Sequence[Frame]) -> NDArray[np.float64]:
    """Log likelihood ratio (T,) of "foreign" against "of the sweep" from the settings alone."""
    ratio = np.zeros(len(frames))
    for aspect in (_exposure, _optics):
        stated = [aspect(frame) for frame in frames]
        usual = Counter(stated).most_common(1)[0][0] if stated else None
        differs = np.array([value != usual for value in stated], dtype=bool)
        unstated = np.array([not any(value) for value in stated], dtype=bool)
        # Where the exposure is left to the camera most frames differ, and it says nothing.
        often = max(_SWEEP_DIFFERS, float(differs.mean()))
        if often >= _FOREIGN_DIFFERS:
            continue
        said = np.where(
            differs,
            np.log(_FOREIGN_DIFFERS / often),
            np.log((1.0 - _FOREIGN_DIFFERS) / (1.0 - often)),
        )
        ratio += np.where(unstated, 0.0, said)
    return ratio


def _exposure(frame: Frame) -> tuple[float | None, ...]:
    settings = frame.settings
    return (settings.exposure_time_s, settings.f_number, settings.iso)


def _optics(frame: Frame) -> tuple[object, ...]:
    settings = frame.settings
    return (settings.focal_length_mm, settings.white_balance, settings.flash_fired)
