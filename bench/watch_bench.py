"""How soon and how truly a watch speaks: rehearsed shoots arrive file by file, on a clock of ours.

    python bench/watch_bench.py [--shoots 6] [--seed S] [--most-cells 80] [--say]

Each file appears some time after its release, half written, and is whole a little later. A third of
the shoots come over a way that is slower than the shutter now and then. Working time counts: while
the watch thinks, the clock runs on. Waits are given in intervals: from the moment when the release
was due (plus the usual time of the way) to the sentence that names the cell.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from belvedere.foundation import finish
from belvedere.rehearse import Bumped, Slipped, Slipping
from belvedere.shoot import Plan, release_times_s
from belvedere.workflows.rehearse import rehearse_card
from belvedere.workflows.watch import watch_folder
from belvedere.workflows.watch_events import WatchEvent
from check_cases import case
from check_truth import Truth, must_by_class, truth_of

_KINDS = ("missing", "corrupt", "soft", "shaken", "exposure", "colour")


@dataclass
class Told:
    """What one shoot came to."""

    waits: dict[str, list[float]] = field(default_factory=lambda: {kind: [] for kind in _KINDS})
    unsaid: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    taken_back: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    work_s: float = 0.0


@dataclass
class Folder:
    """A folder that fills while the clock runs; `writes` are (second, file, share)."""

    card: Path
    root: Path
    writes: list[tuple[float, str, float]]
    now_s: float = 0.0

    def sleep(self, seconds: float) -> None:
        self.to(self.now_s + max(seconds, 0.01))

    def to(self, now_s: float) -> None:
        self.now_s = now_s
        while self.writes and self.writes[0][0] <= now_s:
            _, file, share = self.writes.pop(0)
            content = (self.card / file).read_bytes()
            path = self.root / file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content[: int(share * len(content))])


def arrivals(
    document: dict[str, Any], interval_s: float, rng: np.random.Generator
) -> tuple[list[tuple[float, str, float]], float, dict[str, float]]:
    """When each file appears and is whole, the usual way's time, and when each is whole."""
    start = datetime.fromisoformat(document["start"])
    way_s = float(rng.uniform(0.1, 0.6) * interval_s)
    stalls = rng.random() < 1 / 3
    writes: list[tuple[float, str, float]] = []
    whole_s: dict[str, float] = {}
    free_s = 0.0
    for frame in sorted(document["frames"], key=lambda one: one["taken_at"]):
        shot_s = (datetime.fromisoformat(frame["taken_at"]) - start).total_seconds()
        begin_s = max(shot_s + way_s + float(rng.uniform(0.0, 0.1) * interval_s), free_s)
        takes_s = float(rng.uniform(0.1, 0.4) * interval_s)
        if stalls and rng.random() < 0.1:
            takes_s += float(rng.uniform(0.5, 1.5) * interval_s)
        free_s = begin_s + takes_s
        whole_s[frame["file"]] = free_s
        writes += [(begin_s, frame["file"], 0.4), (free_s, frame["file"], 1.0)]
    return sorted(writes), way_s, whole_s


def due_s(plan: Plan, document: dict[str, Any], interval_s: float) -> dict[tuple[int, int], float]:
    """When each cell's release was due: counted on from the last frame before it."""
    timetable = release_times_s(plan, interval_s)
    start = datetime.fromisoformat(document["start"])
    shot_s: dict[tuple[int, int], float] = {}
    for frame in document["frames"]:
        if frame["cell"] is not None:
            at = (datetime.fromisoformat(frame["taken_at"]) - start).total_seconds()
            shot_s[tuple(frame["cell"])] = at
    due: dict[tuple[int, int], float] = {}
    late_s = 0.0
    for cell, planned_s in zip(plan.cells, timetable, strict=True):
        place = (cell.row, cell.column)
        if place in shot_s:
            late_s = shot_s[place] - float(planned_s)
        due[place] = float(planned_s) + late_s
    return due


def run(number: int, seed: int, most_cells: int, say: bool) -> Told | None:
    """One shoot, or None where it is larger than asked for or comes in two sweeps."""
    one = case(number, seed)
    if len(one.plan.cells) > most_cells or one.two_sweeps:
        return None
    interval_s = one.plan.shoot.sweep.interval_s or 3.0
    scene = one.scene()
    with tempfile.TemporaryDirectory(prefix="watch-bench-") as made:
        folder = Path(made)
        (folder / "shoot.toml").write_text(one.shoot_toml, "utf-8")
        out = rehearse_card(one.rehearsal, lambda: scene, one.scene_name, folder / "out", workers=1)
        report = finish(out)
        rng = np.random.default_rng([seed, number, 9])
        writes, way_s, whole_s = arrivals(report.document, interval_s, rng)
        coming = Folder(report.card, folder / "in", writes)
        print(f"shoot {number}: {one.words()}")
        said, told = _watched(coming, folder / "shoot.toml", say)
        due = due_s(one.plan, report.document, interval_s)
        truth = truth_of(one.rehearsal, [report.document])
    _compare(told, said, truth, due, whole_s, way_s, interval_s)
    moves = any(isinstance(f, Bumped | Slipped | Slipping) for f in one.rehearsal.faults)
    told.wrong += [e.says for _, e in said if "the camera moved," in e.says and not moves]
    return told


def _watched(
    coming: Folder, shoot_file: Path, say: bool
) -> tuple[list[tuple[float, WatchEvent]], Told]:
    told = Told()
    said: list[tuple[float, WatchEvent]] = []
    watch = watch_folder(coming.root, shoot_file, clock=lambda: coming.now_s, sleep=coming.sleep)
    started = time.monotonic()
    for event in watch:
        took_s = time.monotonic() - started
        told.slowest_s = max(told.slowest_s, took_s)
        told.work_s += took_s
        coming.to(coming.now_s + took_s)
        if isinstance(event, WatchEvent):
            said.append((coming.now_s, event))
            if say and event.kind != "came":
                print(f"{coming.now_s:8.1f}  {event.kind:6}  {event.says}")
        started = time.monotonic()
    return said, told


def _compare(
    told: Told,
    said: list[tuple[float, WatchEvent]],
    truth: Truth,
    due: dict[tuple[int, int], float],
    whole_s: dict[str, float],
    way_s: float,
    interval_s: float,
) -> None:
    first: dict[tuple[object, str], float] = {}
    for at_s, event in said:
        if event.kind != "fault" or event.state is None:
            continue
        for about in event.cells if event.state == "missing" else (event.file,):
            first.setdefault((about, event.state), at_s)
    cleared = {(e.cells, e.file) for _, e in said if e.kind == "better"}
    last: tuple[int, int] | None = None
    for cell, takes in truth.takes.items():
        before_it, last = last, cell
        if takes or cell in truth.maybe:
            continue
        if (cell, "missing") in first:
            wait_s = first[cell, "missing"] - due[cell] - way_s
            told.waits["missing"].append(wait_s / interval_s)
        elif before_it is None or truth.takes[before_it]:
            # A silence that goes on is not told cell by cell.
            told.unsaid.append(f"missing {cell}")
    must = {kind: {f for f, one in truth.frames.items() if kind in one.must} for kind in _KINDS}
    free = {kind: {f for f, one in truth.frames.items() if kind in one.free} for kind in _KINDS}
    for kind in ("exposure", "colour"):
        accused = {str(about) for about, state in first if state == kind}
        more = must_by_class(truth, kind, accused)
        must[kind], free[kind] = must[kind] | more[0], free[kind] | more[1]
    shot = sorted(whole_s, key=lambda file: whole_s[file])
    before = dict(pairwise(reversed(shot)))
    for kind in _KINDS:
        for file in sorted((must[kind] - free[kind]) & whole_s.keys()):
            if (file, kind) in first:
                told.waits[kind].append((first[file, kind] - whole_s.get(file, 0.0)) / interval_s)
            elif truth.frames[file].cells and before.get(file) not in must[kind]:
                # A run of frames with one fault is said once.
                told.unsaid.append(f"{kind} {file}")
    for (about, kind), at_s in first.items():
        if kind == "missing":
            takes = truth.takes.get(about, ())  # type: ignore[call-overload]
            came_s = min((whole_s.get(file, 0.0) for file in takes), default=np.inf)
            # A file that was so late was rightly asked for.
            true = about in truth.maybe or came_s > at_s + interval_s
            back = any(about in cells for cells, _ in cleared)
        else:
            true = about in must[kind] | free[kind]
            back = any(file == about for _, file in cleared)
        if not true:
            (told.taken_back if back else told.wrong).append(f"{kind} {about} at {at_s:.0f} s")


def main() -> None:
    """Run some shoots and print the figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--shoots", type=int, default=6)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--only", type=int)
    parser.add_argument("--most-cells", type=int, default=80)
    parser.add_argument("--say", action="store_true", help="print what the watch says")
    asked = parser.parse_args()
    every: list[Told] = []
    number = 0 if asked.only is None else asked.only
    while len(every) < asked.shoots:
        told = run(number, asked.seed, asked.most_cells, asked.say)
        if told is not None:
            every.append(told)
            for what in ("unsaid", "wrong", "taken_back"):
                for one in getattr(told, what):
                    print(f"  {what.replace('_', ' ')}: {one}")
            print(f"  slowest look {told.slowest_s:.1f} s, work {told.work_s:.1f} s")
        if asked.only is not None:
            break
        number += 1
    print(f"\nseed {asked.seed}, {len(every)} shoots; waits in intervals")
    for kind in _KINDS:
        waits = np.array([wait for told in every for wait in told.waits[kind]])
        if len(waits):
            within = (waits <= 2.0).mean()
            print(
                f"{kind:9} {len(waits):4} said, median {np.median(waits):5.2f}, "
                f"longest {waits.max():6.2f}, within two {within:.0%}"
            )
    for what in ("unsaid", "wrong", "taken_back"):
        print(f"{what.replace('_', ' '):11} {sum(len(getattr(told, what)) for told in every)}")


if __name__ == "__main__":
    main()
