"""Make docs/pictures/rehearsal-faults.jpg: every fault at 100 %, beside the frame as it should be.

    .venv/bin/python tools/fault_sheet.py [PICTURE.jpg]

Each pair is rehearsed for itself, through the same door as `belvedere rehearse`.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from belvedere.foundation import Steps
from belvedere.workflows.rehearse import rehearse_card
from belvedere.workflows.rehearse_request import RehearsalRequest, prepare

ROOT = Path(__file__).resolve().parents[1]
SHEET = ROOT / "docs" / "pictures" / "rehearsal-faults.jpg"
MOST_BYTES = 400_000

CROP_WIDTH_PX, CROP_HEIGHT_PX = 232, 174
PAIRS_ACROSS = 3
GAP_PX, CAPTION_PX = 16, 30
PAPER, INK, FAINT = (250, 249, 246), (30, 34, 40), (205, 203, 196)

SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = 1600
image_height_px = 1200
[lens]
focal_length_mm = 34.0
[grid]
left_deg = -30.0
right_deg = 30.0
top_deg = 16.0
bottom_deg = -10.0
overlap = 0.30
rows = 4
columns = 6
[sweep]
interval_s = 3.0
"""

Pixels = NDArray[np.uint8]


@dataclass(frozen=True)
class Pair:
    """A fault to show: its caption, its words without the cell, and where to look.

    `at_px` is the upper left corner of the crop; None for where the two frames differ most.
    `whole` shows the frame as a whole, made smaller, where a crop would not tell. With `hazard`
    the kind is a day's name, as `--hazard` takes it.
    """

    caption: str
    kind: str
    size: str = ""
    cells: str = "3,2 3,3"
    at_px: tuple[int, int] | None = (930, 690)
    extra: str = ""
    whole: bool = False
    hazard: bool = False

    @property
    def words(self) -> str:
        """As `--fault` takes them; faults of the whole shoot name no cell."""
        place = "" if self.kind == "dust" else self.cells.split()[-1]
        return " ".join(word for word in (self.kind, place, self.size) if word)


def _day(name: str, **shown: Any) -> Pair:
    """A hazard to show."""
    return Pair(f"hazard {name}", name, hazard=True, **shown)


PAIRS = (
    Pair("soft 3,3 2.5", "soft", "2.5"),
    Pair("shaken 3,3 8 at 30", "shaken", "8 at 30"),
    Pair("exposure 3,3 +0.7", "exposure", "+0.7"),
    Pair("colour 3,3 1.25 0.8", "colour", "1.25 0.8"),
    Pair("truncated 3,3 60", "truncated", "60", whole=True),
    Pair("stuck 3,3", "stuck"),
    Pair("bumped 3,3 1", "bumped", "1"),
    Pair("slipped 3,3 0.5", "slipped", "0.5"),
    Pair("autofocus 3,3 4", "autofocus", "4"),
    Pair("flicker 3,3 0.9", "flicker", "0.9", whole=True),
    Pair("wet lens 3,3 3", "wet lens", "3", at_px=None),
    Pair("dust 12", "dust", "12", cells="1,5 1,6", at_px=None, extra="[exposure]\nf_number = 16\n"),
    _day("crowded", at_px=(880, 555)),
    _day("automatic", cells="3,2 2,5", whole=True),
    _day("dusk", cells=" ".join(f"3,{i % 6 + 1}" for i in range(27)), whole=True),
)


def main() -> None:
    """Rehearse every pair, crop, lay out, save."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else SHEET
    with tempfile.TemporaryDirectory() as folder:
        crops = [(pair, *cropped(pair, Path(folder) / str(n))) for n, pair in enumerate(PAIRS)]
    save(laid_out(crops), target)


def cropped(pair: Pair, folder: Path) -> tuple[Pixels, Pixels]:
    """The same piece of the good frame and of the faulty one."""
    folder.mkdir()
    (folder / "shoot.toml").write_text(SHOOT + pair.extra, "utf-8")
    good = last_frame(pair, folder, "good")
    if pair.hazard:
        bad = last_frame(pair, folder, "bad", hazards=(pair.kind,))
    else:
        bad = last_frame(pair, folder, "bad", (pair.words,))
    if pair.whole:
        return smaller(good), smaller(bad)
    left, top = pair.at_px or most_different(good, bad)
    window = np.s_[top : top + CROP_HEIGHT_PX, left : left + CROP_WIDTH_PX]
    return good[window], bad[window]


def smaller(frame: Pixels) -> Pixels:
    """A whole frame at the size of a crop."""
    size = (CROP_WIDTH_PX, CROP_HEIGHT_PX)
    return np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def last_frame(
    pair: Pair,
    folder: Path,
    name: str,
    faults: tuple[str, ...] = (),
    hazards: tuple[str, ...] = (),
) -> Pixels:
    """The last frame of a rehearsal of the pair's cells."""
    asked = RehearsalRequest(
        folder / "shoot.toml", seed=3, cells=pair.cells, faults=faults, hazards=hazards
    )
    made = prepare(asked)
    report = result(
        rehearse_card(made.rehearsal, made.make_scene, made.scene_name, folder / name, workers=1)
    )
    picture = cv2.imread(str(report.card / report.files[-1]), cv2.IMREAD_COLOR_RGB)
    return np.asarray(picture, dtype=np.uint8)


def result(steps: Steps[Any]) -> Any:
    """What a workflow returns, its progress unheard."""
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return done.value


def most_different(good: Pixels, bad: Pixels) -> tuple[int, int]:
    """Upper left corner of the crop in which the two frames differ most, edges included."""
    apart = np.abs(good.astype(np.float32) - bad).mean(axis=2)
    best, found = -1.0, (0, 0)
    for left, top in corners(good.shape[1], good.shape[0]):
        here = apart[top : top + CROP_HEIGHT_PX, left : left + CROP_WIDTH_PX]
        # A piece that is half good and half bad shows more than one that is all bad.
        score = float(here.mean() + 2.0 * here.std())
        if score > best:
            best, found = score, (left, top)
    return found


def corners(width: int, height: int) -> Iterator[tuple[int, int]]:
    """Upper left corners of crops, half a crop apart, away from the frame's edge."""
    for top in range(20, height - CROP_HEIGHT_PX - 20, CROP_HEIGHT_PX // 2):
        for left in range(20, width - CROP_WIDTH_PX - 20, CROP_WIDTH_PX // 2):
            yield left, top


def laid_out(crops: list[tuple[Pair, Pixels, Pixels]]) -> Image.Image:
    """All pairs on one sheet, good on the left, with a caption below each."""
    pair_width = 2 * CROP_WIDTH_PX + 2
    down = -(-len(crops) // PAIRS_ACROSS)
    width = GAP_PX + PAIRS_ACROSS * (pair_width + GAP_PX)
    height = GAP_PX + down * (CROP_HEIGHT_PX + CAPTION_PX + GAP_PX)
    sheet = Image.new("RGB", (width, height), PAPER)
    pen = ImageDraw.Draw(sheet)
    font = ImageFont.load_default(17)
    for index, (pair, good, bad) in enumerate(crops):
        left = GAP_PX + index % PAIRS_ACROSS * (pair_width + GAP_PX)
        top = GAP_PX + index // PAIRS_ACROSS * (CROP_HEIGHT_PX + CAPTION_PX + GAP_PX)
        sheet.paste(Image.fromarray(good), (left, top))
        sheet.paste(Image.fromarray(bad), (left + CROP_WIDTH_PX + 2, top))
        pen.rectangle((left - 1, top - 1, left + pair_width, top + CROP_HEIGHT_PX), outline=FAINT)
        pen.text((left, top + CROP_HEIGHT_PX + 5), said(pair), INK, font)
        pen.text((left + CROP_WIDTH_PX + 2, top + CROP_HEIGHT_PX + 5), pair.caption, INK, font)
    return sheet


def said(pair: Pair) -> str:
    """What stands below the good one."""
    return "as it should be, whole" if pair.whole else "as it should be"


def save(sheet: Image.Image, target: Path) -> None:
    """As a JPEG of the best quality that stays below the limit."""
    for quality in range(92, 50, -3):
        sheet.save(target, quality=quality, optimize=True)
        if target.stat().st_size <= MOST_BYTES:
            print(f"{target}: {sheet.width} × {sheet.height} px, quality {quality}")
            return


if __name__ == "__main__":
    main()
