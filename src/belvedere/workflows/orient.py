"""Orient the frames of a card: with the cells the check placed them on, or from the pictures."""

from __future__ import annotations

from collections.abc import Sequence

from belvedere.check import CellReport
from belvedere.foundation import Steps
from belvedere.measure import FrameSource
from belvedere.orient import Orientation, Pointing, orient
from belvedere.shoot import Frame, Plan
from belvedere.sphere import camera_from_world

#: How far a head's pointing is believed to be off: the greater of the two (common practice, no
#: source); what it really was is learnt from the frames.
_SIGMA_DEG = 0.1
_SIGMA_SHARE_OF_VIEW = 0.015


def orient_card(
    frames: Sequence[Frame],
    source: FrameSource,
    plan: Plan | None = None,
    cells: Sequence[CellReport] = (),
    threads: int = 2,
) -> Steps[Orientation]:
    """The orientation and balance of a card's frames.

    Parameters
    ----------
    frames
        As the catalogue read them, in the order of the shutter.
    source
        Gives their pictures.
    plan, cells
        What was planned and what the check says of each cell: the frame in charge of a cell is
        taken, the others are not. Without them every frame is taken and the pictures decide.
    threads
        For decoding and matching.

    Raises
    ------
    OrientError
        Where the frames do not make one picture.
    """
    if plan is None:
        return (yield from orient(frames, source, threads=threads))
    pointings = planned_pointings(plan, cells)
    return (yield from orient(frames, source, pointings, plan.focal_length_px, threads))


def planned_pointings(plan: Plan, cells: Sequence[CellReport]) -> tuple[Pointing, ...]:
    """Where the head was told to look for the frame in charge of each cell that has one."""
    planned = {(cell.row, cell.column): cell for cell in plan.cells}
    sigma = max(_SIGMA_DEG, _SIGMA_SHARE_OF_VIEW * plan.horizontal_fov_deg)
    pointings = []
    for report in cells:
        if not report.frames:
            continue
        cell = planned[report.row, report.column]
        rotation = camera_from_world(cell.bearing_deg, cell.elevation_deg)
        pointings.append(Pointing(report.frames[0], rotation, sigma, report.row, report.column))
    return tuple(pointings)
