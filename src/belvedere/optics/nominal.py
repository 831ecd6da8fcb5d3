"""The marks on a camera's dials, a third of a stop apart, and how they are written.

Marks are rounded (f/5.6 is 5.657, 1/60 s is 1/64 s); calculations take the mark as it stands,
which is right to a tenth of a stop or so. The series are those that cameras show, from memory;
those of ISO follow the preferred numbers of ISO 5800 and ISO 12232, from memory.
"""

from __future__ import annotations

import math

from belvedere.optics.demands import demand_positive

NOMINAL_F_NUMBERS: tuple[float, ...] = (
    *(0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0),
    *(5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0),
    *(36.0, 40.0, 45.0, 51.0, 57.0, 64.0),
)

_FRACTIONS = (
    *(32000, 25000, 20000, 16000, 12800, 10000, 8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600),
    *(1250, 1000, 800, 640, 500, 400, 320, 250, 200, 160, 125, 100, 80, 60, 50, 40, 30, 25, 20),
    *(15, 13, 10, 8, 6, 5, 4),
)
_LONGER_S = (
    *(0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.3, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 15.0),
    *(20.0, 25.0, 30.0),
)
NOMINAL_SHUTTERS_S: tuple[float, ...] = (*(1.0 / n for n in _FRACTIONS), *_LONGER_S)

NOMINAL_ISOS: tuple[float, ...] = (
    *(50.0, 64.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 320.0, 400.0, 500.0, 640.0, 800.0),
    *(1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3200.0, 4000.0, 5000.0, 6400.0, 8000.0, 10000.0),
    *(12800.0, 16000.0, 20000.0, 25600.0, 32000.0, 40000.0, 51200.0, 64000.0, 80000.0, 102400.0),
)


def nominal_f_numbers(widest: float | None = None, narrowest: float | None = None) -> list[float]:
    """The marks from `widest` to `narrowest`, both included; the whole scale without them."""
    low = NOMINAL_F_NUMBERS[0] if widest is None else widest
    high = NOMINAL_F_NUMBERS[-1] if narrowest is None else narrowest
    return [mark for mark in NOMINAL_F_NUMBERS if low <= mark <= high]


def nearest_nominal_f_number(f_number: float) -> float:
    """The mark nearest in stops."""
    demand_positive(f_number, "The f-number")
    return _nearest(f_number, NOMINAL_F_NUMBERS)


def nearest_nominal_shutter_s(shutter_s: float) -> float:
    """The mark nearest in stops; beyond 30 s, where dials end, whole seconds."""
    demand_positive(shutter_s, "The exposure time", "s")
    if shutter_s > NOMINAL_SHUTTERS_S[-1]:
        return float(round(shutter_s))
    return _nearest(shutter_s, NOMINAL_SHUTTERS_S)


def nearest_nominal_iso(iso: float) -> float:
    """The mark nearest in stops."""
    demand_positive(iso, "The ISO speed")
    return _nearest(iso, NOMINAL_ISOS)


def shutter_words(shutter_s: float) -> str:
    """An exposure time as photographers write it: "1/250 s", "0.5 s", "2 s"."""
    demand_positive(shutter_s, "The exposure time", "s")
    parts = round(1.0 / shutter_s)
    # From 0.3 s on, and between the few fractions above 1/10 s, decimals say it better.
    if shutter_s < 0.3 and (parts >= 10 or abs(parts * shutter_s - 1.0) < 0.02):
        return f"1/{parts} s"
    return f"{_decimals(shutter_s)} s"


def f_number_words(f_number: float) -> str:
    """An aperture as photographers write it: "f/5.6", "f/8"."""
    demand_positive(f_number, "The f-number")
    return f"f/{_decimals(f_number)}"


def _nearest(value: float, marks: tuple[float, ...]) -> float:
    return min(marks, key=lambda mark: abs(math.log(mark / value)))


def _decimals(value: float) -> str:
    return f"{value:.{2 if value < 1.0 else 1}f}".rstrip("0").rstrip(".")
