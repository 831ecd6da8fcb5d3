"""Why the check says what it says of a cell: the numbers, and the crops side by side at 100 %."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check import Neighbour, Reasons, by_homography, laid_on, reasons_for, telling_crops
from belvedere.compose import Proxy, ProxyFrame, view_of
from belvedere.foundation import CardError, PlanError, Steps
from belvedere.sheet import Picture, WhyRow, picture_png, why_picture
from belvedere.shoot import Plan
from belvedere.sphere import camera_from_world
from belvedere.store import ensure_writable, write_bytes
from belvedere.workflows.check import CheckedCard
from belvedere.workflows.check_pictures import LABEL_SHARE, proxy_frames
from belvedere.workflows.why_words import cell_lines, name, neighbour_lines, neighbour_title

FloatArray = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Crops are as large as this at most, px: two of them and the numbers fit on a laptop's screen.
CROP_PX = (320, 240)
#: Longest side of the picture of the surroundings, px.
_AROUND_PX = 760


def require_cell(plan: Plan, row: int, column: int) -> None:
    """Refuse a cell that the plan does not have.

    Raises
    ------
    PlanError
        Says how many rows and columns there are.
    """
    if not 1 <= row <= plan.rows:
        raise PlanError(
            f"There is no cell {row},{column}: the plan has {plan.rows} rows.",
            f"Give --why a row from 1 to {plan.rows}.",
        )
    columns = plan.columns_per_row[row - 1]
    if not 1 <= column <= columns:
        raise PlanError(
            f"There is no cell {row},{column}: row {row} has {columns} columns.",
            f"Give --why a column from 1 to {columns}.",
        )


def explain_cell(
    checked: CheckedCard, row: int, column: int, folder: Path
) -> Steps[tuple[Reasons, Path]]:
    """The evidence for a cell, and its picture `why-ROW-COLUMN.png` in `folder`.

    Raises
    ------
    PlanError, CardError
        The plan has no such cell, or the card was checked without a plan.
    StoreError
        The picture cannot be written.
    """
    plan = checked.require_plan()
    require_cell(plan, row, column)
    placing = checked.placing
    if placing is None:
        raise CardError("The frames of this card were not placed.", "Give a shoot file.")
    reasons = yield from reasons_for(
        plan, placing, checked.report, checked.overlaps, checked.source, row, column
    )
    drawn, width = why_picture(
        f"Row {row}, column {column}: {reasons.cell.state.upper()}",
        [*cell_lines(reasons)],
        [*_rows(checked, plan, reasons)],
    )
    file = folder / f"why-{row}-{column}.png"
    folder.mkdir(exist_ok=True)
    ensure_writable(file)
    write_bytes(file, picture_png(drawn, width))
    return reasons, file


def _rows(checked: CheckedCard, plan: Plan, reasons: Reasons) -> list[WhyRow]:
    """One row for each neighbour, those laid on the frame first; then the surroundings."""
    placed = proxy_frames(checked, plan)
    mine = _whole(checked, reasons.file)
    rows = []
    for neighbour in sorted(reasons.neighbours, key=lambda n: not n.registered):
        lines = neighbour_lines(neighbour)
        pictures: tuple[Picture, ...] = ()
        if mine is not None:
            pictures, note = _pair(checked, reasons.file, mine, neighbour, placed)
            lines += [note] if note else []
        rows.append(WhyRow(neighbour_title(neighbour), pictures, tuple(lines)))
    around = _around(checked, plan, reasons, placed)
    if around is not None:
        rows.append(WhyRow("The surroundings, made small", (around,), ()))
    return rows


def _whole(checked: CheckedCard, file: str, shrink: int = 1) -> Pixels | None:
    if not file:
        return None
    try:
        return checked.source.colour(file, shrink)
    except CardError:
        return None


def _pair(
    checked: CheckedCard,
    file: str,
    mine: Pixels,
    neighbour: Neighbour,
    placed: Mapping[str, ProxyFrame],
) -> tuple[tuple[Picture, ...], str]:
    """The same place in both, and what must be said of it; no pictures of too small a place."""
    other = _whole(checked, neighbour.file)
    if other is None:
        return (), ""
    registered = laid_on(mine, other, _expected(file, neighbour))
    if registered is None:
        where = by_homography(_by_all(file, neighbour, placed))
        crops = telling_crops(mine, other, where, CROP_PX)
    else:
        crops = telling_crops(mine, other, registered.where, CROP_PX, registered.steady)
    if crops is None:
        return (), "too little is shared to show"
    note = (
        ""
        if crops.aligned or registered
        else "side by side as the plan and the other overlaps have it"
    )
    ends = ((file, crops.mine, crops.corner), (neighbour.file, crops.neighbour, crops.there))
    return tuple(_picture(cut, f"{name(f)} at {x}, {y}") for f, cut, (x, y) in ends), note


def _expected(file: str, neighbour: Neighbour) -> FloatArray:
    """Pixels of the frame to those of a neighbour as their overlap has it, (3, 3)."""
    overlap = neighbour.overlap
    if overlap.file_a == file:
        return overlap.b_from_a
    return np.linalg.inv(overlap.b_from_a).astype(np.float64)


def _by_all(file: str, neighbour: Neighbour, placed: Mapping[str, ProxyFrame]) -> FloatArray:
    """The same by where all overlaps together and the plan have the two frames, (3, 3)."""
    if not {file, neighbour.file} <= placed.keys():
        return _expected(file, neighbour)
    mine, other = placed[file], placed[neighbour.file]
    turn = _turn(other) @ _turn(mine).T
    lens = np.array(
        [
            [mine.focal_px, 0.0, (mine.width_px - 1) / 2.0],
            [0.0, mine.focal_px, (mine.height_px - 1) / 2.0],
            [0.0, 0.0, 1.0],
        ]
    )
    turned: FloatArray = lens @ turn @ np.linalg.inv(lens)
    return turned / float(turned[2, 2])


def _turn(frame: ProxyFrame) -> FloatArray:
    return camera_from_world(frame.bearing_deg, frame.elevation_deg)


def _picture(pixels: Pixels, says: str) -> Picture:
    _, encoded = cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))
    return Picture(encoded.tobytes(), pixels.shape[1], pixels.shape[0], says)


def _around(
    checked: CheckedCard, plan: Plan, reasons: Reasons, placed: Mapping[str, ProxyFrame]
) -> Picture | None:
    """The cells around, put together small; a cell without a frame stays a hole."""
    here = reasons.cell
    cells = [
        cell
        for cell in checked.report.cells
        if max(abs(cell.row - here.row), abs(cell.column - here.column)) <= 1
    ]
    near = {c.frames[0]: placed[c.frames[0]] for c in cells if c.frames and c.frames[0] in placed}
    if not near:
        return None
    focal = next(iter(near.values())).focal_px
    proxy = Proxy(view_of(list(near.values()), np.radians(focal), _AROUND_PX))
    # The cell itself last: it lies on top.
    for file in sorted(near, key=lambda f: f == reasons.file):
        longer = max(near[file].width_px, near[file].height_px)
        small = _whole(checked, file, next((s for s in (8, 4, 2) if longer / s >= 300.0), 1))
        if small is not None:
            proxy.add(small, near[file])
    for cell in cells:
        if cell == here or cell.state == "missing":
            planned = plan.cell(cell.row, cell.column)
            words = f"{cell.row},{cell.column}"
            wide_deg = LABEL_SHARE * plan.horizontal_fov_deg
            proxy.label(words, planned.bearing_deg, planned.elevation_deg, wide_deg)
    return _picture(proxy.picture(), f"around row {here.row}, column {here.column}")
