"""The check's answer as pictures: the grid with its faults, and a quick look at the whole."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check import CheckReport, Placing
from belvedere.compose import Proxy, ProxyFrame, levels_between, view_of
from belvedere.foundation import CardError, Progress, Steps, StoreError
from belvedere.imagefiles import FolderSource, jpeg_bytes, tinted
from belvedere.measure import Overlap
from belvedere.sheet import GridCell, GridLayout, checked_grid, lay_checked_grid, picture_png
from belvedere.shoot import Plan
from belvedere.store import ensure_writable, write_bytes, write_text
from belvedere.workflows.check import CheckedCard

FloatArray = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Of the grid as PNG and of its small pictures: pixels to a point.
_PX_PER_PT = 2.0
#: Longest side of the proxy mosaic, px.
MOST_MOSAIC_PX = 6000
#: Frames are decoded no smaller than this, longer side in px.
_SMALL_ENOUGH_PX = 300
#: Side of the small pictures that brightness is compared on needs no more than this in common.
_LEAST_COMMON_PX = 6
#: The proxy evens out no more than this (natural logarithm of linear light: 1.5 EV).
_MOST_LOG_GAIN = 1.04
#: Labels are this share of a frame wide: no wider than what a missing frame leaves open.
LABEL_SHARE = 0.3
#: Overlaps that agree as well as this are believed alike: full-size px, logarithm of light.
_MISFIT_PX, _MISFIT_LOG = 3.0, 0.03
#: More than this, some two seconds' work, is not decoded again for pictures to look at.
_MOST_DECODED_BYTES = 200_000_000
_THREADS = 2
_EMPTY = 255
_UNREADABLE = 120

_SAYS = {
    "complete": ("COMPLETE", "every cell has a good frame: pack up"),
    "reshoot": ("RE-SHOOT", "{cells} to shoot again"),
    "unsure": ("UNSURE", "{cells} not known to be good"),
}


def ensure_picture_folder(folder: Path) -> None:
    """Refuse early where `folder` is no folder and cannot become one.

    Raises
    ------
    StoreError
        Says which, and what to do.
    """
    if not folder.is_dir():
        if folder.exists():
            raise StoreError(f"{folder} is a file.", "Give the name of a folder for the pictures.")
        ensure_writable(folder)


def write_pictures(checked: CheckedCard, folder: Path) -> Steps[tuple[Path, ...]]:
    """Write `grid.svg`, `grid.png` and `mosaic.jpg` into `folder`; returns what was written.

    Raises
    ------
    CardError
        The card was checked without a shoot file: there is no grid.
    StoreError
        Something cannot be written.
    """
    plan = checked.require_plan()
    shown = _frames_in_charge(checked.report)
    layout = lay_checked_grid(plan.columns_per_row, _shape(checked))
    small = _Contacts(layout)
    views = proxy_frames(checked, plan)
    pictures, width_px = _small_pictures(checked, shown)
    proxy = _new_proxy(list(views.values()), width_px)
    for done, (file, picture) in enumerate(pictures, start=1):
        row, column = shown[file]
        small.put(row, column, picture)
        if proxy is not None and picture is not None and file in views:
            proxy.add(picture, views[file])
        yield Progress("drawing the pictures", done, len(shown), "frames", file)
    folder.mkdir(exist_ok=True)
    written = [*_write_grid(checked.report, plan, layout, small, folder)]
    if proxy is not None:
        written.append(_write_mosaic(checked.report, plan, proxy, folder))
    return tuple(written)


def _new_proxy(frames: Sequence[ProxyFrame], width_px: int) -> Proxy | None:
    """As large as small pictures of this width ask for; None where nothing was placed."""
    if not frames:
        return None
    focal_px = frames[0].focal_px * width_px / frames[0].width_px
    return Proxy(view_of(frames, np.radians(focal_px), MOST_MOSAIC_PX))


def _frames_in_charge(report: CheckReport) -> dict[str, tuple[int, int]]:
    """The frame in charge of each cell that has one, in shutter order as the report has them."""
    order = {placement.file: number for number, placement in enumerate(report.placements)}
    first = {cell.frames[0]: (cell.row, cell.column) for cell in report.cells if cell.frames}
    return dict(sorted(first.items(), key=lambda item: order.get(item[0], 0)))


def _shape(checked: CheckedCard) -> float:
    sized = [frame for frame in checked.frames if frame.width_px and not frame.damage]
    camera = checked.require_plan().shoot.camera
    if not sized:
        return camera.image_width_px / camera.image_height_px
    return sized[0].width_px / sized[0].height_px


def _shrink(checked: CheckedCard) -> int:
    longer = max((max(f.width_px, f.height_px) for f in checked.frames), default=1)
    return next((s for s in (8, 4, 2) if longer / s >= _SMALL_ENOUGH_PX), 1)


def _small_pictures(
    checked: CheckedCard, files: Mapping[str, object]
) -> tuple[Iterator[tuple[str, Pixels | None]], int]:
    """Small colour pictures in the order of `files`, and their width.

    None where there is nothing to decode. Large cards are shown by what was read of them already,
    in the colours of the thumbnails.
    """
    sized = [frame for frame in checked.frames if frame.width_px]
    width = sized[0].width_px if sized else 1
    shrink = _shrink(checked)
    sizes = {frame.file: frame.size_bytes for frame in checked.frames}
    few = sum(sizes.get(file, 0) for file in files) <= _MOST_DECODED_BYTES
    if few or not any(_in_colour(checked, file) is not None for file in list(files)[:3]):
        return _decoded(checked.source, files, shrink), width // shrink
    known = max((luma.shape[1] for luma in checked.small.values() if luma.size), default=0)
    return _tinted(checked, files, shrink), known or width // shrink


def _tinted(
    checked: CheckedCard, files: Mapping[str, object], shrink: int
) -> Iterator[tuple[str, Pixels | None]]:
    for file in files:
        seen = _in_colour(checked, file)
        yield file, _whole(checked.source, file, shrink) if seen is None else seen


def _in_colour(checked: CheckedCard, file: str) -> Pixels | None:
    """What was read of a file in the colours of its thumbnail; None where it has none."""
    luma = checked.small.get(file)
    return tinted(checked.card / file, luma) if luma is not None and luma.size else None


def _whole(source: FolderSource, file: str, shrink: int) -> Pixels | None:
    try:
        return source.colour(file, shrink)
    except CardError:
        return None


def _decoded(
    source: FolderSource, files: Mapping[str, object], shrink: int
) -> Iterator[tuple[str, Pixels | None]]:
    """Pictures decoded at 1/`shrink`, some ahead of the one that is asked for."""
    waiting: deque[tuple[str, Future[Pixels | None]]] = deque()
    ahead = iter(files)
    with ThreadPoolExecutor(_THREADS) as pool:
        while True:
            while len(waiting) < 2 * _THREADS and (file := next(ahead, None)) is not None:
                waiting.append((file, pool.submit(_whole, source, file, shrink)))
            if not waiting:
                return
            file, future = waiting.popleft()
            yield file, future.result()


class _Contacts:
    """The small pictures of the grid in one picture, white where there is none."""

    def __init__(self, layout: GridLayout) -> None:
        self._layout = layout
        size = (layout.grid_height_pt * _PX_PER_PT, layout.grid_width_pt * _PX_PER_PT)
        self.picture = np.full((*(round(side) for side in size), 3), _EMPTY, dtype=np.uint8)

    def put(self, row: int, column: int, small: Pixels | None) -> None:
        left, top = (round(side * _PX_PER_PT) for side in self._layout.corner(row, column))
        width = max(1, round(self._layout.cell_width_pt * _PX_PER_PT) - 1)
        height = max(1, round(self._layout.cell_height_pt * _PX_PER_PT) - 1)
        place = self.picture[max(0, top) : top + height, max(0, left) : left + width]
        if small is None:
            place[:] = _UNREADABLE
        else:
            size = (place.shape[1], place.shape[0])
            place[:] = cv2.resize(small, size, interpolation=cv2.INTER_AREA)


def _write_grid(
    report: CheckReport, plan: Plan, layout: GridLayout, small: _Contacts, folder: Path
) -> Iterator[Path]:
    cells = [GridCell(cell.row, cell.column, cell.state) for cell in report.cells]
    bad = sum(cell.state != "good" for cell in cells)
    word, says = _SAYS[report.verdict]
    counted = f"{bad} of {len(cells)} cells" if bad != 1 else f"1 cell of {len(cells)}"
    drawn = checked_grid(
        layout,
        cells,
        jpeg_bytes(small.picture),
        word,
        says.format(cells=counted),
        plan.shoot.title,
    )
    svg_file, png_file = folder / "grid.svg", folder / "grid.png"
    for file in (svg_file, png_file):
        ensure_writable(file)
    write_text(svg_file, drawn)
    write_bytes(png_file, picture_png(drawn, round(layout.width_pt * _PX_PER_PT)))
    yield svg_file
    yield png_file


def _write_mosaic(report: CheckReport, plan: Plan, proxy: Proxy, folder: Path) -> Path:
    for cell in report.cells:
        if cell.state == "missing":
            planned = plan.cell(cell.row, cell.column)
            words = f"missing {cell.row},{cell.column}"
            proxy.label(
                words,
                planned.bearing_deg,
                planned.elevation_deg,
                LABEL_SHARE * plan.horizontal_fov_deg,
            )
    file = folder / "mosaic.jpg"
    ensure_writable(file)
    write_bytes(file, jpeg_bytes(proxy.picture()))
    return file


def proxy_frames(checked: CheckedCard, plan: Plan) -> dict[str, ProxyFrame]:
    """Where each placed frame looks, by plan and measured shifts, and the gain that evens it out.

    Parameters
    ----------
    checked
        Its overlaps between placed frames say how the frames lie on each other.
    """
    placing = checked.placing
    if placing is None:
        return {}
    number = {
        frame.file: t
        for t, frame in enumerate(placing.frames)
        if placing.cell[t] >= 0 and frame.width_px
    }
    pairs = [o for o in checked.overlaps if o.file_a in number and o.file_b in number]
    count = len(placing.frames)
    ends = np.array([(number[o.file_a], number[o.file_b]) for o in pairs], dtype=np.int64)
    first, second = ends.reshape(-1, 2).T
    weight = np.array([o.support**2 for o in pairs])
    off = _off_the_plan(placing, pairs, first, second)
    known = np.isfinite(off).all(axis=1)
    moved = levels_between(
        count, first[known], second[known], off[known], weight[known], _MISFIT_PX
    )
    gains = _gains(checked, pairs, first, second, count)
    return {file: _frame(plan, placing, t, moved[t], float(gains[t])) for file, t in number.items()}


def _frame(plan: Plan, placing: Placing, t: int, moved: FloatArray, gain: float) -> ProxyFrame:
    cell, moves = plan.cells[int(placing.cell[t])], placing.moves
    across, down = np.degrees(moved / moves.focal_px)
    level = max(0.1, float(np.cos(np.radians(cell.elevation_deg))))
    return ProxyFrame(
        cell.bearing_deg - float(across) / level,
        float(np.clip(cell.elevation_deg + down, -90.0, 90.0)),
        moves.focal_px,
        moves.width_px,
        moves.height_px,
        gain,
    )


def _off_the_plan(
    placing: Placing,
    pairs: Sequence[Overlap],
    first: NDArray[np.int64],
    second: NDArray[np.int64],
) -> FloatArray:
    """How far each second frame shows the scene off where the plan would have it, px (n, 2)."""
    moves = placing.moves
    planned = moves.planned(placing.cell[first], placing.cell[second])
    planned = np.where((placing.cell[first] == placing.cell[second])[:, None], 0.0, planned)
    centre = np.array([(moves.width_px - 1) / 2.0, (moves.height_px - 1) / 2.0])
    middle = centre - planned / 2.0
    there = [o.b_from_a @ np.append(point, 1.0) for o, point in zip(pairs, middle, strict=True)]
    lifted = np.array(there).reshape(-1, 3)
    off: FloatArray = lifted[:, :2] / lifted[:, 2:] - middle - planned
    return off


def _gains(
    checked: CheckedCard,
    pairs: Sequence[Overlap],
    first: NDArray[np.int64],
    second: NDArray[np.int64],
    count: int,
) -> FloatArray:
    """A factor (count,) on each frame's linear light that makes overlaps roughly alike."""
    brighter = np.array([[_log_ratio(checked, o)] for o in pairs]).reshape(-1, 1)
    known = np.isfinite(brighter[:, 0])
    weight = np.ones(int(known.sum()))
    level = levels_between(
        count, first[known], second[known], brighter[known], weight, _MISFIT_LOG
    )[:, 0]
    gains: FloatArray = np.exp(-np.clip(level - np.median(level), -_MOST_LOG_GAIN, _MOST_LOG_GAIN))
    return gains


def _log_ratio(checked: CheckedCard, overlap: Overlap) -> float:
    """How much brighter b is than a where both show the same, as a logarithm; nan if unknown."""
    a, b = checked.small.get(overlap.file_a), checked.small.get(overlap.file_b)
    if a is None or b is None or not a.size or not b.size:
        return float("nan")
    width = next(f.width_px for f in checked.frames if f.width_px)
    shrink = width / a.shape[1]
    dx, dy = (round(float(step) / shrink) for step in overlap.b_from_a[:2, 2])
    height_px, width_px = np.minimum(a.shape, b.shape)
    left, top = max(0, -dx), max(0, -dy)
    right, bottom = min(width_px, width_px - dx), min(height_px, height_px - dy)
    if right - left < _LEAST_COMMON_PX or bottom - top < _LEAST_COMMON_PX:
        return float("nan")
    light_a = np.power(a[top:bottom, left:right] / 255.0, 2.2).mean()
    light_b = np.power(b[top + dy : bottom + dy, left + dx : right + dx] / 255.0, 2.2).mean()
    return float(np.log((light_b + 1e-3) / (light_a + 1e-3)))
