"""How true a mosaic is: a rehearsed shoot, assembled, against the scene it was taken of.

    python bench/mosaic_truth.py [--scene harbour] [--seeds 1 2 3] [--keep FOLDER]

For each seed a shoot of 3 × 4 frames of 0.4 MP is photographed (distortion, falloff, noise,
pointing errors, a tilted base), oriented with its plan, and composed in the scene's own axes and
projection, so that scene and mosaic lie on one lattice. Figures:

- rotations: how far off the frames' pixels look from the truth, rms in pixels;
- seam step: in smooth areas, how the error jumps across a seam, in grey levels: mean error on
  one side less mean error on the other, over tiles of 32 px;
- PSNR against the scene, beside that of OpenCV's multiband blender (cv2.detail) given the same
  warped frames and the same seams: an outside reference.

Figures go to bench/results/mosaic_truth.json.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check import CellReport
from belvedere.compose import Layout, Making, Window, compose, make_layout
from belvedere.compose.blend import Placements, covers, warp
from belvedere.compose.frames import FrameStore
from belvedere.compose.light import STEPS_PER_LEVEL
from belvedere.compose.mosaic import place_frames
from belvedere.compose.outlines import map_level
from belvedere.compose.seams import find_outlines
from belvedere.foundation import finish, linear_from_srgb, srgb_from_linear
from belvedere.imagefiles import DiskScratch, FolderSource, read_card
from belvedere.optics import LensModel
from belvedere.orient import Orientation
from belvedere.rehearse import Rehearsal, Scene
from belvedere.shoot import Plan, make_plan, parse_shoot
from belvedere.workflows.orient import orient_card
from belvedere.workflows.rehearse import rehearse_card, scene_maker

RESULTS = Path(__file__).resolve().parent / "results"
SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = {width}
image_height_px = {height}
[lens]
focal_length_mm = 44.0
[grid]
left_deg = -13.0
right_deg = 13.0
top_deg = 11.0
bottom_deg = -7.0
overlap = 0.30
rows = 3
columns = 4
[sweep]
interval_s = 3.0
"""
#: Smooth: the scene's grey levels spread less than this within 15 px.
SMOOTH_LEVELS = 1.5
TILE_PX = 32
ENOUGH_PX = 150

Picture = NDArray[np.float64]
Mask = NDArray[np.bool_]


class Sheet:
    """A sink that keeps level 0."""

    tile_px = 512

    def begin(self, layout: Layout, levels: int) -> None:
        self.rgb = np.zeros((layout.height_px, layout.width_px, 3), np.uint8)

    def put(self, level: int, window: Window, rgb: NDArray[np.uint8]) -> None:
        if level == 0:
            self.rgb[window.top : window.bottom, window.left : window.right] = rgb


@dataclass(frozen=True)
class Figures:
    """What one shoot gave."""

    scene: str
    seed: int
    rotation_error_px_rms: float
    residual_px_rms: float
    seam_tiles: int
    seam_step_median: float
    seam_step_max: float
    psnr_db: float
    opencv_psnr_db: float
    against_opencv_psnr_db: float


def measure(scene_name: str, seed: int, folder: Path, size: tuple[int, int]) -> Figures:
    """Rehearse, assemble and compare one shoot."""
    plan = make_plan(parse_shoot(SHOOT.format(width=size[0], height=size[1])))
    make_scene = scene_maker(scene_name, seed, plan)
    rehearsal = Rehearsal(plan, seed=seed, still=True)
    report = finish(rehearse_card(rehearsal, make_scene, scene_name, folder / "first", workers=1))
    source = FolderSource(report.card)
    frames = finish(read_card(report.card))
    orientation = finish(orient_card(frames, source, plan, truly_placed(report.document, plan)))
    orientation, error_px = in_the_scenes_axes(orientation, report.document)

    layout = make_layout(orientation)
    sheet = Sheet()
    with DiskScratch(folder) as scratch:
        finish(compose(orientation, source, layout, sheet, scratch, Making(block_px=512)))

    owner, warped, covered = seams_and_frames(orientation, layout, source, folder)
    inner = cv2.erode(covered.astype(np.uint8), np.ones((25, 25), np.uint8)) > 0
    truth = exposed_alike(scene_picture(make_scene(), layout), sheet.rgb, inner)
    steps = seam_steps(sheet.rgb - truth, smooth(truth) & inner, owner)
    by_opencv = opencv_blend(warped, owner)
    save(folder, sheet.rgb, truth, owner, by_opencv)
    return Figures(
        scene_name,
        seed,
        error_px,
        orientation.residual_px_rms,
        len(steps),
        float(np.median(steps)),
        float(np.max(steps)),
        psnr_db(sheet.rgb, truth, inner),
        psnr_db(by_opencv, truth, inner),
        psnr_db(sheet.rgb, by_opencv.astype(np.float64), inner),
    )


def truly_placed(document: dict[str, Any], plan: Plan) -> list[CellReport]:
    """Every frame on the cell it was taken for, as a check without doubts would have it."""
    files = {tuple(frame["cell"]): frame["file"] for frame in document["frames"]}
    return [
        CellReport(cell.row, cell.column, "good", (files[cell.row, cell.column],), 1.0)
        for cell in plan.cells
    ]


def in_the_scenes_axes(
    orientation: Orientation, document: dict[str, Any]
) -> tuple[Orientation, float]:
    """Turn all frames together onto the truth; what is left, rms in pixels.

    Compared are the directions that nine pixels of every frame look in: rotations and lens as
    they work together (a principal point that is off a little only turns every camera).
    """
    lens, true_lens = orientation.lens, LensModel(**document["camera"]["lens"])
    true = {f["file"]: np.array(f["camera_from_world"]) for f in document["frames"]}
    x, y = np.meshgrid(
        np.linspace(0.1, 0.9, 3) * lens.width_px, np.linspace(0.1, 0.9, 3) * lens.height_px
    )
    pixels = np.stack([x, y], axis=-1).reshape(-1, 2)
    seen, meant = lens.unproject(pixels), true_lens.unproject(pixels)
    found = np.concatenate([seen @ f.rays_from_world for f in orientation.frames])
    wanted = np.concatenate([meant @ true[f.file] for f in orientation.frames])
    turn = kabsch(found, wanted)
    error = np.linalg.norm(found @ turn - wanted, axis=-1)
    turned = tuple(
        replace(f, camera_from_world=f.camera_from_world @ turn) for f in orientation.frames
    )
    rms_px = float(np.sqrt(np.mean(error**2))) * lens.focal_length_px
    return replace(orientation, frames=turned), rms_px


def kabsch(found: Picture, wanted: Picture) -> Picture:
    """The rotation that takes row vectors `found` to `wanted` best.

    W. Kabsch, Acta Crystallographica A32, 1976, p. 922.
    """
    u, _, vt = np.linalg.svd(found.T @ wanted)
    return u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt


def scene_picture(scene: Scene, layout: Layout) -> Picture:
    """The scene on the mosaic's lattice, in grey levels, not rounded."""
    light = scene.patch(
        layout.left_deg,
        layout.top_deg,
        layout.scale_px_per_deg,
        layout.width_px,
        layout.height_px,
    )
    return 255.0 * srgb_from_linear(np.clip(light, 0.0, 1.0).astype(np.float64))


def exposed_alike(truth: Picture, mosaic: NDArray[np.uint8], where: Mask) -> Picture:
    """The truth with one gain per colour: a balance has no way to know the absolute one."""
    usable = where & smooth(truth) & (truth.min(axis=-1) > 30) & (truth.max(axis=-1) < 240)
    light, seen = linear_from_srgb(truth / 255.0), linear_from_srgb(mosaic / 255.0)
    gain = np.median(seen[usable] / light[usable], axis=0)
    return 255.0 * srgb_from_linear(np.clip(light * gain, 0.0, 1.0))


def smooth(truth: Picture) -> Mask:
    """Where the scene is smooth and not at the ends of the scale."""
    grey = truth.mean(axis=-1)
    mean = cv2.blur(grey, (15, 15))
    spread = np.sqrt(np.maximum(cv2.blur(grey * grey, (15, 15)) - mean * mean, 0.0))
    return (spread < SMOOTH_LEVELS) & (grey > 8) & (grey < 247)


def seams_and_frames(
    orientation: Orientation, layout: Layout, source: FolderSource, folder: Path
) -> tuple[NDArray[np.int32], dict[int, NDArray[np.float32]], Mask]:
    """The frame in charge of every pixel, every frame warped to the whole mosaic, the coverage."""
    lens = orientation.lens
    placements: Placements = place_frames(orientation, layout)
    level = map_level(layout, min(lens.width_px, lens.height_px))
    whole = Window(0, 0, layout.width_px, layout.height_px)
    best = np.zeros((whole.height, whole.width), np.float32)
    owner = np.full(best.shape, -1, np.int32)
    warped = {}
    with DiskScratch(folder) as scratch:
        store = FrameStore(orientation, source, scratch, max(level, 1), 1 << 30)
        finish(store.prepare())
        outlines = finish(find_outlines(layout, placements, store, level))
        for placed in placements.placed:
            x, y = placed.mapping.over(0, whole)
            claim = outlines.claim(0, whole, placed.number)
            claim += 2.0 * covers(placed.mapping, 0, x, y)
            wins = claim > best
            best[wins], owner[wins] = claim[wins], placed.number
            picture = warp(store, placed.number, 0, x, y)
            warped[placed.number] = picture / np.float32(STEPS_PER_LEVEL)
    return owner, warped, best >= 2.0


def seam_steps(error: Picture, usable: Mask, owner: NDArray[np.int32]) -> NDArray[np.float64]:
    """Per tile with a seam in a smooth area: the jump of the error, the worst colour."""
    steps = []
    for top in range(0, error.shape[0] - TILE_PX, TILE_PX // 2):
        for left in range(0, error.shape[1] - TILE_PX, TILE_PX // 2):
            here = np.s_[top : top + TILE_PX, left : left + TILE_PX]
            counts = {
                int(n): usable[here] & (owner[here] == n) for n in np.unique(owner[here]) if n >= 0
            }
            sides = [mask for mask in counts.values() if mask.sum() >= ENOUGH_PX]
            if len(sides) >= 2:
                means = [error[here][mask].mean(axis=0) for mask in sides]
                steps.append(float(np.abs(means[0] - means[1]).max()))
    return np.array(steps)


def opencv_blend(
    warped: dict[int, NDArray[np.float32]], owner: NDArray[np.int32]
) -> NDArray[np.uint8]:
    """The same frames along the same seams by cv2.detail's multiband blender."""
    blender = cv2.detail.MultiBandBlender(0, 4, cv2.CV_32F)
    height, width = owner.shape
    blender.prepare((0, 0, width, height))
    for number, picture in warped.items():
        rgb = np.clip(np.rint(picture), -32768, 32767).astype(np.int16)
        blender.feed(rgb, (owner == number).astype(np.uint8) * 255, (0, 0))
    blended, _ = blender.blend(None, None)
    return np.clip(blended, 0, 255).astype(np.uint8)


def psnr_db(picture: NDArray[np.uint8], truth: Picture, where: Mask) -> float:
    """Peak signal to noise ratio over the pixels of a mask."""
    mean_square = float(np.mean((picture[where] - truth[where]) ** 2))
    return 10.0 * float(np.log10(255.0**2 / mean_square))


def save(
    folder: Path,
    mosaic: NDArray[np.uint8],
    truth: Picture,
    owner: NDArray[np.int32],
    by_opencv: NDArray[np.uint8],
) -> None:
    """Pictures to look at: mosaic, truth, error × 16 with the seams, OpenCV's error × 16."""
    edge = (owner != np.roll(owner, 1, 0)) | (owner != np.roll(owner, 1, 1))
    for name, picture in (("mosaic", mosaic), ("opencv", by_opencv)):
        error = np.clip(128.0 + 16.0 * (picture - truth), 0, 255).astype(np.uint8)
        cv2.imwrite(str(folder / f"{name}-error.png"), error[..., ::-1])
        cv2.imwrite(str(folder / f"{name}.png"), picture[..., ::-1])
    seams = mosaic.copy()
    seams[edge] = (255, 0, 0)
    cv2.imwrite(str(folder / "seams.png"), seams[..., ::-1])
    cv2.imwrite(str(folder / "truth.png"), np.rint(truth).astype(np.uint8)[..., ::-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--scene", default="harbour")
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    parser.add_argument("--size", type=int, nargs=2, default=(720, 540))
    parser.add_argument("--keep", type=Path, help="leave pictures here")
    asked = parser.parse_args()
    figures = []
    for seed in asked.seeds:
        with tempfile.TemporaryDirectory() as temporary:
            folder = asked.keep / f"{asked.scene}-{seed}" if asked.keep else Path(temporary)
            folder.mkdir(parents=True, exist_ok=True)
            figures.append(asdict(measure(asked.scene, seed, folder, tuple(asked.size))))
        print(json.dumps(figures[-1]))
    RESULTS.mkdir(exist_ok=True)
    out = RESULTS / "mosaic_truth.json"
    out.write_text(json.dumps({"shoots": figures}, indent=2) + "\n", "utf-8")


if __name__ == "__main__":
    main()
