"""What is truly wrong with each frame and cell of a rehearsed shoot, from the rehearsal's truth.

A fault is graded by its true size: from a size on it must be found ("must"), below a smaller one
the frame is good, and in between either answer is right ("free").

    blur      deviation that the fault adds, in px: must from 1.0, good below 0.5
    exposure  EV that the camera departs by: must from 0.33 (a third of a stop), good below 0.15
    colour    CIEDE2000 on mid grey: must from 5.0, good below 2.0
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import theilslopes

from belvedere.measure import ciede2000, lab_from_linear
from belvedere.rehearse import Bumped, Rehearsal, Slipped, Slipping
from belvedere.sphere import camera_from_world
from check_gaps import Gaps, find_gaps

Cell = tuple[int, int]
FloatArray = NDArray[np.float64]

MUST_BLUR_PX, FREE_BLUR_PX = 1.0, 0.5
MUST_EV, FREE_EV = 0.33, 0.15
MUST_COLOUR, FREE_COLOUR = 5.0, 2.0
#: Across against along, as variances: rounder than the one is out of focus, longer than the other
#: is shaken; in between both words are right.
_SURELY_ROUND, _SURELY_LONG = 0.6, 0.3
_MID_GREY = 0.2
#: A frame that was knocked or slipped shows a cell when it lies within so much of a step from it.
_SHOWS_STEPS = 0.6


@dataclass(frozen=True, slots=True)
class FrameTruth:
    """One file of the card.

    `cells` are those that it may be said to show, empty for a frame of no cell; `ev` and `lab_ab`
    are what the camera made of the light, for `must_by_class`.
    """

    file: str
    role: str
    cells: frozenset[Cell]
    whole: bool
    must: frozenset[str]
    free: frozenset[str]
    at_s: float
    ev: float
    gains: tuple[float, float, float]
    happened: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Truth:
    """Everything that is true about a card.

    `takes` has the files of each cell of the plan; `maybe` cells that a frame between two cells may
    stand for. `unlocked` names what was left on automatic. `detail` is the share of each blurred
    file that shows lasting detail where other frames overlap it; it is added by the bench.
    """

    frames: dict[str, FrameTruth]
    takes: dict[Cell, tuple[str, ...]]
    maybe: frozenset[Cell]
    unlocked: frozenset[str]
    gaps: Gaps
    detail: dict[str, float] = field(default_factory=dict)


def truth_of(rehearsal: Rehearsal, documents: Sequence[Mapping[str, Any]]) -> Truth:
    """The truth from the rehearsal's own documents, one for each sweep on the card."""
    frames: dict[str, FrameTruth] = {}
    automatic = "automatic" in rehearsal.hazards
    sharp = _usual_kernel(documents)
    strayed = any(isinstance(fault, Bumped | Slipped | Slipping) for fault in rehearsal.faults)
    for document in documents:
        shaded = _in_other_light(document)
        for frame in document["frames"]:
            cells = _cells(frame, rehearsal, document, strayed)
            one = _frame(frame, cells, sharp, automatic)
            if one.file in shaded:
                one = replace(one, free=one.free | {"exposure", "colour"})
            frames[one.file] = one
        entry = document.get("empty_entry")
        if entry is not None:
            frames[entry] = _empty(entry, document)
    takes: dict[Cell, tuple[str, ...]] = {}
    maybe: set[Cell] = set()
    places = [(cell.row, cell.column) for cell in rehearsal.plan.cells]
    for cell in places:
        takes[cell] = tuple(one.file for one in frames.values() if one.cells == {cell})
        shared = [one for one in frames.values() if cell in one.cells and len(one.cells) > 1]
        if shared:
            maybe.add(cell)
            takes[cell] += tuple(one.file for one in shared)
    unlocked = {"exposure", "colour"} if automatic else set()
    gaps = find_gaps(rehearsal, documents) if strayed else Gaps()
    return Truth(frames, takes, frozenset(maybe), frozenset(unlocked), gaps)


def _frame(
    frame: Mapping[str, Any], cells: frozenset[Cell], sharp: tuple[float, float], automatic: bool
) -> FrameTruth:
    whole = frame["kept_share"] >= 1.0
    must, free = _blur_kinds(frame, sharp) if whole else ({"corrupt"}, set())
    if frame["role"] == "before the sweep":
        must, free = set(), {"soft", "shaken", "exposure", "colour"}
    if "flicker" in frame["happened"]:
        free |= {"exposure", "colour"}
    gains = frame.get("used_white_balance_gains", frame["white_balance_gains"])
    red, green, blue = (float(gain) for gain in gains)
    return FrameTruth(
        frame["file"],
        frame["role"],
        cells,
        whole,
        frozenset(must),
        frozenset(free),
        _seconds(frame["taken_at"]),
        float(frame["picture_ev" if automatic else "exposure_ev"]),
        (red / green, 1.0, blue / green),
        tuple(frame["happened"]),
    )


def _in_other_light(document: Mapping[str, Any]) -> set[str]:
    """Frames whose light departs from even drift over the sweep: a cloud's shadow, say.

    The picture is darker there, and no one is at fault: both answers are right. The drift is the
    line of H. Theil (1950) and P. K. Sen (1968), from memory; a shadow does not bend it.
    """
    frames = [frame for frame in document["frames"] if frame["role"] != "before the sweep"]
    light = np.array([frame["illumination_ev"] for frame in frames])
    at_s = np.array([_seconds(frame["taken_at"]) for frame in frames])
    if len(frames) < 2 or np.ptp(light) < FREE_EV:
        return set()
    slope, level, *_ = theilslopes(light, at_s - at_s[0])
    away = np.abs(light - level - slope * (at_s - at_s[0]))
    return {frame["file"] for frame, ev in zip(frames, away, strict=True) if ev >= FREE_EV}


def _empty(entry: str, document: Mapping[str, Any]) -> FrameTruth:
    """An entry without content: of the cell that would have been next, and damaged."""
    last = max(_seconds(frame["taken_at"]) for frame in document["frames"])
    cells = [(cell["row"], cell["column"]) for cell in document["cells"] if entry in cell["files"]]
    nothing: frozenset[str] = frozenset()
    return FrameTruth(
        entry,
        "empty",
        frozenset(cells),
        whole=False,
        must=frozenset({"corrupt"}),
        free=nothing,
        at_s=last + 1.0,
        ev=0.0,
        gains=(1.0, 1.0, 1.0),
    )


def _seconds(moment: str) -> float:
    return float(np.datetime64(moment, "us").astype(np.int64)) / 1e6


def _usual_kernel(documents: Sequence[Mapping[str, Any]]) -> tuple[float, float]:
    """Variance along and across of the shoot's sharp frames: the lower quartile."""
    kernels = [
        frame["kernel"]
        for document in documents
        for frame in document["frames"]
        if frame["role"] != "before the sweep" and "kernel" in frame
    ]
    along = np.quantile([kernel["along_px"] ** 2 for kernel in kernels], 0.25)
    across = np.quantile([kernel["across_px"] ** 2 for kernel in kernels], 0.25)
    return float(along), float(across)


def _blur_kinds(frame: Mapping[str, Any], sharp: tuple[float, float]) -> tuple[set[str], set[str]]:
    """Blur kinds that must be found, and those that may be said.

    A disc of diameter d has the deviation d / 4 along each axis.
    """
    kernel = frame["kernel"]
    along, across = kernel["along_px"] ** 2 - sharp[0], kernel["across_px"] ** 2 - sharp[1]
    least, most = ((disc / 4.0) ** 2 for disc in frame["depth_blur_px"])
    if np.sqrt(max(along + most, 0.0)) < FREE_BLUR_PX:
        return set(), set()
    if np.sqrt(max(along + least, 0.0)) < MUST_BLUR_PX:
        return set(), {"soft", "shaken"}
    shape = (across + least) / (along + least)
    if shape >= _SURELY_ROUND:
        return {"soft"}, set()
    if shape <= _SURELY_LONG:
        return {"shaken"}, set()
    return {"soft or shaken"}, set()


def _cells(
    frame: Mapping[str, Any], rehearsal: Rehearsal, document: Mapping[str, Any], strayed: bool
) -> frozenset[Cell]:
    """The cells that a frame may be said to show."""
    if frame["cell"] is None and frame["role"] == "before the sweep":
        return frozenset()
    told = set() if frame["cell"] is None else {(frame["cell"][0], frame["cell"][1])}
    if not strayed:
        return frozenset(told)
    if frame["role"] == "sweep":
        # After a slip the cell that the head was sent to is as fair a name; holes count apart.
        told.add((frame["sent_to"][0], frame["sent_to"][1]))
    plan = rehearsal.plan
    rotation, base = np.array(frame["camera_from_world"]), _base(document)
    cells = list(plan.cells)
    axes = np.array([camera_from_world(c.bearing_deg, c.elevation_deg)[2] @ base for c in cells])
    seen = axes @ rotation.T
    ahead = seen[:, 2] > 0.1
    x = np.degrees(np.arctan2(seen[:, 0], seen[:, 2]))
    y = np.degrees(np.arctan2(seen[:, 1], seen[:, 2]))
    across, down = _steps_deg(rehearsal)
    near = ahead & (np.abs(x) < _SHOWS_STEPS * across) & (np.abs(y) < _SHOWS_STEPS * down)
    return frozenset(told | {(cells[i].row, cells[i].column) for i in np.flatnonzero(near)})


def _steps_deg(rehearsal: Rehearsal) -> tuple[float, float]:
    """About how far the head turns from column to column and from row to row."""
    plan = rehearsal.plan
    elevations = plan.row_elevations_deg()
    down = abs(elevations[0] - elevations[-1]) / max(1, len(elevations) - 1)
    level = min(range(len(elevations)), key=lambda i: abs(elevations[i])) + 1
    bearings = sorted(cell.bearing_deg for cell in plan.cells if cell.row == level)
    across = float(np.median(np.diff(bearings))) if len(bearings) > 1 else plan.horizontal_fov_deg
    return across, down if down > 0.0 else plan.vertical_fov_deg


def _base(document: Mapping[str, Any]) -> FloatArray:
    return np.array(document["head"]["base_from_world"], dtype=np.float64)


def must_by_class(truth: Truth, kind: str, accused: set[str]) -> tuple[set[str], set[str]]:
    """Files whose exposure or colour must be found, and those where either answer is right.

    Frames are measured against the largest class of frames exposed alike. Where two classes are
    nearly equally large, the check may take either for the usual one: the one that explains its
    answer better is taken.
    """
    if kind in truth.unlocked:
        return set(), set(truth.frames)
    used = [f for f in truth.frames.values() if f.whole and f.cells]
    if not used:
        return set(), set()
    must_at, free_at = (MUST_EV, FREE_EV) if kind == "exposure" else (MUST_COLOUR, FREE_COLOUR)
    values = np.array([[f.ev] if kind == "exposure" else list(_ab_lab(f.gains)) for f in used])
    best: tuple[int, set[str], set[str]] | None = None
    for usual in _usual_values(values, free_at, kind):
        away = _apart(values, usual, kind)
        must = {f.file for f, d in zip(used, away, strict=True) if d >= must_at}
        free = {f.file for f, d in zip(used, away, strict=True) if free_at <= d < must_at}
        wrong = len((must ^ accused) - free)
        if best is None or wrong < best[0]:
            best = (wrong, must, free)
    assert best is not None
    return best[1], best[2]


def _usual_values(values: FloatArray, same: float, kind: str) -> list[FloatArray]:
    """The middles of the largest class and of those nearly as large."""
    classes: list[tuple[FloatArray, int]] = []
    left = np.ones(len(values), dtype=bool)
    while left.any():
        counts = [
            (int((_apart(values[left], value, kind) < same).sum()), place)
            for place, value in enumerate(values)
            if left[place]
        ]
        count, place = max(counts)
        member = left & (_apart(values, values[place], kind) < same)
        classes.append((np.median(values[member], axis=0), count))
        left &= ~member
    most = max(count for _, count in classes)
    return [middle for middle, count in classes if count >= most - max(2, 0.05 * len(values))]


def _apart(values: FloatArray, usual: FloatArray, kind: str) -> FloatArray:
    if kind == "exposure":
        difference: FloatArray = np.abs(values[:, 0] - usual[0])
        return difference
    return ciede2000(values, usual)


def _ab_lab(gains: tuple[float, float, float]) -> FloatArray:
    """CIELAB of mid grey under these gains, its luminance kept."""
    light = np.array(gains)
    light = _MID_GREY * light / float(light @ np.array([0.2126, 0.7152, 0.0722]))
    return np.asarray(lab_from_linear(light), dtype=np.float64)
