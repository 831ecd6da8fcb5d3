"""What is noted of frames and of pairs while their pixels are at hand, and remembered.

Notes are small. What depends on the whole shoot – the camera's noise, for one – is left to the
end, so that pairs can be measured while the card is still being read, and frame by frame while a
shoot is watched.
"""

from __future__ import annotations

from collections.abc import Mapping as Mapping_
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from belvedere.check.thresholds import DROWNED_SHARE, LEAST_PATCHES, SIDE_SHARE, SIDES_ENOUGH
from belvedere.measure import (
    Mapping,
    PatchPowers,
    Picture,
    Pixels,
    Registration,
    ToneDifference,
    TonePicture,
    noise_spectrum,
    patch_powers,
    picture_of,
    register,
    tone_difference,
    tone_picture,
)
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]

#: Longer side of the small colour pictures, px, at least.
_TONE_SIDE_PX = 400
#: Patches in an overlap, and in one that is but a corner of the frames.
_MOST_PATCHES, _MOST_CORNER_PATCHES = 32, 20
#: An overlap supported so well was seen where it is, to a few pixels.
_NEAR_SUPPORT = 0.6
#: Notes hold for a pair that is said to lie elsewhere by no more, in shares of the frame's width:
#: what was found does not depend on where the search began; what was not found may.
_SAME_FOUND, _SAME_SOUGHT = 0.01, 0.003


@dataclass(frozen=True, slots=True)
class DetailEvidence:
    """Blur variance of b less that of a in four sectors (4,), px², and its standard errors (4,).

    The error is inf in a sector where the scene shows nothing fine.
    """

    blur_px2: FloatArray
    spread_px2: FloatArray


@dataclass(frozen=True, slots=True)
class FrameTone:
    """Shares of a frame that are almost black, and blown out."""

    dark: float
    clipped: float


@dataclass(frozen=True, slots=True)
class FrameNotes:
    """What one frame says by itself: its noise (4, bands) by direction and frequency, its tone."""

    noise: FloatArray
    tone: FrameTone


@dataclass(frozen=True, slots=True)
class Look:
    """One frame, made ready for all its overlaps.

    Frames that are `tinted` have the colours of thumbnails, and are compared with each other.
    """

    picture: Picture
    tone: TonePicture
    notes: FrameNotes
    tinted: bool = False

    @property
    def nbytes(self) -> int:
        """What it holds of memory."""
        picture, tone = self.picture, self.tone
        small = 0 if picture.small is picture.grey else picture.small.nbytes
        return picture.grey.nbytes + small + tone.linear.nbytes + 3 * tone.luma.nbytes


@dataclass(frozen=True, slots=True)
class PairNotes:
    """What one overlap says of its two frames a and b, before the shoot's noise is known.

    `start` (3, 3) is where the search began. `powers` are those of the patches that agree, None
    where too few do; `drowned` stands where one frame is blurred beyond match. `tinted` says
    that the colours are those of thumbnails: good enough to see that nothing changed. The others
    are those of `PairEvidence`.
    """

    start: FloatArray
    mapping: Mapping
    registered: bool
    textured: float
    shift_px: FloatArray
    overlap_share: tuple[float, float]
    misfit_px: float
    patches: int
    powers: PatchPowers | None
    drowned: DetailEvidence | None
    tone: ToneDifference
    tinted: bool = False


@dataclass(slots=True)
class PairMemory:
    """Notes of frames and pairs by the content of their files; grows as they are measured.

    Hand the same memory to `judge` again and again: only what is new is read and measured.
    """

    frames: dict[str, FrameNotes] = field(default_factory=dict)
    pairs: dict[tuple[str, str], PairNotes] = field(default_factory=dict)
    edge_blurs_px: dict[str, float] = field(default_factory=dict)

    def frame(self, frame: Frame) -> FrameNotes | None:
        """What was noted of a frame, if anything."""
        return self.frames.get(_key(frame))

    def keep_frame(self, frame: Frame, notes: FrameNotes) -> None:
        """Remember what a frame says by itself."""
        self.frames[_key(frame)] = notes

    def edges(self, frame: Frame) -> float | None:
        """The blur of a frame's edges (px), nan where it has none, None where it is not known."""
        return self.edge_blurs_px.get(_key(frame))

    def keep_edges(self, frame: Frame, blur_px: float) -> None:
        """Remember the blur of a frame's edges, nan where it has none."""
        self.edge_blurs_px[_key(frame)] = blur_px

    def pair(self, a: Frame, b: Frame, b_from_a: FloatArray) -> PairNotes | None:
        """What was noted of a pair; None where nothing was, or of another place of b on a."""
        notes = self.pairs.get((_key(a), _key(b)))
        if notes is None or _key(a) not in self.frames or _key(b) not in self.frames:
            return None
        origin = notes.mapping.origin[None]
        said = Mapping(b_from_a, np.zeros((1, 2)), notes.mapping.origin, 1.0)(origin)
        if notes.registered:
            far, least = said - notes.mapping(origin), _SAME_FOUND
        else:
            begun = Mapping(notes.start, np.zeros((1, 2)), notes.mapping.origin, 1.0)
            far, least = said - begun(origin), _SAME_SOUGHT
        return notes if np.hypot(*far[0]) <= least * max(a.width_px, 1) else None

    def keep_pair(self, a: Frame, b: Frame, notes: PairNotes) -> None:
        """Remember a pair."""
        self.pairs[_key(a), _key(b)] = notes


def _key(frame: Frame) -> str:
    return frame.content_hash or frame.file


def tone_shrink(longer_px: int) -> int:
    """At which fraction of a frame, 1 / 8 to 1, its colours are compared."""
    return next((shrink for shrink in (8, 4, 2) if longer_px / shrink >= _TONE_SIDE_PX), 1)


def look_at(
    luma: Pixels,
    colour: Pixels,
    shrink: int,
    half: Pixels | None = None,
    tinted: bool = False,
) -> Look:
    """A frame made ready: luma (height, width) and its colours at 1/`shrink`, upright, uint8.

    `half` is the luma at half its size, where it is there already; `tinted` as in `Look`.
    """
    picture = picture_of(luma, half)
    tone = tone_picture(colour, shrink, tinted)
    notes = FrameNotes(noise_spectrum(picture), FrameTone(tone.dark, tone.clipped))
    return Look(picture, tone, notes, tinted)


def measure_pair(a: Look, b: Look, b_from_a: FloatArray, support: float) -> PairNotes:
    """Compare two frames where they overlap; `b_from_a` and `support` as in `Overlap`."""
    size_a = np.array([a.picture.width_px, a.picture.height_px], dtype=np.float64)
    size_b = np.array([b.picture.width_px, b.picture.height_px], dtype=np.float64)
    corner = is_corner(b_from_a, a.picture.width_px, a.picture.height_px)
    most = _MOST_CORNER_PATCHES if corner else _MOST_PATCHES
    found = register(a.picture, b.picture, b_from_a, most, near=support > _NEAR_SUPPORT)
    faithful = found.peak > 0.3
    residual = np.sort(found.residual_px[faithful & np.isfinite(found.residual_px)])
    return PairNotes(
        b_from_a,
        found.mapping,
        found.registered,
        found.textured,
        _centre_shift(found.mapping, size_a, size_b),
        (found.overlap_px[0] / size_a[0], found.overlap_px[1] / size_a[1]),
        float(residual[(3 * len(residual)) // 4]) if len(residual) else 0.0,
        len(found.peak),
        _powers(a.picture, b.picture, found),
        None if found.registered else _drowned(a.picture, b.picture, found),
        tone_difference(a.tone, b.tone, found.mapping),
        a.tinted or b.tinted,
    )


def is_corner(b_from_a: FloatArray, width_px: int, height_px: int) -> bool:
    """Whether two frames share but a corner, and not most of a side."""
    size = np.array([width_px, height_px], dtype=np.float64)
    middle = np.append(size / 2.0, 1.0)
    there = b_from_a @ middle
    shared = 1.0 - np.abs(there[:2] / there[2] - middle[:2]) / size
    return bool(shared.max() < SIDE_SHARE)


def wants_corners(sides: Mapping_[str, int], a: Frame, b: Frame) -> bool:
    """Whether an overlap of corners is worth measuring.

    Not where both frames have sides that tell of their sharpness: then it would add little, and
    corners are half of all overlaps. `sides` counts by `side_key`.
    """
    return min(sides.get(side_key(a), 0), sides.get(side_key(b), 0)) < SIDES_ENOUGH


def side_key(frame: Frame) -> str:
    """The name under which sides of a frame are counted."""
    return _key(frame)


def _centre_shift(mapping: Mapping, size_a: FloatArray, size_b: FloatArray) -> FloatArray:
    """Where b's centre lies seen from a's, by the mapping near the middle of the overlap."""
    point = mapping.origin[None]
    shift: FloatArray = (point - mapping(point))[0] + (size_b - size_a) / 2.0
    return shift


def _powers(a: Picture, b: Picture, found: Registration) -> PatchPowers | None:
    steady = found.steady
    if not found.registered or steady.sum() < LEAST_PATCHES:
        return None
    patches_a, patches_b = a.cut(found.centres_a[steady]), b.cut(found.centres_b[steady])
    return patch_powers(patches_a, patches_b, found.jacobian)


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
