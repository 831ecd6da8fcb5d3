"""Settings that should be the same in all frames of a shoot, as the files state them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence

import numpy as np

from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    SAME_EV,
)
from belvedere.measure import exposure_value
from belvedere.shoot import Frame, Settings

_NAMED = 6

_OTHER_SETTINGS: tuple[tuple[str, Callable[[Settings], Hashable], str], ...] = (
    ("focal length", lambda settings: settings.focal_length_mm, "mm"),
    ("white balance", lambda settings: settings.white_balance, ""),
    ("flash", lambda settings: settings.flash_fired, ""),
    ("exposure mode", lambda settings: settings.exposure_mode, ""),
)


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


def judge_settings(frames: Sequence[Frame]) -> list[Finding]:
    """One finding for the exposure settings and one for each other setting that changed."""
    findings = _exposure_settings(frames)
    for name, read, unit in _OTHER_SETTINGS:
        stated = [
            (value, frame.file) for frame in frames if (value := read(frame.settings)) is not None
        ]
        counts = Counter(value for value, _ in stated)
        if len(counts) > 1:
            usual, often = counts.most_common(1)[0]
            others = [(_shown(value, unit), file) for value, file in stated if value != usual]
            says = f"{name} changes: {_shown(usual, unit)} in {_frames(often)}, but {_list(others)}"
            findings.append(Finding("settings", says))
    return findings


def _exposure_settings(frames: Sequence[Frame]) -> list[Finding]:
    stated = [(value, frame) for frame in frames if (value := settings_ev(frame)) is not None]
    if not stated:
        return []
    values = np.array([value for value, _ in stated])
    extent = float(np.ptp(values))
    if extent < SAME_EV:
        return _traded(frames)
    alike = np.abs(values[:, None] - values[None, :]) < SAME_EV
    usual = int(alike.sum(axis=1).argmax())
    often = int(alike[usual].sum())
    if len({round(float(value) / SAME_EV / 2.0) for value in values}) > _NAMED:
        dark, bright = (stated[int(place)][1] for place in (values.argmax(), values.argmin()))
        says = (
            f"exposure was not locked: {_frames(len(stated))} differ by up to {extent:.2f} EV, "
            f"from {dark.file} ({settings_in_words(dark)}) to {bright.file} "
            f"({settings_in_words(bright)})"
        )
    else:
        others = [
            (f"{settings_in_words(frame)}, {values[usual] - value:+.2f} EV", frame.file)
            for number, (value, frame) in enumerate(stated)
            if not alike[usual, number]
        ]
        says = (
            f"exposure was not locked: {settings_in_words(stated[usual][1])} in {_frames(often)}, "
            f"but {_list(others)}"
        )
    return [Finding("settings", says, value=round(extent, 2), unit="EV")]


def _traded(frames: Sequence[Frame]) -> list[Finding]:
    """Aperture traded for time: the same exposure with another depth of field."""
    stated = [frame for frame in frames if frame.settings.f_number]
    counts = Counter(frame.settings.f_number for frame in stated)
    if len(counts) < 2:
        return []
    usual, often = counts.most_common(1)[0]
    others = [
        (f"f/{frame.settings.f_number:g}", frame.file)
        for frame in stated
        if frame.settings.f_number != usual
    ]
    says = f"aperture changes: f/{usual:g} in {_frames(often)}, but {_list(others)}"
    return [Finding("settings", says)]


def _frames(count: int) -> str:
    return "1 frame" if count == 1 else f"{count} frames"


def _list(others: Sequence[tuple[str, str]]) -> str:
    named = "; ".join(f"{file}: {shown}" for shown, file in others[:_NAMED])
    more = len(others) - _NAMED
    return f"{named}; and {more} more" if more > 0 else named


def _shown(value: Hashable, unit: str) -> str:
    if isinstance(value, bool):
        return "fired" if value else "not fired"
    if isinstance(value, float | int):
        return f"{value:g} {unit}".strip()
    return str(value)
