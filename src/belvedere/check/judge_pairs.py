"""Every overlap measured once: registration, detail, brightness and colour, as plain numbers."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from belvedere.check.pair_notes import (
    DetailEvidence,
    FrameNotes,
    FrameTone,
    Look,
    PairMemory,
    PairNotes,
    is_corner,
    look_at,
    measure_pair,
    side_key,
    tone_shrink,
    wants_corners,
)
from belvedere.check.thresholds import (
    LEAST_EVIDENCE,
    LEAST_PATCHES,
    LEAST_SAMPLES,
    PATCH_DOUBT_PX2,
    TINT_DOUBT,
)
from belvedere.foundation import CardError, Progress, Steps
from belvedere.measure import (
    FrameSource,
    Overlap,
    ToneDifference,
    TonePicture,
    edge_blur_px,
    joined,
    solve_detail,
    tone_difference,
    tone_picture,
)
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

__all__ = ["Desk", "DetailEvidence", "Evidence", "PairEvidence", "measure_pairs"]

#: Pictures kept in memory between overlaps, bytes: two rows of a large grid, mostly.
_MEMORY = 250_000_000
#: Pictures of frames' own colours that are kept; each has about 2 MB.
_TONES = 48
#: So many frames tell the camera's noise.
_NOISE_FRAMES = 12
#: Overlaps whose detail is solved together.
_TOGETHER = 64


@dataclass(frozen=True, slots=True)
class PairEvidence:
    """What one overlap says of its two frames, `a` and `b` being their indices.

    `shift_px` (2,) is where the centre of b lies, seen from the centre of a. `overlap_share` is
    the share of a's width and height that b repeats. `misfit_px` is how far registered patches
    lie off a smooth mapping (the upper quartile). `detail` is None where there was nothing to
    judge.
    """

    a: int
    b: int
    registered: bool
    textured: float
    shift_px: FloatArray
    overlap_share: tuple[float, float]
    misfit_px: float
    patches: int
    detail: DetailEvidence | None
    tone: ToneDifference


@dataclass(frozen=True, slots=True)
class Evidence:
    """All pairs, what single frames say of themselves, and the files that could not be decoded.

    `edge_blur_px` is there for frames without an overlap and for a few that stand for the shoot.
    """

    pairs: tuple[PairEvidence, ...]
    tones: dict[int, FrameTone]
    edge_blur_px: dict[int, float]
    undecodable: dict[int, str]


def measure_pairs(
    frames: Sequence[Frame],
    overlaps: Sequence[Overlap],
    source: FrameSource,
    memory: PairMemory | None = None,
) -> Steps[Evidence]:
    """Measure every overlap between undamaged frames, in an order that reads each frame once.

    What `memory` holds of them already is not measured again, and no file is opened for it; what
    is new goes into it.
    """
    memory = PairMemory() if memory is None else memory
    usable = _usable(frames, overlaps)
    desk = Desk(frames, source, memory)
    pairs: list[tuple[int, int, PairNotes]] = []
    corners: list[tuple[int, int, PairNotes]] = []
    sides: dict[str, int] = {}
    for done, (a, b, overlap) in enumerate(usable):
        yield Progress("judging", done, len(usable), "overlaps", frames[a].file)
        corner = _corner(frames[a], overlap)
        if corner and not wants_corners(sides, frames[a], frames[b]):
            continue
        notes = memory.pair(frames[a], frames[b], overlap.b_from_a)
        if notes is None:
            look_a, look_b = desk.look(a), desk.look(b)
            if look_a is None or look_b is None:
                continue
            notes = measure_pair(look_a, look_b, overlap.b_from_a, overlap.support)
            memory.keep_pair(frames[a], frames[b], notes)
        (corners if corner else pairs).append((a, b, notes))
        if not corner and notes.powers is not None:
            for key in (side_key(frames[a]), side_key(frames[b])):
                sides[key] = sides.get(key, 0) + 1
    pairs += [one for one in corners if wants_corners(sides, frames[one[0]], frames[one[1]])]
    pairs = [(a, b, _in_own_colours(desk, frames, a, b, notes)) for a, b, notes in pairs]
    met = sorted({number for a, b, _ in pairs for number in (a, b)})
    usual_noise = 1.5 * _usual_noise(desk, met)
    edges = _edges(frames, met, desk)
    yield Progress("judging", len(usable), len(usable), "overlaps")
    tones = {
        number: known.tone
        for number, frame in enumerate(frames)
        if not frame.damage and (known := memory.frame(frame)) is not None
    }
    evidence = tuple(_solved(frames, pairs, memory, usual_noise))
    return Evidence(evidence, tones, edges, desk.undecodable)


def _usable(frames: Sequence[Frame], overlaps: Sequence[Overlap]) -> list[tuple[int, int, Overlap]]:
    index = {frame.file: number for number, frame in enumerate(frames)}
    usable = [
        (index[overlap.file_a], index[overlap.file_b], overlap)
        for overlap in overlaps
        if overlap.file_a in index
        and overlap.file_b in index
        and overlap.file_a != overlap.file_b
        and not frames[index[overlap.file_a]].damage
        and not frames[index[overlap.file_b]].damage
    ]
    # Frame by frame, sides before corners.
    usable.sort(key=lambda item: (max(item[:2]), _corner(frames[item[0]], item[2]), min(item[:2])))
    return usable


def _corner(a: Frame, overlap: Overlap) -> bool:
    return is_corner(overlap.b_from_a, a.width_px, a.height_px)


def _in_own_colours(
    desk: Desk, frames: Sequence[Frame], a: int, b: int, notes: PairNotes
) -> PairNotes:
    """A pair whose thumbnails differ in tint, by what its frames themselves show."""
    if not notes.tinted or len(notes.tone.tint) < LEAST_SAMPLES:
        return notes
    if np.abs(np.median(notes.tone.tint, axis=0)).max() <= TINT_DOUBT:
        return notes
    tone_a, tone_b = desk.tone(a), desk.tone(b)
    if tone_a is None or tone_b is None:
        return notes
    own = replace(notes, tone=tone_difference(tone_a, tone_b, notes.mapping), tinted=False)
    desk.memory.keep_pair(frames[a], frames[b], own)
    return own


class Desk:
    """Frames made ready, the latest kept; each is read once when overlaps come in sweep order."""

    def __init__(self, frames: Sequence[Frame], source: FrameSource, memory: PairMemory) -> None:
        self._frames = frames
        self._source = source
        self.memory = memory
        self._kept: OrderedDict[int, Look] = OrderedDict()
        self._tones: OrderedDict[int, TonePicture] = OrderedDict()
        self.undecodable: dict[int, str] = {}

    def look(self, number: int) -> Look | None:
        """The frame made ready; None where its file cannot be decoded."""
        if number in self.undecodable:
            return None
        if number in self._kept:
            self._kept.move_to_end(number)
            return self._kept[number]
        frame = self._frames[number]
        try:
            grey = self._source.grey(frame.file)
            shrink = tone_shrink(max(grey.shape))
            look = look_at(grey, self._source.colour(frame.file, shrink), shrink)
        except CardError as error:
            self.undecodable[number] = error.says
            return None
        self.memory.keep_frame(frame, look.notes)
        self._kept[number] = look
        room = max(4, _MEMORY // look.nbytes)
        while len(self._kept) > room:
            self._kept.popitem(last=False)
        return look

    def tone(self, number: int) -> TonePicture | None:
        """The frame's own colours, whatever its thumbnail shows; None where there are none."""
        if number in self._tones:
            self._tones.move_to_end(number)
            return self._tones[number]
        frame = self._frames[number]
        shrink = tone_shrink(max(frame.width_px, frame.height_px))
        try:
            tone = tone_picture(self._source.colour(frame.file, shrink), shrink)
        except CardError:
            return None
        self._tones[number] = tone
        if len(self._tones) > _TONES:
            self._tones.popitem(last=False)
        return tone

    def notes(self, number: int) -> FrameNotes | None:
        """What the frame says by itself; it is read where that is not known yet."""
        known = self.memory.frame(self._frames[number])
        if known is not None:
            return known
        look = self.look(number)
        return None if look is None else look.notes

    def edge_blur_px(self, number: int) -> float | None:
        """The blur of the frame's sharpest edges; None where it has too few."""
        known = self.memory.edges(self._frames[number])
        if known is not None:
            return known if np.isfinite(known) else None
        look = self.look(number)
        if look is None:
            return None
        blur_px = edge_blur_px(look.picture.grey)
        self.memory.keep_edges(self._frames[number], np.nan if blur_px is None else blur_px)
        return blur_px


def _edges(frames: Sequence[Frame], met: Sequence[int], desk: Desk) -> dict[int, float]:
    """Edge blur of frames without an overlap, and of a few that stand for the shoot."""
    others = set(met)
    alone = [n for n, frame in enumerate(frames) if n not in others and not frame.damage]
    known = [n for n in met if desk.memory.edges(frames[n]) is not None]
    asked = alone + (known if len(known) >= 3 else list(met[:: max(1, len(met) // 3)]))
    blurs = {number: desk.edge_blur_px(number) for number in asked}
    return {number: blur_px for number, blur_px in blurs.items() if blur_px is not None}


def _usual_noise(desk: Desk, numbers: Sequence[int]) -> FloatArray:
    """The camera's noise (4, bands) from frames spread over the shoot: their lower quartile."""
    spread = numbers[:: max(1, len(numbers) // _NOISE_FRAMES)]
    notes = [known for number in spread if (known := desk.notes(number)) is not None]
    if not notes:
        return np.zeros((4, 1))
    quartile: FloatArray = np.quantile([known.noise for known in notes], 0.25, axis=0)
    return quartile


def _solved(
    frames: Sequence[Frame],
    pairs: Sequence[tuple[int, int, PairNotes]],
    memory: PairMemory,
    usual_noise: FloatArray,
) -> Iterator[PairEvidence]:
    """Evidence of pairs; the detail of many is solved together."""
    waiting = iter(pairs)
    while portion := list(islice(waiting, _TOGETHER)):
        details = _details(frames, portion, memory, usual_noise)
        for (a, b, notes), detail in zip(portion, details, strict=True):
            yield PairEvidence(
                a,
                b,
                notes.registered,
                notes.textured,
                notes.shift_px,
                notes.overlap_share,
                notes.misfit_px,
                notes.patches,
                notes.drowned if notes.powers is None else detail,
                notes.tone,
            )


def _details(
    frames: Sequence[Frame],
    pairs: Sequence[tuple[int, int, PairNotes]],
    memory: PairMemory,
    usual_noise: FloatArray,
) -> list[DetailEvidence | None]:
    details: list[DetailEvidence | None] = [None] * len(pairs)
    powers, noises, counts, places = [], [], [], []
    for place, (a, b, notes) in enumerate(pairs):
        if notes.powers is None:
            continue
        own = [known.noise for n in (a, b) if (known := memory.frame(frames[n])) is not None]
        noises.append(np.minimum.reduce([usual_noise, *own]))
        powers.append(notes.powers)
        counts.append(len(notes.powers))
        places.append(place)
    if not powers:
        return details
    compared = solve_detail(joined(powers), np.repeat(np.array(noises), counts, axis=0))
    ends = np.cumsum(counts)
    for place, first, last in zip(places, ends - counts, ends, strict=True):
        details[place] = _detail(compared.blur_px2[first:last], compared.evidence[first:last])
    return details


def _detail(blur_px2: FloatArray, evidence: FloatArray) -> DetailEvidence | None:
    """One overlap's difference from those of its patches, (n, 4) each."""
    middle, spread = np.zeros(4), np.full(4, np.inf)
    for sector in range(4):
        values = np.sort(blur_px2[evidence[:, sector] > LEAST_EVIDENCE, sector])
        if len(values) < LEAST_PATCHES:
            continue
        low, middle[sector], high = _quarters(values)
        # Patches half overlap their neighbours: about a third of them are independent.
        own = 1.25 * (high - low) / 1.349 / np.sqrt(max(1.0, len(values) / 3.0))
        own += 0.02 + PATCH_DOUBT_PX2 / np.sqrt(len(values))
        spread[sector] = np.hypot(own, 0.1 * abs(middle[sector]))
    return DetailEvidence(middle, spread) if np.isfinite(spread).any() else None


def _quarters(ordered: FloatArray) -> tuple[float, float, float]:
    """Lower quartile, median and upper quartile of ordered values (n,)."""
    last = len(ordered) - 1
    quarters = []
    for share in (0.25, 0.5, 0.75):
        place = share * last
        low = int(place)
        high = min(low + 1, last)
        quarters.append(float(ordered[low] + (ordered[high] - ordered[low]) * (place - low)))
    return quarters[0], quarters[1], quarters[2]
