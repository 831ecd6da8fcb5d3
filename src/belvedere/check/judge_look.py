"""What the small pictures of a whole shoot show together: dust, drops, flicker, moving subjects."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_drops import judge_drops
from belvedere.check.judge_dust import judge_dust
from belvedere.check.judge_flicker import judge_flicker
from belvedere.check.judge_lens import judge_vignetting
from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.judge_subjects import judge_subjects
from belvedere.check.judge_tone import Tones
from belvedere.check.model import Finding
from belvedere.check.small_overlaps import small_overlaps
from belvedere.measure import Overlap
from belvedere.shoot import Frame

IntArray = NDArray[np.intp]
Grey = NDArray[np.uint8]


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
    both = small_overlaps(frames, overlaps, pairs, known)
    flicker = judge_flicker(frames, order, tones.exposure, both, shapes)
    # Bands look like falloff that changes from frame to frame.
    vignetting = (
        [] if flicker else judge_vignetting(frames, order, pairs, tones.vignetting, pictures)
    )
    place = {int(number): index for index, number in enumerate(order)}
    numbered = [replace(one, a=place[one.a], b=place[one.b]) for one in both]
    dust = judge_dust(in_order, pictures, numbered)
    drops, spoilt = judge_drops(in_order, pictures)
    remarks = judge_subjects(frames, both, shapes, cells)
    return spoilt, dust + drops + flicker + vignetting, remarks


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
