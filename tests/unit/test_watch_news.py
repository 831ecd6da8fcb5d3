"""What a watch says and when, on a clock of the test's own; small pictures with known cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta

import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.check import Finding
from belvedere.shoot import Frame, Plan
from belvedere.workflows.watch import new_watch
from belvedere.workflows.watch_events import WatchEvent
from belvedere.workflows.watch_files import Sight
from belvedere.workflows.watch_news import advance
from belvedere.workflows.watch_placing import Followed, follow
from belvedere.workflows.watch_state import Judged, finished, view
from check_synthetic import Shot, frames_of, pictures_of, plan_of

INTERVAL_S = 3.0
#: Seconds from the release to the file, and from there until it is whole.
WAY_S, WRITING_S = 0.8, 0.7
CUT, WHOLE = 400, 1000
EVERY_S = 0.5


@dataclass
class Stage:
    """A folder on a clock, and a desk that knows its pictures; it is a `Desk`."""

    plan: Plan
    frames: dict[str, Frame]
    small: dict[str, NDArray[np.uint8]]
    writes: list[tuple[float, str, int]]
    gone_s: tuple[float, float] = (np.inf, np.inf)
    findings: dict[str, tuple[Finding, ...]] = field(default_factory=dict)
    sizes: dict[str, int] = field(default_factory=dict)
    stamps: dict[str, int] = field(default_factory=dict)
    reads: list[str] = field(default_factory=list)
    pulled: set[str] = field(default_factory=set)
    remarks: tuple[Finding, ...] = ()

    def to(self, now_s: float) -> None:
        for at_s, file, size in sorted(self.writes):
            if at_s <= now_s:
                if self.sizes.get(file) != size:
                    self.stamps[file] = int(at_s * 1e9)
                self.sizes[file] = size

    def looked(self, now_s: float, done: frozenset[str]) -> tuple[dict[str, Sight], int] | None:
        self.to(now_s)
        if self.gone_s[0] <= now_s < self.gone_s[1]:
            return None
        sights = {f: Sight(size, self.stamps[f]) for f, size in self.sizes.items() if f not in done}
        return sights, len(self.sizes)

    def ends_whole(self, file: str) -> bool | None:
        return self.sizes[file] == WHOLE

    def read(self, files: Sequence[str]) -> tuple[Frame, ...]:
        self.reads += files
        return tuple(map(self._frame, files))

    def _frame(self, file: str) -> Frame:
        frame = self.frames[file]
        if file in self.pulled:
            self.pulled.remove(file)
            return Frame(file, "", 0, 0, 0, damage="cannot be read: No such file or directory")
        cut = "ends in the middle of the picture"
        return frame if self.sizes[file] == WHOLE else replace(frame, damage=cut)

    def follow(self, before: Followed, new: Sequence[Frame]) -> Followed:
        return follow(before, new, self.small, self.plan)

    def judge(self, now: Followed, file: str) -> Judged:
        near = frozenset({file, now.frames[max(0, now.position(file) - 1)].file})
        return Judged(near, near, self.findings.get(file, ()), self.remarks)


def stage(
    lost: Sequence[int] = (), *, rows: int = 3, columns: int = 5, turn_s: float = 0.0
) -> tuple[Stage, dict[int, str], dict[int, float]]:
    """A sweep without the `lost` cells; the file of each cell, and when each was due."""
    plan = plan_of(rows, columns, interval_s=INTERVAL_S)
    due_s = {k: INTERVAL_S * k + turn_s * (k // columns) for k in range(len(plan.cells))}
    shots = [Shot(k, due_s[k]) for k in due_s if k not in lost]
    frames = frames_of(shots, whole_seconds=False)
    pictures = pictures_of(plan, shots, seed=3)
    small = {frame.file: picture for frame, picture in zip(frames, pictures, strict=True)}
    files = {shot.cell: frame.file for shot, frame in zip(shots, frames, strict=True)}
    writes = [
        write
        for k, file in files.items()
        for write in (
            (due_s[k] + WAY_S, file, CUT),
            (due_s[k] + WAY_S + WRITING_S, file, WHOLE),
        )
    ]
    return Stage(plan, {f.file: f for f in frames}, small, writes), files, due_s


Said = list[tuple[float, WatchEvent]]


def play(on: Stage, until_s: float, begin_s: float = -1.0) -> Said:
    """Watch until the sweep is over, or to a moment."""
    watch, now_s = new_watch(on.plan, "tether"), begin_s
    said: Said = []
    while now_s < until_s and not finished(watch, now_s):
        watch, events = advance(watch, on.looked(now_s, watch.done), now_s, on)
        said += [(now_s, event) for event in events]
        assert view(watch).frames <= len(on.frames)
        now_s += EVERY_S
    said.append((now_s, WatchEvent("note", "ended")))
    return said


def faults(said: Said) -> Said:
    return [(s, event) for s, event in said if event.kind == "fault"]


def delay(on: Stage, file: str, seconds: float) -> None:
    on.writes = [(s + seconds * (name == file), name, size) for s, name, size in on.writes]


def name_of(on: Stage, cell: int) -> tuple[int, int]:
    return on.plan.cells[cell].row, on.plan.cells[cell].column


def test_a_good_sweep_is_quiet_and_ends_with_its_last_frame() -> None:
    on, files, due_s = stage()
    said = play(on, 200.0)
    assert not faults(said)
    assert [e.file for _, e in said if e.kind == "came"] == list(files.values())
    assert [e.cells[0] for _, e in said if e.kind == "came"] == [name_of(on, k) for k in files]
    assert said[-1][0] <= due_s[14] + WAY_S + WRITING_S + 4.0 * EVERY_S


@pytest.mark.parametrize("lost", [7, 9, 13])
def test_a_missing_frame_is_named_within_two_intervals(lost: int) -> None:
    """In the middle and at the end of a row."""
    on, _, due_s = stage([lost])
    said = play(on, 200.0)
    ((at_s, fault),) = faults(said)
    assert fault.cells == (name_of(on, lost),)
    assert due_s[lost] + WAY_S < at_s <= due_s[lost] + 2.0 * INTERVAL_S
    sure = [e for _, e in said if e.kind == "note" and "MISSING" in e.says]
    assert [e.cells for e in sure] == [(name_of(on, lost),)]


def test_the_first_frame_of_a_row_is_missed_when_the_next_one_is_there() -> None:
    """Before a turn was seen nobody knows how long it takes."""
    on, _, due_s = stage([5])
    ((at_s, fault),) = faults(play(on, 200.0))
    assert fault.cells == (name_of(on, 5),)
    assert at_s <= due_s[5] + 2.0 * INTERVAL_S + WAY_S + WRITING_S


def test_long_turns_do_not_alarm() -> None:
    on, _, _ = stage(turn_s=1.9 * INTERVAL_S)
    assert not faults(play(on, 200.0))


def test_after_the_first_turn_the_next_ones_are_held_to_it() -> None:
    on, _, due_s = stage([10], turn_s=INTERVAL_S)
    ((at_s, fault),) = faults(play(on, 200.0))
    assert fault.cells == (name_of(on, 10),)
    assert at_s <= due_s[10] + 2.0 * INTERVAL_S


def test_a_late_file_is_taken_back() -> None:
    on, files, _ = stage()
    delay(on, files[7], 0.9 * INTERVAL_S)
    said = play(on, 200.0)
    assert [e.cells for _, e in faults(said)] == [(name_of(on, 7),)]
    better = [(s, e) for s, e in said if e.kind == "better"]
    assert name_of(on, 7) in better[0][1].cells


def test_files_in_another_order_than_they_were_shot_are_no_gap() -> None:
    on, files, _ = stage()
    # It appears in time, and is written for longer than the next one.
    on.writes = [
        (s + (1.2 * INTERVAL_S if (f, size) == (files[8], WHOLE) else 0.0), f, size)
        for s, f, size in on.writes
    ]
    said = play(on, 200.0)
    assert not faults(said)
    came = [e.file for _, e in said if e.kind == "came"]
    assert came.index(files[9]) < came.index(files[8])


def test_a_silence_is_spoken_of_three_times_and_ends_without_blame() -> None:
    """A person pauses the head for three quarters of a minute."""
    on, files, due_s = stage()
    for k in range(7, 15):
        delay(on, files[k], 45.0)
        frame = on.frames[files[k]]
        assert frame.taken_at is not None
        on.frames[files[k]] = replace(frame, taken_at=frame.taken_at + timedelta(seconds=45.0))
    until_s = due_s[6] + 30.0
    assert len(faults(play(replace_stage(on), until_s))) == 3
    said = play(on, 300.0)
    assert len(faults(said)) == 3
    cleared = {cell for _, e in said if e.kind == "better" for cell in e.cells}
    assert {cell for _, e in faults(said) for cell in e.cells} <= cleared
    assert not [e for _, e in said if "MISSING" in e.says]


def replace_stage(on: Stage) -> Stage:
    """The same stage from the beginning."""
    return Stage(on.plan, dict(on.frames), on.small, list(on.writes), on.gone_s, on.findings)


def test_a_cut_file_is_corrupt_once_and_whole_when_it_grows() -> None:
    on, files, due_s = stage()
    on.writes = [write for write in on.writes if write[1:] != (files[6], WHOLE)]
    ((at_s, fault),) = faults(play(replace_stage(on), 200.0))
    assert (fault.state, fault.cells) == ("corrupt", (name_of(on, 6),))
    assert due_s[6] + 3.0 * INTERVAL_S <= at_s <= due_s[6] + 4.0 * INTERVAL_S
    on.writes.append((due_s[6] + 6.0 * INTERVAL_S, files[6], WHOLE))
    said = play(on, 200.0)
    assert [e.state for _, e in faults(said)] == ["corrupt"]
    assert [e.file for _, e in said if e.kind == "better"] == [files[6]]


def test_power_that_goes_while_a_file_is_written() -> None:
    """The cut file is corrupt, and the silence after it is told three times, not again."""
    on, files, due_s = stage()
    on.writes = [w for w in on.writes if w[0] < due_s[8] + WAY_S + 0.5 * WRITING_S]
    said = play(on, due_s[8] + 60.0)
    told = [(e.state, e.cells) for _, e in faults(said)]
    assert sorted(told) == sorted(
        [("corrupt", (name_of(on, 8),)), *(("missing", (name_of(on, k),)) for k in (9, 10, 11))]
    )
    assert files[8] in on.reads


def test_a_folder_that_is_pulled_and_comes_back() -> None:
    on, _, due_s = stage()
    on.gone_s = (due_s[6], due_s[9])
    said = play(on, 200.0)
    ((_, fault),) = faults(said)
    assert fault.says == "tether is not there any more"
    assert sum(e.kind == "came" for _, e in said) == 15


def test_a_file_that_is_pulled_in_the_middle_of_reading_is_read_again() -> None:
    on, files, _ = stage()
    on.pulled = {files[6]}
    said = play(on, 200.0)
    assert not faults(said)
    assert on.reads.count(files[6]) == 2
    assert sum(e.kind == "came" for _, e in said) == 15


def test_frames_that_were_there_before_are_placed_and_their_gaps_named() -> None:
    on, files, due_s = stage([3])
    said = play(on, 300.0, begin_s=due_s[9])
    ((_, fault),) = faults(said)
    assert fault.cells == (name_of(on, 3),)
    assert sum(e.kind == "came" for _, e in said) == len(files)


def test_a_frame_of_another_size_is_said_and_left_out() -> None:
    on, files, _ = stage()
    on.frames[files[4]] = replace(on.frames[files[4]], width_px=100, height_px=75)
    first = faults(play(on, 200.0))[0][1]
    assert first.file == files[4]
    assert "100 × 75 px" in first.says


def soft(file: str) -> Finding:
    return Finding("soft", "less sharp than its neighbours", file)


def test_a_fault_is_said_once_and_a_run_of_it_is_one() -> None:
    on, files, _ = stage()
    for k in (6, 7, 8, 9):
        on.findings[files[k]] = (soft(files[k - 1]), soft(files[k])) if k > 6 else (soft(files[k]),)
    on.findings[files[10]] = (soft(files[9]),)
    said = play(on, 200.0)
    ((_, fault),) = faults(said)
    assert (fault.state, fault.cells, fault.file) == ("soft", (name_of(on, 6),), files[6])
    assert sum(e.kind == "note" and e.file == files[7] for _, e in said) == 1
    assert not [e for _, e in said if e.kind != "came" and e.file in (files[8], files[9])]


def test_a_fault_is_taken_back_when_later_judgements_do_not_find_it() -> None:
    on, files, _ = stage()
    on.findings[files[6]] = (soft(files[6]),)
    judged = on.judge

    def judge(now: Followed, file: str) -> Judged:
        said = judged(now, file)
        return replace(said, files=said.files | {files[6]})

    object.__setattr__(on, "judge", judge)
    said = play(on, 200.0)
    assert [e.file for _, e in said if e.kind in ("fault", "better")] == [files[6], files[6]]


def test_a_sweep_that_begins_with_a_cut_file() -> None:
    """Nothing is known of the size of its frames then."""
    on, files, _ = stage()
    on.writes = [write for write in on.writes if write[1:] != (files[0], WHOLE)]
    on.small[files[0]] = np.zeros((0, 0), dtype=np.uint8)
    on.frames[files[0]] = replace(on.frames[files[0]], width_px=0, height_px=0)
    said = play(on, 200.0)
    ((_, fault),) = faults(said)
    assert (fault.state, fault.cells) == ("corrupt", (name_of(on, 0),))


def test_files_that_state_no_time() -> None:
    """Their arrival and their pictures must do."""
    on, _, due_s = stage([7])
    on.frames = {f: replace(frame, taken_at=None) for f, frame in on.frames.items()}
    ((at_s, fault),) = faults(play(on, 200.0))
    assert fault.cells == (name_of(on, 7),)
    assert at_s <= due_s[7] + 2.0 * INTERVAL_S


def test_an_exposure_that_is_not_locked_is_said_once_for_all_frames() -> None:
    on, files, _ = stage()
    on.remarks = (Finding("settings", "exposure was not locked: 1/400 s in 3 frames, but …"),)
    for k in (9, 11, 13):
        on.findings[files[k]] = (Finding("exposure", "0.40 EV brighter", files[k]),)
    ((_, fault),) = faults(play(on, 200.0))
    assert fault.says.startswith("exposure was not locked")
    assert "Stop the head" in fault.advice
