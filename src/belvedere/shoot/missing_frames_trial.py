"""Simulated shoots: a camera that lives from release to release by the clock.

The judge of `missing_frames`, and written without it: no distribution is computed here, frames are
drawn and each release is obeyed or not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from belvedere.shoot.missing_frames import BusyTimes

FloatArray = NDArray[np.float64]


def draw_times_s(
    busy: BusyTimes, shoots: int, frames: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Busy time before the writing, and the writing, of each frame: two arrays (shoots, frames)."""
    spread = busy.processing_spread
    noise = rng.standard_normal((shoots, frames))
    before_s = busy.fixed_s + busy.processing_s * np.exp(spread * noise - 0.5 * spread**2)
    detail = draw_detail(busy, shoots, frames, rng)
    write_s = busy.write_s * np.exp(busy.write_spread * detail - 0.5 * busy.write_spread**2)
    if busy.stall_probability > 0.0:
        write_s += busy.stall_s * (rng.random((shoots, frames)) < busy.stall_probability)
    return before_s, write_s


def draw_detail(busy: BusyTimes, shoots: int, frames: int, rng: np.random.Generator) -> FloatArray:
    """How detailed each frame is, (shoots, frames): standard normal, alike between neighbours."""
    own = rng.standard_normal((shoots, frames))
    if busy.scene_share == 0.0:
        return own
    memory = busy.scene_memory
    fresh = rng.standard_normal((frames, shoots))
    scene = np.empty((frames, shoots))
    scene[0] = fresh[0]
    for frame in range(1, frames):
        scene[frame] = memory * scene[frame - 1] + np.sqrt(1.0 - memory**2) * fresh[frame]
    detail: FloatArray = np.sqrt(busy.scene_share) * scene.T + np.sqrt(1.0 - busy.scene_share) * own
    return detail


def lost_frames(
    release_s: ArrayLike, before_s: ArrayLike, write_s: ArrayLike, buffer_s: float
) -> NDArray[np.bool_]:
    """Which releases were not obeyed.

    Parameters
    ----------
    release_s, before_s, write_s
        Moment of each release, and what the frame costs if it is obeyed: shapes (…, frames) that
        broadcast against each other.
    buffer_s
        Seconds of writing that may be undone when a release is obeyed.
    """
    release, before, write = (
        np.moveaxis(np.asarray(values, dtype=np.float64), -1, 0)
        for values in (release_s, before_s, write_s)
    )
    shape = np.broadcast_shapes(release.shape[1:], before.shape[1:], write.shape[1:])
    idle_at = np.zeros(shape)
    written_at = np.zeros(shape)
    lost = np.empty((len(release), *shape), dtype=bool)
    for frame, now in enumerate(release):
        if frame == 0:
            idle_at += now
            written_at += now
        # A billionth of a second: the clock's own rounding loses no frame.
        obeyed = (now >= idle_at - 1e-9) & (written_at - now <= buffer_s + 1e-9)
        processed_at = now + before[frame]
        idle_at = np.where(obeyed, processed_at, idle_at)
        written_at = np.where(
            obeyed, np.maximum(written_at, processed_at) + write[frame], written_at
        )
        lost[frame] = ~obeyed
    return np.moveaxis(lost, 0, -1)


def simulated_probability(
    busy: BusyTimes, release_s: ArrayLike, shoots: int, rng: np.random.Generator
) -> FloatArray:
    """Share of simulated shoots that miss a frame, for each of several timetables.

    Parameters
    ----------
    release_s
        (timetables, frames): moments of release. All timetables meet the same draws.
    """
    release = np.asarray(release_s, dtype=np.float64)
    before_s, write_s = draw_times_s(busy, shoots, release.shape[-1], rng)
    lost = lost_frames(release[:, None, :], before_s, write_s, busy.buffer_s)
    share: FloatArray = lost.any(axis=-1).mean(axis=-1)
    return share
