"""Settings that should be the same in all frames of a shoot, as the files state them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any

import numpy as np

from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    SAME_EV,
    SAME_FOCUS,
    SAME_QUALITY,
    SET_ANEW_SHARE,
)
from belvedere.measure import exposure_value
from belvedere.shoot import Frame, Settings

_NAMED = 6
#: How far away "infinity" is written (`Settings.focus_distance_m`).
_INFINITE_M = 1e6

_OTHER_SETTINGS: tuple[tuple[str, Callable[[Settings], Hashable], str], ...] = (
    ("focal length", lambda settings: settings.focal_length_mm, "mm"),
    ("white balance", lambda settings: settings.white_balance, ""),
    ("flash", lambda settings: settings.flash_fired, ""),
    ("exposure mode", lambda settings: settings.exposure_mode, ""),
    ("focus distance", lambda settings: settings.focus_distance_m, "m"),
    ("JPEG quality", lambda settings: settings.jpeg_quality, ""),
)
#: What cameras set anew for each frame by themselves is worth one short sentence, or none.
_BY_ITSELF = {
    "focus distance": "focus was not locked: the camera focused anew, at {0} to {1}",
    "JPEG quality": "",  # files fitted to a size are nobody's fault
}
#: How far two stated values may lie apart and be the same.
_PLAY: dict[str, Callable[[Any, Any], bool]] = {
    "focus distance": lambda one, other: abs(one - other) <= SAME_FOCUS * other,
    "JPEG quality": lambda one, other: abs(one - other) <= SAME_QUALITY,
}


def settings_ev(frame: Frame) -> float | None:
    """How little light the stated settings give the picture, EV; None where they are silent."""
    settings = frame.settings
    return exposure_value(settings.exposure_time_s, settings.f_number, settings.iso)


def settings_in_words(frame: Frame) -> str:
    """Shutter time, aperture and sensitivity as a photographer writes them."""
    settings = frame.settings
    words = []
    if settings.exposure_time_s:
        time = settings.exposure_time_s
        words.append(f"1/{round(1.0 / time)} s" if time < 0.3 else f"{time:g} s")
    if settings.f_number:
        words.append(f"f/{settings.f_number:g}")
    if settings.iso:
        words.append(f"ISO {settings.iso:g}")
    return " ".join(words)


def judge_settings(
    frames: Sequence[Frame], cells: Mapping[str, tuple[int, int]] | None = None
) -> list[Finding]:
    """One finding for the exposure settings and one for each other setting that changed.

    `cells` are row and column by file, for the sentences.
    """
    cells = cells or {}
    findings = _exposure_settings(frames, cells)
    for name, read, unit in _OTHER_SETTINGS:
        says = _changes(frames, name, read, unit, cells)
        if says:
            findings.append(Finding("settings", says))
    return findings


def _changes(
    frames: Sequence[Frame],
    name: str,
    read: Callable[[Settings], Hashable],
    unit: str,
    cells: Mapping[str, tuple[int, int]],
) -> str:
    """A sentence on a setting that is not the same in all frames; "" where it is."""
    stated = [(value, frame) for frame in frames if (value := read(frame.settings)) is not None]
    counts = Counter(value for value, _ in stated)
    if len(counts) > 1 and name in _PLAY:
        usual = counts.most_common(1)[0][0]
        stated = [(usual if _PLAY[name](value, usual) else value, frame) for value, frame in stated]
        counts = Counter(value for value, _ in stated)
    if len(counts) < 2:
        return ""
    if name in _BY_ITSELF and counts.most_common(1)[0][1] <= SET_ANEW_SHARE * len(stated):
        least, most = (_shown(of(counts), unit) for of in (min, max))  # type: ignore[type-var]
        return _BY_ITSELF[name].format(least, most)
    usual, often = counts.most_common(1)[0]
    others = [
        (_shown(value, unit), _place(frame, cells)) for value, frame in stated if value != usual
    ]
    return f"{name} changes: {_shown(usual, unit)} in {_frames(often)}, but {_list(others)}"


def _exposure_settings(
    frames: Sequence[Frame], cells: Mapping[str, tuple[int, int]]
) -> list[Finding]:
    stated = [(value, frame) for frame in frames if (value := settings_ev(frame)) is not None]
    if not stated:
        return []
    values = np.array([value for value, _ in stated])
    extent = float(np.ptp(values))
    if extent < SAME_EV:
        return _traded(frames, cells)
    alike = np.abs(values[:, None] - values[None, :]) < SAME_EV
    usual = int(alike.sum(axis=1).argmax())
    often = int(alike[usual].sum())
    many = len({round(float(value) / SAME_EV / 2.0) for value in values}) > _NAMED
    if many or _NAMED < len(values) - often > often:
        dark, bright = (stated[int(place)][1] for place in (values.argmax(), values.argmin()))
        says = (
            f"exposure was not locked: {_frames(len(stated))} differ by up to {extent:.2f} EV, "
            f"from {dark.file} ({settings_in_words(dark)}) to {bright.file} "
            f"({settings_in_words(bright)}); lock it before you shoot again"
        )
    else:
        others = [
            (
                f"{settings_in_words(frame)}, {values[usual] - value:+.2f} EV",
                _place(frame, cells),
            )
            for number, (value, frame) in enumerate(stated)
            if not alike[usual, number]
        ]
        says = (
            f"exposure was not locked: {settings_in_words(stated[usual][1])} in {_frames(often)}, "
            f"but {_list(others)}"
        )
    return [Finding("settings", says, value=round(extent, 2), unit="EV")]


def _traded(frames: Sequence[Frame], cells: Mapping[str, tuple[int, int]]) -> list[Finding]:
    """One setting traded for another: the same exposure, but other depth of field or noise."""
    aperture = _changes(frames, "aperture", lambda settings: settings.f_number, "f/", cells)
    if aperture:
        return [Finding("settings", aperture)]
    iso = _changes(frames, "ISO", lambda settings: settings.iso, "", cells)
    return [Finding("settings", iso)] if iso else []


def _place(frame: Frame, cells: Mapping[str, tuple[int, int]]) -> str:
    """A frame by its file and, where it is known, its cell."""
    if frame.file not in cells:
        return frame.file
    row, column = cells[frame.file]
    return f"{frame.file} (row {row}, column {column})"


def _frames(count: int) -> str:
    return "1 frame" if count == 1 else f"{count} frames"


def _list(others: Sequence[tuple[str, str]]) -> str:
    named = "; ".join(f"{file}: {shown}" for shown, file in others[:_NAMED])
    more = len(others) - _NAMED
    return f"{named}; and {more} more" if more > 0 else named


def _shown(value: Hashable, unit: str) -> str:
    if isinstance(value, bool):
        return "fired" if value else "not fired"
    if unit == "m" and isinstance(value, float) and value >= _INFINITE_M:
        return "infinity"
    if isinstance(value, float | int):
        return f"{unit}{value:g}" if unit == "f/" else f"{value:g} {unit}".strip()
    return str(value)
