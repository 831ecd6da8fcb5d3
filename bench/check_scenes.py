"""What the bench of the check looks at: Saltmere as it moves, painted parts of it, pictures."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.imagefiles import FolderSource
from belvedere.rehearse import PictureScene, Scene, Span, grid_span, sketch_scene, srgb_of_linear
from belvedere.rehearse.harbour import HarbourScene
from belvedere.rehearse.harbour.ground import EYE_M
from belvedere.shoot import Plan

Pixels = NDArray[np.uint8]
FloatArray = NDArray[np.float64]

ROOT = Path(__file__).resolve().parent.parent
PHOTOS = Path(os.environ.get("BELVEDERE_PHOTOS", ROOT.parent / "shared" / "photos"))
CACHE = ROOT / "bench" / "results" / "scenes"

#: Kinds of scene, and how often each is drawn; the first two move and need no folder of pictures.
KINDS: dict[str, float] = {
    "harbour": 0.42,
    "harbour, half sky": 0.18,
    "painted harbour": 0.1,
    "sketch": 0.07,
    "sketch, half sky": 0.07,
    "map": 0.08,
    "photographs": 0.08,
}
#: A tilted base and a random aim look so far beyond the plan's edges.
_MARGIN_DEG = 2.0
_TILE_ACROSS_PX, _TILE_DOWN_PX = 3240, 2440
#: Parts of Saltmere that are painted once for the bench: seed and middle bearing.
_HARBOURS = ((11, 0.0), (12, -55.0), (13, 60.0))
_HARBOUR_HALF_DEG, _HARBOUR_TOP_DEG, _HARBOUR_BOTTOM_DEG = 49.0, 32.0, -34.0
_HARBOUR_PX_PER_DEG = 84.0
#: What stands still shall be seen in so many of the cells: half sky is not all sky.
_LEAST_STANDING = {"harbour": 0.4, "harbour, half sky": 0.2}
_LEAST_IN_CELL, _SIDES_TRIED, _CELLS_LOOKED_AT = 0.1, 40, 24
_NEAR_M, _FOG_M, _SEA_BELOW_M = 1500.0, 900.0, EYE_M
#: A sketch's plain sky, as a share of the grid's height.
_HALF_SKY = (0.35, 0.6)
_USUAL_SKY = 0.15


def known_kinds() -> dict[str, float]:
    """The kinds that can be had here, with their weights."""
    if PHOTOS.is_dir():
        return KINDS
    return {kind: w for kind, w in KINDS.items() if kind not in ("map", "photographs")}


def moves(kind: str) -> bool:
    """Whether the scene is drawn anew for every frame, at any scale and in any direction."""
    return kind in ("harbour", "harbour, half sky")


class Turned:
    """A scene seen from another side: turned about the plumb line."""

    def __init__(self, scene: Scene, by_deg: float) -> None:
        self._scene, self._by_deg = scene, by_deg

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> NDArray[np.float32]:
        left_deg += self._by_deg
        return self._scene.patch(left_deg, top_deg, px_per_deg, width_px, height_px, at_s=at_s)

    def distance_m(
        self, bearing_deg: FloatArray, elevation_deg: FloatArray, *, at_s: float = 0.0
    ) -> FloatArray:
        bearing_deg = np.asarray(bearing_deg) + self._by_deg
        return self._scene.distance_m(bearing_deg, elevation_deg, at_s=at_s)


def fits(kind: str, plan: Plan) -> bool:
    """Whether a scene of this kind is large enough for a plan, at the scale of its frames."""
    span = grid_span(plan).grown(_MARGIN_DEG)
    across, down = span.right_deg - span.left_deg, span.top_deg - span.bottom_deg
    if moves(kind):
        return True
    if kind == "painted harbour":
        inside = abs(span.top_deg) < _HARBOUR_TOP_DEG - 3.0
        inside &= abs(span.bottom_deg) < -_HARBOUR_BOTTOM_DEG - 3.0
        return inside and across < 2.0 * _HARBOUR_HALF_DEG - 3.0
    if kind.startswith("sketch"):
        return max(across, down) < 150.0
    width, height = (9216, 8192) if kind == "map" else (3 * _TILE_ACROSS_PX, 2 * _TILE_DOWN_PX)
    return min(width / across, height / down) > 0.9 * plan.scale_px_per_deg


def make_scene(kind: str, plan: Plan, rng: np.random.Generator) -> Scene:
    """A scene of this kind, looked at from a random side and at a random scale."""
    if moves(kind):
        return _worth_a_picture(HarbourScene(int(rng.integers(1, 1_000_000))), kind, plan, rng)
    if kind.startswith("sketch"):
        sky = float(rng.uniform(*_HALF_SKY)) if "half sky" in kind else _USUAL_SKY
        return sketch_scene(plan, int(rng.integers(1_000_000)), sky)
    if kind == "painted harbour":
        picture, span = _harbour(int(rng.integers(len(_HARBOURS))))
        middle = (span.left_deg + span.right_deg) / 2.0
        turn = float(rng.uniform(-1.5, 1.5)) - middle
        return PictureScene(picture, _moved(span, turn, float(rng.uniform(-1.0, 1.0))))
    picture = _map() if kind == "map" else _photographs(rng)
    return PictureScene(picture, _around(plan, picture, rng))


def _worth_a_picture(scene: Scene, kind: str, plan: Plan, rng: np.random.Generator) -> Scene:
    """The harbour from a random side, but never where sea, sky and fog are all that is seen."""
    least = _LEAST_STANDING[kind]
    seen = []
    for _ in range(_SIDES_TRIED):
        turned = Turned(scene, round(float(rng.uniform(-180.0, 180.0)), 2))
        seen.append((_standing_share(turned, plan), turned))
        if seen[-1][0] >= least:
            return turned
    return max(seen, key=lambda one: one[0])[1]


def _standing_share(scene: Scene, plan: Plan) -> float:
    """The share of the cells that show something that stands still: a house, a quay, rocks."""
    cells = plan.cells[:: -(-len(plan.cells) // _CELLS_LOOKED_AT)]
    across, down = plan.horizontal_fov_deg, plan.vertical_fov_deg
    x, y = np.meshgrid(np.linspace(-0.4, 0.4, 6) * across, np.linspace(-0.4, 0.4, 5) * down)
    bearing = np.array([c.bearing_deg + x / np.cos(np.radians(c.elevation_deg)) for c in cells])
    elevation = np.array([c.elevation_deg + y for c in cells])
    distance = scene.distance_m(bearing.ravel(), elevation.ravel()).reshape(bearing.shape)
    below = distance * np.sin(np.radians(-elevation))
    # The sea lies 7 m below the eye, the bank of fog 900 m off; beyond, haze softens all.
    stands = (distance < _NEAR_M) & (below < _SEA_BELOW_M - 0.1) & (distance != _FOG_M)
    return float((stands.mean(axis=(1, 2)) >= _LEAST_IN_CELL).mean())


def _around(plan: Plan, picture: Pixels, rng: np.random.Generator) -> Span:
    """A span at a random scale and place that covers the grid."""
    height, width = picture.shape[:2]
    wanted = grid_span(plan).grown(_MARGIN_DEG)
    across, down = wanted.right_deg - wanted.left_deg, wanted.top_deg - wanted.bottom_deg
    finest, scale = min(width / across, height / down), plan.scale_px_per_deg
    px_per_deg = float(rng.uniform(min(0.92 * scale, finest), min(1.2 * scale, finest)))
    spare_x, spare_y = width / px_per_deg - across, height / px_per_deg - down
    left = wanted.left_deg - float(rng.uniform(0.0, spare_x))
    top = wanted.top_deg + float(rng.uniform(0.0, spare_y))
    return Span(left, left + width / px_per_deg, top, top - height / px_per_deg)


def paint_harbours() -> None:
    """Paint the parts of Saltmere that the bench looks at, once; they are kept in bench/results."""
    CACHE.mkdir(parents=True, exist_ok=True)
    for seed, middle_deg in _HARBOURS:
        path = _harbour_file(seed)
        if path.exists():
            continue
        print(f"painting Saltmere {seed} once for the bench", flush=True)
        scene = HarbourScene(seed)
        width, height = _harbour_size()
        picture = np.empty((height, width, 3), dtype=np.uint8)
        for top in range(0, height, 512):
            rows = min(512, height - top)
            strip = scene.patch(
                middle_deg - _HARBOUR_HALF_DEG,
                _HARBOUR_TOP_DEG - top / _HARBOUR_PX_PER_DEG,
                _HARBOUR_PX_PER_DEG,
                width,
                rows,
            )
            picture[top : top + rows] = srgb_of_linear(strip)
        part = path.with_suffix(f".{os.getpid()}.npy")
        np.save(part, picture)
        part.rename(path)


def _harbour(which: int) -> tuple[Pixels, Span]:
    seed, middle_deg = _HARBOURS[which]
    picture: Any = np.load(_harbour_file(seed), mmap_mode="r")
    span = Span(
        middle_deg - _HARBOUR_HALF_DEG,
        middle_deg + _HARBOUR_HALF_DEG,
        _HARBOUR_TOP_DEG,
        _HARBOUR_BOTTOM_DEG,
    )
    return np.asarray(picture), span


def _harbour_file(seed: int) -> Path:
    width, height = _harbour_size()
    return CACHE / f"harbour-{seed}-{width}x{height}.npy"


def _harbour_size() -> tuple[int, int]:
    return (
        round(2.0 * _HARBOUR_HALF_DEG * _HARBOUR_PX_PER_DEG),
        round((_HARBOUR_TOP_DEG - _HARBOUR_BOTTOM_DEG) * _HARBOUR_PX_PER_DEG),
    )


def _moved(span: Span, bearing_deg: float, elevation_deg: float) -> Span:
    return Span(
        span.left_deg + bearing_deg,
        span.right_deg + bearing_deg,
        span.top_deg + elevation_deg,
        span.bottom_deg + elevation_deg,
    )


def _photographs(rng: np.random.Generator) -> Pixels:
    """Landscape photographs side by side at full size, in two rows, the lower ones turned over.

    Not mirrored at their edges: a scene that mirrors itself is no scene that anyone meets.
    """
    folder = PHOTOS / "scenes"
    files = sorted(file.name for file in folder.glob("*.jpg"))
    rows = []
    for turned in (False, True):
        pictures = []
        for name in rng.permutation(files):
            picture = FolderSource(folder).colour(str(name))
            left = int(rng.integers(0, picture.shape[1] - _TILE_ACROSS_PX + 1))
            top = int(rng.integers(0, picture.shape[0] - _TILE_DOWN_PX + 1))
            tile = picture[top : top + _TILE_DOWN_PX, left : left + _TILE_ACROSS_PX]
            pictures.append(tile[:, ::-1] if turned else tile)
        rows.append(np.hstack(pictures))
    return np.ascontiguousarray(np.vstack(rows))


def _map() -> Pixels:
    folder = PHOTOS / "scenes" / "citymap"
    places = {
        tuple(int(part[1:]) for part in file.stem.split("_")): file.name
        for file in folder.glob("x*_y*.jpg")
    }
    left, top = (min(place[axis] for place in places) for axis in (0, 1))
    right, bottom = (max(place[axis] for place in places) + 1024 for axis in (0, 1))
    picture = np.zeros((bottom - top, right - left, 3), dtype=np.uint8)
    source = FolderSource(folder)
    for (x, y), name in places.items():
        picture[y - top : y - top + 1024, x - left : x - left + 1024] = source.colour(name)
    return picture


def quiet_opencv() -> None:
    """One thread in each process: two processes share two cores."""
    cv2.setNumThreads(1)
