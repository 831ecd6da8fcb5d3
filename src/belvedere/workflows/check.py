"""Check a card: read it, place its frames on the plan's cells, judge them, give the verdict."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from belvedere.check import (
    Ahead,
    CheckReport,
    Finding,
    Judgement,
    PairMemory,
    Placing,
    Positions,
    find_positions,
    judge,
    judge_positions,
    overlaps_of,
    place,
    report,
    sightings,
    with_retakes,
)
from belvedere.foundation import CardError, Progress, Steps, StoreError
from belvedere.imagefiles import (
    FolderSource,
    Reading,
    picture_files,
    processor_threads,
    require_one_size,
)
from belvedere.measure import Overlap, find_overlaps
from belvedere.shoot import Frame, Plan, make_plan, pupil_offset_mm
from belvedere.store import (
    Catalogue,
    Retake,
    code_fingerprint,
    ensure_writable,
    fingerprint,
    open_catalogue,
    write_json,
)
from belvedere.workflows.card_readings import read_card_once
from belvedere.workflows.check_document import check_document
from belvedere.workflows.shootfile import load_shoot

#: The note under which the catalogue keeps which card was checked.
CHECKED_CARD = "checked card"


@dataclass(frozen=True, slots=True)
class CheckedCard:
    """A checked card and what the next stations need of it.

    `frames` are all frames, retakes of other cards included; each `file` is a path relative to
    `card` ("../retakes/DCIM/PIC_0500.JPG"), and `source` gives their pixels by it. `plan` is
    None where the card was checked without a shoot file.
    """

    card: Path
    plan: Plan | None
    report: CheckReport
    frames: tuple[Frame, ...]
    overlaps: tuple[Overlap, ...]
    source: FolderSource
    placing: Placing | None = None
    small: Mapping[str, NDArray[np.uint8]] = field(default_factory=dict)
    positions: Positions | None = None

    def require_plan(self) -> Plan:
        """The plan of a card that was checked with one."""
        if self.plan is None:
            raise CardError("This needs a shoot file.", "Give one with --shoot.")
        return self.plan


def check_card(
    card: Path, shoot_file: Path | None = None, json_file: Path | None = None
) -> Steps[CheckReport]:
    """What the check says of a card; also written to `json_file`, whole or not at all.

    Raises
    ------
    CardError, PlanError, StoreError
        Where it cannot be checked: no pictures, frames of two sizes, a faulty shoot file, a
        place that cannot be written.
    """
    if json_file is not None:
        ensure_writable(json_file)
    checked = yield from examine_card(card, shoot_file)
    if json_file is not None:
        write_json(json_file, check_document(checked.report))
    return checked.report


def examine_card(card: Path, shoot_file: Path | None = None) -> Steps[CheckedCard]:
    """Check a card and keep what the next stations need of it; raises like `check_card`."""
    started = time.monotonic()
    if shoot_file is None:
        return (yield from _without_plan(card, started))
    shoot_file = shoot_path(shoot_file)
    plan = make_plan(load_shoot(shoot_file))
    picture_files(card)
    card = card.resolve()
    read = yield from _read(card, shoot_file, plan)
    frames = tuple(reading.frame for reading in read.readings)
    _require_some_picture(card, frames)
    _require_planned_size(plan, frames)
    return (yield from _with_plan(card, shoot_file, plan, read, started))


def shoot_path(shoot_file: Path) -> Path:
    """A shoot file; a folder stands for its `shoot.toml`."""
    return shoot_file / "shoot.toml" if shoot_file.is_dir() else shoot_file


def lies_in(path: Path, folder: Path) -> bool:
    """Whether `path` is inside `folder`: nothing may be written there if that is a card."""
    return path.resolve().is_relative_to(folder.resolve())


@contextmanager
def maybe_catalogue(card: Path, shoot_file: Path) -> Iterator[Catalogue | None]:
    """The shoot's catalogue; None where the shoot file lies on the card itself.

    A catalogue that cannot be opened is not worth stopping a check at the tripod for: None too.
    """
    if lies_in(shoot_file, card):
        yield None
        return
    try:
        opened = open_catalogue(shoot_file)
        catalogue = opened.__enter__()
    except StoreError:
        yield None
        return
    try:
        yield catalogue
    except BaseException as error:
        opened.__exit__(type(error), error, error.__traceback__)
        raise
    opened.__exit__(None, None, None)


@dataclass(frozen=True, slots=True)
class _ReadRetake:
    """A registered retake, read; its frame is named relative to the checked card."""

    reading: Reading
    row: int
    column: int


@dataclass(frozen=True, slots=True)
class _Read:
    """A card as it was read: also what was measured meanwhile, and who may be neighbours."""

    readings: Sequence[Reading]
    retakes: Sequence[_ReadRetake]
    remarks: Sequence[Finding]
    memory: PairMemory
    met: Sequence[tuple[str, str]]


def _read(card: Path, shoot_file: Path, plan: Plan) -> Steps[_Read]:
    """Read the card and measure its pairs; the pixels that waited for neighbours are let go of."""
    memory = PairMemory()
    ahead = Ahead(plan, memory, len(picture_files(card)))
    with maybe_catalogue(card, shoot_file) as catalogue:
        reading = yield from read_card_once(card, catalogue, looker=ahead)
        registered = () if catalogue is None else catalogue.retakes()
        retakes, remarks = yield from _read_retakes(card, registered, catalogue)
        if catalogue is not None:
            catalogue.set_note(CHECKED_CARD, str(card))
    return _Read(reading.readings, retakes, remarks, memory, ahead.met)


def _read_retakes(
    card: Path, registered: Sequence[Retake], catalogue: Catalogue | None
) -> Steps[tuple[tuple[_ReadRetake, ...], tuple[Finding, ...]]]:
    found: list[_ReadRetake] = []
    remarks: list[Finding] = []
    for retake in registered:
        path = retake.card / retake.file
        cell = f"row {retake.row}, column {retake.column}"
        if not path.is_file():
            remarks.append(
                Finding(
                    "retake",
                    f"the retake {path} of {cell} is not there any more, so that cell stands as "
                    f"first taken; insert its card, or register the retake again",
                )
            )
            continue
        reading = yield from read_card_once(retake.card, catalogue, (retake.file,))
        read = reading.readings[0]
        if read.frame.content_hash != retake.content_hash:
            remarks.append(
                Finding(
                    "retake",
                    f"{path} is not the picture that was registered for {cell} (another content), "
                    f"so that cell stands as first taken; register the retake again",
                )
            )
            continue
        file = Path(os.path.relpath(path, card)).as_posix()
        found.append(
            _ReadRetake(
                replace(read, frame=replace(read.frame, file=file)), retake.row, retake.column
            )
        )
    return tuple(found), tuple(remarks)


def _require_some_picture(card: Path, frames: Sequence[Frame]) -> None:
    """One bad frame among good ones is a finding; a folder of nothing else cannot be checked."""
    if not any(frame.width_px for frame in frames):
        first = frames[0]
        raise CardError(
            f"Not one of the {len(frames)} files in {card} can be opened as a picture: "
            f"{first.file} {first.damage}.",
            "Give the folder that holds the frames, or read the card anew.",
        )


def _require_planned_size(plan: Plan, frames: Sequence[Frame]) -> None:
    require_one_size(frames)
    camera = plan.shoot.camera
    sized = next((f for f in frames if f.width_px and not f.damage), None)
    if sized is None:
        return
    planned = camera.image_width_px / camera.image_height_px
    if abs(sized.width_px / sized.height_px / planned - 1.0) > 0.02:
        raise CardError(
            f"The frames are {sized.width_px} × {sized.height_px} px, the shoot file says "
            f"{camera.image_width_px} × {camera.image_height_px} px.",
            "Correct image_width_px and image_height_px in [camera], or give the right card.",
        )


def _with_plan(
    card: Path,
    shoot_file: Path,
    plan: Plan,
    read: _Read,
    started: float,
) -> Steps[CheckedCard]:
    index = {(cell.row, cell.column): k for k, cell in enumerate(plan.cells)}
    retakes = [retake for retake in read.retakes if (retake.row, retake.column) in index]
    # Retakes that were taken on the same card are no part of the sweep.
    again_too = {retake.reading.frame.file for retake in retakes}
    readings = [reading for reading in read.readings if reading.frame.file not in again_too]
    every = [*readings, *(retake.reading for retake in retakes)]
    frames = tuple(reading.frame for reading in every)
    require_one_size(frames)
    small = small_pictures(every)
    seen = sightings(frames, small)
    number = {frame.file: t for t, frame in enumerate(frames)}
    guessed = [(number[a], number[b]) for a, b in read.met if a in number and b in number]
    yield from seen.match(guessed, processor_threads())
    placing = yield from place(frames[: len(readings)], seen, plan)
    again = [retake.reading.frame for retake in retakes]
    placing = with_retakes(placing, again, [index[r.row, r.column] for r in retakes])
    positions = yield from find_positions(placing, seen)
    overlaps = overlaps_of(placing, positions)
    geometry = judge_positions(plan, placing, positions)
    source = FolderSource(card, {r.frame.file: r.orientation for r in every})
    members = [frames[t] for t in np.flatnonzero(placing.cell >= 0)]
    cells = {
        frames[t].file: (plan.cells[placing.cell[t]].row, plan.cells[placing.cell[t]].column)
        for t in np.flatnonzero(placing.cell >= 0)
    }
    judgement = yield from _judged(
        card,
        shoot_file,
        members,
        overlaps,
        source,
        small,
        cells,
        read.memory,
        pupil_offset_mm(plan, px=1.0),
    )
    said = report(
        plan,
        placing,
        [frame.file for frame in again],
        replace(judgement, findings=(*judgement.findings, *geometry.findings)),
        (*geometry.shoot_findings, *read.remarks),
        round(time.monotonic() - started, 2),
    )
    return CheckedCard(card, plan, said, frames, overlaps, source, placing, small, positions)


def small_pictures(readings: Sequence[Reading]) -> dict[str, NDArray[np.uint8]]:
    """The small pictures of readings by file."""
    return {reading.frame.file: reading.small for reading in readings}


def _judged(
    card: Path,
    shoot_file: Path,
    frames: Sequence[Frame],
    overlaps: Sequence[Overlap],
    source: FolderSource,
    small: Mapping[str, NDArray[np.uint8]],
    cells: Mapping[str, tuple[int, int]],
    memory: PairMemory,
    slide: float | None,
) -> Steps[Judgement]:
    """The judgement, or what was judged before of the very same frames and overlaps."""
    key = fingerprint(
        code_fingerprint("belvedere.check", "belvedere.measure", "belvedere.imagefiles"),
        [asdict(frame) for frame in frames],
        [[o.file_a, o.file_b, np.round(o.b_from_a, 3).tolist()] for o in overlaps],
        sorted(cells.items()),
        slide,
    )
    with maybe_catalogue(card, shoot_file) as catalogue:
        before = None if catalogue is None else catalogue.result(key)
    if before is not None:
        yield Progress("judging", len(overlaps), len(overlaps), "overlaps", "known")
        return _judgement(before)
    judgement = yield from judge(frames, overlaps, source, small, cells, memory, slide)
    with maybe_catalogue(card, shoot_file) as catalogue:
        if catalogue is not None:
            catalogue.keep_result(key, asdict(judgement))
    return judgement


def _judgement(said: dict[str, Any]) -> Judgement:
    return Judgement(
        tuple(Finding(**finding) for finding in said["findings"]),
        tuple(Finding(**finding) for finding in said["shoot_findings"]),
        dict(said["unjudged"]),
        tuple(Finding(**finding) for finding in said["remarks"]),
    )


def _without_plan(card: Path, started: float) -> Steps[CheckedCard]:
    """What needs no grid: damage, sharpness, exposure and colour against overlapping frames."""
    reading = yield from read_card_once(card, None)
    frames = reading.frames
    _require_some_picture(card, frames)
    require_one_size(frames)
    card = card.resolve()
    source = FolderSource(card, {r.frame.file: r.orientation for r in reading.readings})
    whole = [frame.file for frame in frames if not frame.damage]
    overlaps = yield from find_overlaps(whole, source)
    judgement = yield from judge(frames, overlaps, source, small_pictures(reading.readings))
    unjudged = tuple(
        Finding("unjudged", why, file) for file, why in sorted(judgement.unjudged.items())
    )
    no_plan = Finding(
        "plan",
        "without a shoot file nobody can say whether a cell is missing; give one with --shoot",
    )
    said = CheckReport(
        verdict="reshoot" if judgement.findings else "unsure",
        cells=(),
        other_frames=(),
        findings=(
            *judgement.findings,
            *judgement.shoot_findings,
            *judgement.remarks,
            *unjudged,
            no_plan,
        ),
        retakes=(),
        placements=(),
        seconds=round(time.monotonic() - started, 2),
    )
    return CheckedCard(card, None, said, frames, overlaps, source)
