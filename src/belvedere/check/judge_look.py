"""What the small pictures of a whole shoot show together: dust, drops, flicker, moving subjects."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_drops import judge_drops
from belvedere.check.judge_dust import judge_dust
from belvedere.check.judge_flicker import Bands, bands_of, judge_flicker
from belvedere.check.judge_lens import judge_vignetting
from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.judge_subjects import Moved, judge_subjects, moved_in
from belvedere.check.judge_tone import Tones
from belvedere.check.model import Finding
from belvedere.check.small_overlaps import SmallOverlap, small_overlaps
from belvedere.measure import Overlap
from belvedere.shoot import Frame

IntArray = NDArray[np.intp]
Grey = NDArray[np.uint8]

#: Overlaps kept in memory together.
_MOST_KEPT = 192


def judge_look(
    frames: Sequence[Frame],
    order: IntArray,
    overlaps: Sequence[Overlap],
    pairs: Sequence[PairEvidence],
    tones: Tones,
    small: Mapping[str, Grey],
    cells: Mapping[str, tuple[int, int]],
) -> tuple[list[Finding], list[Finding], list[Finding]]:
    """Findings on frames, findings on the shoot, and remarks on frames.

    `order` are frame indices in the order of the shutter; `small` the small pictures by file;
    `cells` row and column by file, where they are known.
    """
    order, pictures = _of_one_size(frames, order, small)
    in_order = [frames[number] for number in order]
    shapes = {int(n): picture.shape for n, picture in zip(order, pictures, strict=True)}
    known = {frames[n].file: small[frames[n].file] for n in shapes}
    place = {int(number): index for index, number in enumerate(order)}
    bands: list[Bands] = []
    moved: list[Moved] = []
    some: list[SmallOverlap] = []
    every = max(1, -(-len(pairs) // _MOST_KEPT))
    # One overlap in memory at a time, but for some that dust is looked for in.
    for number, one in enumerate(small_overlaps(frames, overlaps, pairs, known)):
        bands += bands_of(one, shapes[one.a])
        moved += moved_in(one, shapes[one.a], shapes[one.b])
        if number % every == 0:
            some.append(replace(one, a=place[one.a], b=place[one.b]))
    flicker = judge_flicker(frames, order, tones.exposure, bands)
    # Bands look like falloff that changes from frame to frame.
    vignetting = (
        [] if flicker else judge_vignetting(frames, order, pairs, tones.vignetting, pictures)
    )
    drops, spoilt = judge_drops(in_order, pictures)
    found = judge_dust(in_order, pictures, some) + drops + flicker + vignetting
    return spoilt, found, judge_subjects(frames, moved, cells)


def _of_one_size(
    frames: Sequence[Frame], order: IntArray, small: Mapping[str, Grey]
) -> tuple[IntArray, list[Grey]]:
    """The undamaged frames whose small pictures have the usual size, in order, and those."""
    whole = [
        number
        for number in order.tolist()
        if not frames[number].damage and small.get(frames[number].file) is not None
    ]
    sizes = Counter(small[frames[number].file].shape for number in whole)
    usual = next((size for size, _ in sizes.most_common() if min(size) > 0), None)
    kept = [number for number in whole if small[frames[number].file].shape == usual]
    return np.array(kept, dtype=np.intp), [small[frames[number].file] for number in kept]
