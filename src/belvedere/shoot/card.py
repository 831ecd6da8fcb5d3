"""The memory card: how fast it writes, how many bytes a shoot needs, where file numbers begin anew.

Speed classes: minimum sequential write rates by the SD Association's classes C, U and V (read from
secondary pages, the standard itself was not). They promise long writes in one go; a camera's single
files may be slower, so a measured rate comes first.
"""

from __future__ import annotations

import difflib
import math

import numpy as np

from belvedere.foundation import PlanError
from belvedere.shoot.briefing import CardFacts
from belvedere.shoot.conditions import CardWish
from belvedere.shoot.model import Camera, Plan

#: MB/s that each class promises for long writes.
SPEED_CLASS_MB_S = {
    **{f"C{rate}": float(rate) for rate in (2, 4, 6, 10)},
    "U1": 10.0,
    "U3": 30.0,
    **{f"V{rate}": float(rate) for rate in (6, 10, 30, 60, 90)},
}

#: Common practice, no source: a card of a decade ago in a camera of its time. Newer pairs reach
#: several times that; the slow one is the one that loses frames.
USUAL_WRITE_MB_S = 10.0
#: Finest JPEG of a scene full of detail. The rule of the trade is 0.25 to 0.5 (common practice, no
#: source); 18 real frames of a beach from above, 9 megapixels each, have 0.40.
USUAL_MB_PER_MEGAPIXEL = 0.4
#: Standard deviation of the logarithm of size within one shoot (common practice, no source): the 18
#: real frames have 0.12, 60 rehearsed ones from plain sky to rooftops 0.54.
USUAL_FILE_SPREAD = 0.25
#: The same for the guess of the mean: the rule's 0.25 to 0.5 lie two of these either side of its
#: middle.
GUESS_SPREAD = 0.18

#: How alike the sizes of neighbours are: the share of the variance that belongs to the scene, and
#: its correlation from one frame to the next in a row, and in a column. Rehearsed in Saltmere:
#: 0.95, 0.88, 0.80 across one, two, three columns, 0.40 down one row.
SCENE_SHARE = 0.9
SCENE_MEMORY = 0.95
SCENE_MEMORY_DOWN = 0.6

#: One shoot in a hundred is larger: the standard normal's upper percent point.
_UNLUCKY = 2.3263
#: What is left of a card's nominal size for pictures (common practice, no source).
_FORMATTED = 0.97
_BYTES_PER_MB, _BYTES_PER_GB = 1e6, 1e9
#: The last file number of a folder: the standard for camera files (DCF, JEITA CP-3461; from
#: memory) counts from 0001 to 9999.
LAST_FILE_NUMBER = 9999


def card_facts(plan: Plan, card: CardWish) -> tuple[CardFacts, tuple[str, ...]]:
    """Bytes of the shoot, cards it takes, and where the file numbers begin anew.

    Returns
    -------
    The facts, and what was assumed, a sentence each.

    Raises
    ------
    PlanError
        For an unknown speed class, or a rate, size or number that no card has.
    """
    frames = len(plan.cells)
    write_mb_s, rate_assumed = write_rate_mb_s(card)
    mean_mb, size_assumed = mean_file_mb(plan.shoot.camera, card)
    spread, spread_assumed = file_spread(card)
    guess = GUESS_SPREAD if card.file_mb is None else 0.0
    high_mb = mean_mb * frames * unlucky_share(plan, spread, guess)
    high = math.ceil(high_mb * _BYTES_PER_MB)
    free = _free_bytes(card)
    facts = CardFacts(
        frames=frames,
        bytes=round(mean_mb * frames * _BYTES_PER_MB),
        bytes_high=high,
        write_mb_s=write_mb_s,
        file_mb=mean_mb,
        free_bytes=free,
        cards=_cards(high, free, card.capacity_gb),
        rolls_over_at_frame=rolls_over_at_frame(frames, card.next_file_number),
    )
    return facts, (*size_assumed, *rate_assumed, *spread_assumed)


def write_rate_mb_s(card: CardWish) -> tuple[float, tuple[str, ...]]:
    """The rate to count with, and what was assumed: measured, by class, or the usual one."""
    if card.write_mb_s is not None:
        _refuse_unless_positive(card.write_mb_s, "write_mb_s", "MB/s")
        return card.write_mb_s, ()
    if card.speed_class is not None:
        rate = class_rate_mb_s(card.speed_class)
        said = (
            f"speed class {card.speed_class.upper()} in [card]: {rate:g} MB/s. The class promises "
            "that for long writes; single files may be slower, and many cameras are. A measured "
            "write_mb_s is better."
        )
        return rate, (said,)
    return USUAL_WRITE_MB_S, (f"no write_mb_s in [card]: {USUAL_WRITE_MB_S:g} MB/s",)


def class_rate_mb_s(speed_class: str) -> float:
    """MB/s that a speed class such as "C10", "U3" or "V30" promises for long writes.

    Raises
    ------
    PlanError
        For a class that does not exist.
    """
    name = speed_class.strip().upper()
    if name in SPEED_CLASS_MB_S:
        return SPEED_CLASS_MB_S[name]
    near = difflib.get_close_matches(name, SPEED_CLASS_MB_S, n=1, cutoff=0.5)
    hint = f"Did you mean {near[0]}? " if near else ""
    raise PlanError(
        f'speed_class = "{speed_class}" in [card] is no speed class.',
        f"{hint}Use one of {', '.join(SPEED_CLASS_MB_S)}, or write_mb_s.",
    )


def mean_file_mb(camera: Camera, card: CardWish) -> tuple[float, tuple[str, ...]]:
    """Mean size of a file in MB (10⁶ bytes), and what was assumed."""
    if card.file_mb is not None:
        _refuse_unless_positive(card.file_mb, "file_mb", "MB")
        return card.file_mb, ()
    megapixels = camera.image_width_px * camera.image_height_px / 1e6
    mean_mb = USUAL_MB_PER_MEGAPIXEL * megapixels
    said = (
        f"no file_mb in [card]: {USUAL_MB_PER_MEGAPIXEL:g} MB per megapixel, "
        f"{mean_mb:.1f} MB a file"
    )
    return mean_mb, (said,)


def file_spread(card: CardWish) -> tuple[float, tuple[str, ...]]:
    """Standard deviation of the logarithm of file size, and what was assumed."""
    if card.file_spread is not None:
        return card.file_spread, ()
    said = f"no file_spread in [card]: sizes spread by {USUAL_FILE_SPREAD:.0%} around their mean"
    return USUAL_FILE_SPREAD, (said,)


def unlucky_share(plan: Plan, spread: float, guess_spread: float) -> float:
    """Bytes of a shoot that one in a hundred exceeds, as a multiple of the mean.

    Sizes of neighbours are alike, so they do not average out as independent ones would: the
    variance of the sum counts every pair with its correlation, which falls with the columns and
    the rows between them. The sum is taken as log-normal with that variance (L. F. Fenton, "The
    sum of log-normal probability distributions", IRE Transactions 8, 1960; from memory).
    """
    frames = len(plan.cells)
    columns = max(1, round(frames / plan.rows))
    alike = _pairs(columns, SCENE_MEMORY) * _pairs(plan.rows, SCENE_MEMORY_DOWN)
    share = SCENE_SHARE * alike / (columns * plan.rows) ** 2 + (1.0 - SCENE_SHARE) / frames
    log_variance = math.log1p(math.expm1(spread**2) * share) + guess_spread**2
    return math.exp(_UNLUCKY * math.sqrt(log_variance) - log_variance / 2.0)


def rolls_over_at_frame(frames: int, next_file_number: int | None) -> int | None:
    """Which frame of the shoot, from 1, is the first to be numbered from 0001 again; or None."""
    if next_file_number is None:
        return None
    if not 1 <= next_file_number <= LAST_FILE_NUMBER:
        raise PlanError(
            f"next_file_number = {next_file_number} in [card] is no file number.",
            f"Cameras count from 1 to {LAST_FILE_NUMBER}.",
        )
    first_anew = LAST_FILE_NUMBER - next_file_number + 2
    return first_anew if first_anew <= frames else None


def _pairs(count: int, memory: float) -> float:
    """The sum of memory^|i - j| over all i, j below `count`."""
    steps = np.arange(1, count)
    return float(count + 2.0 * ((count - steps) * memory**steps).sum())


def _free_bytes(card: CardWish) -> int | None:
    if card.free_gb is not None:
        return round(card.free_gb * _BYTES_PER_GB)
    if card.capacity_gb is not None:
        return round(card.capacity_gb * _BYTES_PER_GB * _FORMATTED)
    return None


def _cards(needed: int, free: int | None, capacity_gb: float | None) -> int | None:
    """Cards of this kind, the one with `free` bytes first; None where that is not known."""
    if free is None:
        return None
    if needed <= free:
        return 1
    further = free if capacity_gb is None else round(capacity_gb * _BYTES_PER_GB * _FORMATTED)
    if further <= 0:
        return None
    return 1 + math.ceil((needed - free) / further)


def _refuse_unless_positive(value: float, key: str, unit: str) -> None:
    if not value > 0.0:
        raise PlanError(
            f"{key} = {value:g} in [card] must be more than 0 {unit}.",
            f"Correct {key}, or leave it out.",
        )
