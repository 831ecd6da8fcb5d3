"""Every overlap measured once: registration, detail, brightness and colour, as plain numbers."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.thresholds import (
    DROWNED_SHARE,
    LEAST_EVIDENCE,
    LEAST_PATCHES,
    PATCH_DOUBT_PX2,
)
from belvedere.foundation import CardError, Progress, Steps
from belvedere.measure import (
    FrameSource,
    Mapping,
    Overlap,
    Picture,
    Registration,
    ToneDifference,
    TonePicture,
    detail_difference,
    edge_blur_px,
    noise_spectrum,
    picture_of,
    register,
    tone_difference,
    tone_picture,
)
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]

#: Pictures kept in memory between overlaps, bytes: two rows of a large grid, mostly.
_MEMORY = 500_000_000
#: So many frames tell the camera's noise.
_NOISE_FRAMES = 12
#: Longer side of the small colour pictures, px, at least.
_TONE_SIDE_PX = 400


@dataclass(frozen=True, slots=True)
class DetailEvidence:
    """Blur variance of b less that of a in four sectors (4,), px², and its standard errors (4,).

    The error is inf in a sector where the scene shows nothing fine.
    """

    blur_px2: FloatArray
    spread_px2: FloatArray


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
class Look:
    """One frame, made ready for all its overlaps."""

    picture: Picture
    noise: FloatArray
    tone: TonePicture

    @property
    def nbytes(self) -> int:
        """What it holds of memory."""
        picture, tone = self.picture, self.tone
        arrays = (picture.grey, picture.small, picture.texture, tone.linear)
        return sum(array.nbytes for array in arrays) + 3 * tone.luma.nbytes


@dataclass(frozen=True, slots=True)
class FrameTone:
    """Shares of a frame that are almost black and blown out; `brightest` is a high percentile."""

    dark: float
    clipped: float


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
    frames: Sequence[Frame], overlaps: Sequence[Overlap], source: FrameSource
) -> Steps[Evidence]:
    """Measure every overlap between undamaged frames, in an order that reads each frame once."""
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
    usable.sort(key=lambda item: (max(item[0], item[1]), min(item[0], item[1])))
    desk = Desk(frames, source)
    usual_noise = 1.5 * _usual_noise(desk, sorted({end for a, b, _ in usable for end in (a, b)}))
    pairs: list[PairEvidence] = []
    for done, (a, b, overlap) in enumerate(usable):
        yield Progress("judging", done, len(usable), "overlaps", frames[a].file)
        look_a, look_b = desk.look(a), desk.look(b)
        if look_a is not None and look_b is not None:
            pairs.append(_measure(a, b, look_a, look_b, overlap, usual_noise))
    met = sorted({number for pair in pairs for number in (pair.a, pair.b)})
    alone = [n for n, frame in enumerate(frames) if n not in met and not frame.damage]
    edges: dict[int, float] = {}
    for number in alone + met[:: max(1, len(met) // 3)]:
        look = desk.look(number)
        blur_px = None if look is None else edge_blur_px(look.picture.grey)
        if blur_px is not None:
            edges[number] = blur_px
    yield Progress("judging", len(usable), len(usable), "overlaps")
    return Evidence(tuple(pairs), desk.tones, edges, desk.undecodable)


class Desk:
    """Frames made ready, the latest kept; each is read once when overlaps come in sweep order."""

    def __init__(self, frames: Sequence[Frame], source: FrameSource) -> None:
        self._frames = frames
        self._source = source
        self._kept: OrderedDict[int, Look] = OrderedDict()
        self.tones: dict[int, FrameTone] = {}
        self.undecodable: dict[int, str] = {}

    def look(self, number: int) -> Look | None:
        """The frame made ready; None where its file cannot be decoded."""
        if number in self.undecodable:
            return None
        if number in self._kept:
            self._kept.move_to_end(number)
            return self._kept[number]
        file = self._frames[number].file
        try:
            picture = picture_of(self._source.grey(file))
            shrink = _tone_shrink(max(picture.width_px, picture.height_px))
            tone = tone_picture(self._source.colour(file, shrink), shrink)
        except CardError as error:
            self.undecodable[number] = error.says
            return None
        self.tones[number] = FrameTone(tone.dark, tone.clipped)
        look = Look(picture, noise_spectrum(picture), tone)
        self._kept[number] = look
        room = max(4, _MEMORY // look.nbytes)
        while len(self._kept) > room:
            self._kept.popitem(last=False)
        return look


def _usual_noise(desk: Desk, numbers: Sequence[int]) -> FloatArray:
    """The camera's noise (4, bands) from frames spread over the shoot: their lower quartile."""
    spread = numbers[:: max(1, len(numbers) // _NOISE_FRAMES)]
    looks = [look for number in spread if (look := desk.look(number)) is not None]
    if not looks:
        return np.zeros((4, 1))
    quartile: FloatArray = np.quantile([look.noise for look in looks], 0.25, axis=0)
    return quartile


def _tone_shrink(longer_px: int) -> int:
    return next((shrink for shrink in (8, 4, 2) if longer_px / shrink >= _TONE_SIDE_PX), 1)


def _measure(
    a: int, b: int, look_a: Look, look_b: Look, overlap: Overlap, usual_noise: FloatArray
) -> PairEvidence:
    picture_a, picture_b = look_a.picture, look_b.picture
    found = register(picture_a, picture_b, overlap.b_from_a)
    size_a = np.array([picture_a.width_px, picture_a.height_px], dtype=np.float64)
    size_b = np.array([picture_b.width_px, picture_b.height_px], dtype=np.float64)
    faithful = found.peak > 0.3
    residual = found.residual_px[faithful & np.isfinite(found.residual_px)]
    return PairEvidence(
        a,
        b,
        found.registered,
        found.textured,
        _centre_shift(found.mapping, size_a, size_b),
        (found.overlap_px[0] / size_a[0], found.overlap_px[1] / size_a[1]),
        float(np.percentile(residual, 75)) if len(residual) else 0.0,
        len(found.peak),
        _detail(look_a, look_b, found, usual_noise),
        tone_difference(look_a.tone, look_b.tone, found.mapping),
    )


def _centre_shift(mapping: Mapping, size_a: FloatArray, size_b: FloatArray) -> FloatArray:
    """Where b's centre lies seen from a's, by the mapping near the middle of the overlap."""
    point = mapping.origin[None]
    shift: FloatArray = (point - mapping(point))[0] + (size_b - size_a) / 2.0
    return shift


def _detail(
    look_a: Look, look_b: Look, found: Registration, usual_noise: FloatArray
) -> DetailEvidence | None:
    a, b = look_a.picture, look_b.picture
    if not found.registered:
        return _drowned(a, b, found)
    steady = found.steady
    if steady.sum() < LEAST_PATCHES:
        return None
    compared = detail_difference(
        a.cut(found.centres_a[steady]),
        b.cut(found.centres_b[steady]),
        found.jacobian,
        np.minimum(np.minimum(look_a.noise, look_b.noise), usual_noise),
    )
    middle, spread = np.zeros(4), np.full(4, np.inf)
    for sector in range(4):
        values = compared.blur_px2[compared.evidence[:, sector] > LEAST_EVIDENCE, sector]
        if len(values) < LEAST_PATCHES:
            continue
        middle[sector] = np.median(values)
        quarter = np.subtract(*np.percentile(values, [75, 25])) / 1.349
        # Patches half overlap their neighbours: about a third of them are independent.
        own = 1.25 * quarter / np.sqrt(max(1.0, len(values) / 3.0))
        own += 0.02 + PATCH_DOUBT_PX2 / np.sqrt(len(values))
        spread[sector] = np.hypot(own, 0.1 * abs(middle[sector]))
    return DetailEvidence(middle, spread) if np.isfinite(spread).any() else None


def _drowned(a: Picture, b: Picture, found: Registration) -> DetailEvidence | None:
    """One frame full of texture, the other without any in the same place: blurred beyond match."""
    if len(found.centres_a) < 12 or found.textured < DROWNED_SHARE:
        return None
    texture_a = _texture(a, found.centres_a)
    texture_b = _texture(b, found.mapping(found.centres_a))
    fall = np.log((texture_a + 0.2) / (texture_b + 0.2))
    sign = np.sign(np.median(fall))
    if np.mean(fall * sign > np.log(6.0)) < 0.75:
        return None
    return DetailEvidence(np.full(4, sign * 16.0), np.full(4, 3.0))


def _texture(picture: Picture, centres: FloatArray) -> FloatArray:
    row = np.clip(centres[:, 1] // picture.texture_step_px, 0, picture.texture.shape[0] - 1)
    column = np.clip(centres[:, 0] // picture.texture_step_px, 0, picture.texture.shape[1] - 1)
    texture: FloatArray = picture.texture[row.astype(int), column.astype(int)].astype(np.float64)
    return texture
