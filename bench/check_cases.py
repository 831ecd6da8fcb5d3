"""Random shoots for the check's bench: plan, scene, camera, head and faults from one seed."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from belvedere.imagefiles import FolderSource
from belvedere.rehearse import (
    CameraTraits,
    HeadTraits,
    PictureScene,
    Rehearsal,
    Repeated,
    Scene,
    Span,
    TrialPictures,
    grid_span,
    random_faults,
    sketch_scene,
)
from belvedere.rehearse.harbour import HarbourScene
from belvedere.rehearse.tone import srgb_of_linear
from belvedere.shoot import Plan, make_plan, parse_shoot

ROOT = Path(__file__).resolve().parent.parent
PHOTOS = Path(os.environ.get("BELVEDERE_PHOTOS", ROOT.parent / "shared" / "photos"))
CACHE = ROOT / "bench" / "results" / "scenes"

#: A frame of about 1 MP on a small sensor behind a lens of 30.5 mm.
_WIDTH_PX, _HEIGHT_PX, _FOV_ACROSS_DEG, _FOV_DOWN_DEG = 1152, 864, 13.91, 10.45
_ROWS, _COLUMNS = 5, 8
#: Parts of Saltmere that are painted once for the bench: seed and middle bearing.
_HARBOURS = ((11, 0.0), (12, -55.0), (13, 60.0))
_HARBOUR_HALF_DEG, _HARBOUR_TOP_DEG, _HARBOUR_BOTTOM_DEG = 49.0, 32.0, -34.0
_HARBOUR_PX_PER_DEG = 84.0
#: A tilted base and a random aim look so far beyond the plan's edges.
_MARGIN_DEG = 2.0
_TILE_ACROSS_PX, _TILE_DOWN_PX = 3240, 2440


@dataclass(frozen=True, slots=True)
class Case:
    """One rehearsed shoot of the bench."""

    number: int
    shoot_toml: str
    plan: Plan
    rehearsal: Rehearsal
    scene_name: str


def case(number: int, seed: int) -> Case:
    """The shoot with this number: everything random about it follows from the seed."""
    rng = np.random.default_rng([seed, number])
    text = _shoot_toml(rng)
    plan = make_plan(parse_shoot(text, "bench"))
    faults = random_faults(plan, rng, int(rng.integers(0, 5)))
    extra: list[TrialPictures | Repeated] = []
    if rng.random() < 0.3:
        extra.append(TrialPictures(int(rng.integers(1, 4))))
    taken = {fault.cell for fault in faults}
    free = [cell for cell in plan.cells if (cell.row, cell.column) not in taken]
    if rng.random() < 0.15:
        chosen = free[int(rng.integers(len(free)))]
        extra.append(Repeated((chosen.row, chosen.column)))
    rehearsal = Rehearsal(
        plan,
        _camera(rng),
        HeadTraits(
            pointing_error_deg=float(rng.uniform(0.01, 0.05)),
            base_tilt_deg=float(rng.uniform(0.0, 1.5)),
            interval_jitter_s=float(rng.uniform(0.02, 0.15)),
        ),
        (*faults, *extra),
        seed=int(rng.integers(1, 1_000_000)),
    )
    kinds = scene_kinds()
    return Case(number, text, plan, rehearsal, kinds[number % len(kinds)])


def scene_kinds() -> tuple[str, ...]:
    """Scenes that take turns: Saltmere, a printed map, a wall of photographs, a sketch."""
    if not PHOTOS.is_dir():
        return ("harbour", "sketch")
    return (
        "harbour",
        "map",
        "photographs",
        "harbour",
        "photographs",
        "sketch",
        "map",
        "photographs",
    )


def scene_for(one: Case, seed: int) -> Scene:
    """The scene of a case, looked at from a random side and at a random scale."""
    rng = np.random.default_rng([seed, one.number, 1])
    if one.scene_name == "sketch":
        return sketch_scene(one.plan, int(rng.integers(1_000_000)))
    if one.scene_name == "harbour":
        picture, span = harbour(one.number // 3 % len(_HARBOURS))
        middle = (span.left_deg + span.right_deg) / 2.0
        turn = float(rng.uniform(-1.5, 1.5)) - middle
        return PictureScene(picture, _moved(span, turn, float(rng.uniform(-3.0, 3.0))))
    picture = _map() if one.scene_name == "map" else _photographs(rng)
    return PictureScene(picture, _around(one.plan, picture, rng))


def _around(plan: Plan, picture: np.ndarray, rng: np.random.Generator) -> Span:
    """A span at a random scale and place that covers the grid."""
    height, width = picture.shape[:2]
    wanted = grid_span(plan).grown(_MARGIN_DEG)
    across, down = wanted.right_deg - wanted.left_deg, wanted.top_deg - wanted.bottom_deg
    finest = min(width / across, height / down)
    px_per_deg = float(rng.uniform(min(76.0, finest), min(100.0, finest)))
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
        part = path.with_suffix(".part.npy")
        np.save(part, picture)
        part.rename(path)


def harbour(which: int) -> tuple[np.ndarray, Span]:
    seed, middle_deg = _HARBOURS[which]
    picture = np.load(_harbour_file(seed), mmap_mode="r")
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


def _photographs(rng: np.random.Generator) -> np.ndarray:
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


def _map() -> np.ndarray:
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


def _shoot_toml(rng: np.random.Generator) -> str:
    overlap = float(rng.uniform(0.24, 0.38))
    half_across = (_COLUMNS - (_COLUMNS - 1) * overlap) * _FOV_ACROSS_DEG / 2.0
    half_down = (_ROWS - (_ROWS - 1) * overlap) * _FOV_DOWN_DEG / 2.0
    middle = float(rng.uniform(-6.0, 6.0))
    order = ("rows", "columns")[int(rng.integers(2))]
    corner = ("top-left", "top-right", "bottom-left", "bottom-right")[int(rng.integers(4))]
    serpentine = "true" if rng.random() < 0.5 else "false"
    return f"""[shoot]
title = "Saltmere, a rehearsal of the bench"

[camera]
sensor_width_mm = 7.44
image_width_px = {_WIDTH_PX}
image_height_px = {_HEIGHT_PX}

[lens]
focal_length_mm = 30.5

[grid]
left_deg = {-half_across:.2f}
right_deg = {half_across:.2f}
top_deg = {middle + half_down:.2f}
bottom_deg = {middle - half_down:.2f}
overlap = {overlap - 0.02:.2f}
rows = {_ROWS}
columns = {_COLUMNS}

[sweep]
order = "{order}"
start = "{corner}"
serpentine = {serpentine}
interval_s = {float(rng.choice([3.0, 4.0, 6.0])):.1f}
"""


def _camera(rng: np.random.Generator) -> CameraTraits:
    return CameraTraits(
        focal_length_error=float(rng.uniform(-0.004, 0.004)),
        corner_pull=float(rng.uniform(-0.002, 0.006)),
        corner_falloff_ev=float(rng.uniform(0.1, 0.8)),
        full_well_e=float(rng.uniform(5_000.0, 15_000.0)),
        read_noise_e=float(rng.uniform(3.0, 8.0)),
        lens_blur_px=float(rng.uniform(0.4, 0.65)),
        gain_jitter_ev=float(rng.uniform(0.0, 0.02)),
        jpeg_quality=int(rng.integers(88, 97)),
    )
