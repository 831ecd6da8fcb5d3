"""From the head's contact to a file on the card: what a camera does with each release asked for.

The order of events in a camera: self-timer, shutter lag (with autofocus, where it is on), exposure,
dark frame, processing, review; then the file waits in the buffer for the card, which takes its
time by the file's size and pauses now and then. A release asked for while the camera is busy, or
while more is unwritten than the buffer holds, is lost: nothing is written and no number is used
up. The planner's `missing_frames` gives the chance of that from the same order of events.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from belvedere.shoot import (
    USUAL_PROCESSING_S,
    USUAL_PROCESSING_SPREAD,
    USUAL_SHUTTER_LAG_S,
    CardWish,
    Cycle,
    Shoot,
    mean_file_mb,
    write_rate_mb_s,
)

FloatArray = NDArray[np.float64]

Trouble = Literal["asleep", "card full", "battery empty", "power pulled"]
Loss = Literal["busy", "buffer full", "asleep", "card full", "battery empty", "power pulled"]

_BYTES_PER_MB = 1e6
#: A billionth of a second: the clock's own rounding loses no frame.
_ROUNDING_S = 1e-9


@dataclass(frozen=True, slots=True)
class ChainTraits:
    """How quick a camera and its card are; as it stands, quick enough for any interval.

    Attributes
    ----------
    self_timer_s, shutter_lag_s
        From the contact to the open shutter, focus not counted.
    dark_frame_from_s
        From this exposure time on, a dark frame as long follows (long-exposure noise reduction);
        None for never.
    processing_s, processing_spread
        Mean of the processing, and the standard deviation of its logarithm.
    review_s
        For so long the picture stays on the display, and no release is obeyed.
    buffer_bytes
        So much may be unwritten when the next release is obeyed.
    write_bytes_per_s
        The card's rate.
    stall_probability, stall_s
        Chance per file that the card pauses, and for how long.
    sleeps_after_s, wakes_in_s
        After so long without anything to do the camera switches itself off: the next release wakes
        it, which takes so long, and is lost. None for never.
    free_bytes
        What the card still holds; None for more than enough.
    battery_frames
        For so many frames the battery lasts; None for more than enough.
    """

    self_timer_s: float = 0.0
    shutter_lag_s: float = 0.0
    dark_frame_from_s: float | None = None
    processing_s: float = 0.0
    processing_spread: float = 0.0
    review_s: float = 0.0
    buffer_bytes: float = 0.0
    write_bytes_per_s: float = math.inf
    stall_probability: float = 0.0
    stall_s: float = 0.0
    sleeps_after_s: float | None = None
    wakes_in_s: float = 1.5
    free_bytes: int | None = None
    battery_frames: int | None = None


@dataclass(frozen=True, slots=True)
class Request:
    """A release asked for, and the frame that it leads to if it is obeyed.

    Attributes
    ----------
    at_s
        The moment of the contact.
    exposure_s, focus_s
        What the frame takes; `focus_s` is 0 where focus is set by hand.
    size_bytes
        The size of the file.
    trouble
        What strikes the camera at this release, whatever its own state.
    kept
        With "power pulled": the share of the file that is written by then.
    """

    at_s: float
    exposure_s: float
    size_bytes: int
    focus_s: float = 0.0
    trouble: Trouble | None = None
    kept: float = 0.5


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a release; the moments are NaN where it was lost.

    `processed_at_s` is when the camera would obey again if the buffer is not full; `kept` the
    share of the file that is on the card.
    """

    lost: Loss | None
    opens_at_s: float = math.nan
    closes_at_s: float = math.nan
    processed_at_s: float = math.nan
    write_begins_s: float = math.nan
    written_at_s: float = math.nan
    kept: float = 0.0


def chain_of(shoot: Shoot) -> ChainTraits:
    """The camera and the card of a shoot file.

    What ``[cycle]`` and ``[card]`` leave out is taken as the planner takes it. A shoot file that
    says nothing of either gets a camera that is quick enough for any interval.
    """
    cycle, card = shoot.conditions.cycle, shoot.conditions.card
    if cycle == Cycle() and not _says_how_quick(card):
        return ChainTraits()
    rate_mb_s, _ = write_rate_mb_s(card)
    mean_mb, _ = mean_file_mb(shoot.camera, card)
    return ChainTraits(
        self_timer_s=cycle.self_timer_s,
        shutter_lag_s=_stated(cycle.shutter_lag_s, USUAL_SHUTTER_LAG_S),
        dark_frame_from_s=cycle.dark_frame_from_s,
        processing_s=_stated(cycle.processing_s, USUAL_PROCESSING_S),
        processing_spread=_stated(cycle.processing_spread, USUAL_PROCESSING_SPREAD),
        review_s=cycle.review_s,
        buffer_bytes=cycle.buffer_frames * mean_mb * _BYTES_PER_MB,
        write_bytes_per_s=rate_mb_s * _BYTES_PER_MB,
        stall_probability=card.stall_probability,
        stall_s=card.stall_s,
    )


def opening_delay_s(traits: ChainTraits, focus_s: float = 0.0) -> float:
    """From the contact to the open shutter."""
    return traits.self_timer_s + focus_s + traits.shutter_lag_s


def drawn_times_s(
    traits: ChainTraits, sizes_bytes: Sequence[int], rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """What processing and writing each file takes: two arrays (files,).

    Processing is log-normal around its mean; each file is written at the card's rate, and with a
    small chance the card pauses.
    """
    count, spread = len(sizes_bytes), traits.processing_spread
    noise, luck = rng.standard_normal(count), rng.random(count)
    processing_s = traits.processing_s * np.exp(spread * noise - 0.5 * spread**2)
    write_s = np.asarray(sizes_bytes, dtype=np.float64) / traits.write_bytes_per_s
    return processing_s, write_s + traits.stall_s * (luck < traits.stall_probability)


def run_chain(
    traits: ChainTraits,
    requests: Sequence[Request],
    processing_s: Sequence[float] | FloatArray,
    write_s: Sequence[float] | FloatArray,
) -> tuple[Outcome, ...]:
    """What becomes of each release, in the order of time.

    Parameters
    ----------
    processing_s, write_s
        What each frame takes if its release is obeyed, as `drawn_times_s` draws them.
    """
    camera = _Camera(traits)
    return tuple(
        camera.asked(request, float(processing), float(write))
        for request, processing, write in zip(requests, processing_s, write_s, strict=True)
    )


@dataclass(slots=True)
class _Camera:
    """The camera's state from release to release."""

    traits: ChainTraits
    ready_at_s: float = -math.inf
    written_at_s: float = -math.inf
    last_asked_s: float = -math.inf
    wakes_until_s: float = -math.inf
    used_bytes: int = 0
    frames: int = 0
    ended: Loss | None = None
    pulled: float | None = None

    def asked(self, request: Request, processing_s: float, write_s: float) -> Outcome:
        lost = self._lost(request)
        self.last_asked_s = request.at_s
        if request.trouble == "power pulled":
            self.pulled = request.kept
        if lost is not None:
            return Outcome(lost)
        return self._taken(request, processing_s, write_s)

    def _lost(self, request: Request) -> Loss | None:
        """Why the release is lost; None where it is obeyed."""
        now, traits = request.at_s, self.traits
        if self.ended is None:
            self.ended = self._ends(request)
        if self.ended is not None:
            return self.ended
        if request.trouble == "asleep" or self._sleeps(now):
            self.wakes_until_s = now + traits.wakes_in_s
            return "asleep"
        if now < self.wakes_until_s - _ROUNDING_S:
            return "asleep"
        if now < self.ready_at_s - _ROUNDING_S:
            return "busy"
        buffer_s = traits.buffer_bytes / traits.write_bytes_per_s
        if self.written_at_s - now > buffer_s + _ROUNDING_S:
            return "buffer full" if buffer_s > 0.0 else "busy"
        return None

    def _ends(self, request: Request) -> Loss | None:
        """What ends the shoot for good at this release."""
        traits = self.traits
        if request.trouble in ("card full", "battery empty"):
            return request.trouble
        if traits.battery_frames is not None and self.frames >= traits.battery_frames:
            return "battery empty"
        free = traits.free_bytes
        if free is not None and self.used_bytes + request.size_bytes > free:
            return "card full"
        return None

    def _sleeps(self, now: float) -> bool:
        after_s = self.traits.sleeps_after_s
        if after_s is None or math.isinf(self.last_asked_s):
            return False
        idle_since = max(self.ready_at_s, self.written_at_s, self.last_asked_s, self.wakes_until_s)
        return now - idle_since > after_s

    def _taken(self, request: Request, processing_s: float, write_s: float) -> Outcome:
        traits = self.traits
        opens = request.at_s + opening_delay_s(traits, request.focus_s)
        closes = opens + request.exposure_s
        from_s = traits.dark_frame_from_s
        dark_s = request.exposure_s if from_s is not None and request.exposure_s >= from_s else 0.0
        processed = closes + dark_s + processing_s + traits.review_s
        begins = max(self.written_at_s, processed)
        self.ready_at_s, self.written_at_s = processed, begins + write_s
        self.used_bytes += request.size_bytes
        self.frames += 1
        kept = 1.0
        if self.pulled is not None:
            kept, self.ended = self.pulled, "power pulled"
            self.written_at_s = begins + kept * write_s
        return Outcome(None, opens, closes, processed, begins, self.written_at_s, kept)


def _says_how_quick(card: CardWish) -> bool:
    return (
        card.write_mb_s is not None
        or card.speed_class is not None
        or card.stall_probability * card.stall_s > 0.0
    )


def _stated(value: float | None, usual: float) -> float:
    return usual if value is None else value
