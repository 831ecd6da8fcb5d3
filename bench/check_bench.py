"""How well the check finds what is wrong, on rehearsed shoots with known truth.

    python bench/check_bench.py [--shoots 60] [--seed S] [--minutes 9.5]
    python bench/check_bench.py --only 7 --seed S --keep DIR
    python bench/check_bench.py --only 7 --seed S --keep DIR --again
    python bench/check_bench.py --report [--seed S] [--markdown FILE] [--picture FILE]

Every shoot is photographed anew: 20 to 200 cells of about 1 MP, with its own scene, camera, head,
files and faults, then checked. One line for each finished shoot goes to
bench/results/check-SEED.jsonl; asked again with the same seed, the bench goes on with the shoots
that are not in it. Without a seed it takes a new one from the clock. With `--keep` cards and
answers stay in a folder, and with `--again` they are checked once more without being photographed
anew.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))

from belvedere.foundation import finish
from belvedere.rehearse import Rehearsal, Scene
from belvedere.store import code_fingerprint
from belvedere.workflows.check import check_card
from belvedere.workflows.check_document import check_document
from belvedere.workflows.rehearse import rehearse_card
from check_cases import Case, case, second_sweep
from check_detail import lasting_detail
from check_report import failure_lines, figures_of, markdown, reliability_svg, text
from check_scenes import ROOT, paint_harbours, quiet_opencv
from check_score import Score, score_shoot
from check_truth import truth_of

RESULTS = ROOT / "bench" / "results"
_BLURRED = {"soft", "shaken", "soft or shaken"}
#: What a cell takes at the least, rehearsed and checked.
_USUAL_S_PER_CELL = 0.5


def run_one(number: int, seed: int, keep: str, again: bool) -> Score:
    """Rehearse, check and compare one shoot; trouble is a result too."""
    quiet_opencv()
    one = case(number, seed)
    code = code_fingerprint("belvedere.check", "belvedere.measure", "belvedere.imagefiles")
    score = Score(number, seed, one.scene_name, one.words(), code[:12])
    with _folder(number, keep, again) as folder:
        try:
            _run(one, folder, score, again)
        except Exception as error:
            score.trouble = f"{type(error).__name__}: {error}"
            score.fail("trouble", "trouble", traceback.format_exc(limit=-4))
        if keep:
            (folder / "score.json").write_text(json.dumps(asdict(score), indent=1), "utf-8")
    return score


def _run(one: Case, folder: Path, score: Score, again: bool) -> None:
    shoot_file = folder / "shoot.toml"
    shoot_file.write_text(one.shoot_toml, "utf-8")
    scene, started = one.scene(), time.monotonic()
    card, documents = _kept(folder) if again else _photographed(one, scene, folder)
    score.rehearse_s = round(time.monotonic() - started, 2)
    started = time.monotonic()
    report = finish(check_card(card, shoot_file))
    score.check_s = round(time.monotonic() - started, 2)
    answer = check_document(report)
    answer["placements"] = [asdict(placement) for placement in report.placements]
    truth = truth_of(one.rehearsal, documents)
    for file, frame in truth.frames.items():
        if frame.must & _BLURRED and frame.cells:
            truth.detail[file] = round(lasting_detail(one.rehearsal, documents, file, scene), 3)
    score_shoot(score, truth, answer)
    (folder / "check.json").write_text(json.dumps(answer, indent=1), "utf-8")


def _photographed(one: Case, scene: Scene, folder: Path) -> tuple[Path, list[dict[str, Any]]]:
    """The card, and the truth about each sweep on it."""
    first = _sweep(one.rehearsal, scene, one.scene_name, folder / "first")
    card, documents = first
    if one.two_sweeps:
        later = second_sweep(one.rehearsal, documents["last_number"])
        more, second = _sweep(later, scene, one.scene_name, folder / "second")
        shutil.copytree(more, card, dirs_exist_ok=True)
        shutil.rmtree(more)
        return card, [documents, second]
    return card, [documents]


def _kept(folder: Path) -> tuple[Path, list[dict[str, Any]]]:
    """The card that was kept here, and the truth about each sweep on it."""
    truths = [folder / sweep / "truth.json" for sweep in ("first", "second")]
    return folder / "first" / "card", [
        json.loads(truth.read_text("utf-8")) for truth in truths if truth.exists()
    ]


def _sweep(rehearsal: Rehearsal, scene: Scene, name: str, out: Path) -> tuple[Path, dict[str, Any]]:
    report = finish(rehearse_card(rehearsal, lambda: scene, name, out, workers=1))
    return report.card, report.document


@contextmanager
def _folder(number: int, keep: str, again: bool) -> Iterator[Path]:
    """A folder for one shoot: kept where it was asked for, else deleted at once."""
    if keep:
        folder = Path(keep) / f"shoot-{number:04d}"
        if not again:
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir(parents=True)
        yield folder
        return
    made = Path(tempfile.mkdtemp(prefix="check-bench-"))
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


def results_file(folder: Path, seed: int) -> Path:
    """Where the results with this seed are kept, one line for each shoot."""
    return folder / f"check-{seed}.jsonl"


def read_results(path: Path) -> list[dict[str, Any]]:
    """The shoots that are finished; a line that was cut off is none."""
    if not path.exists():
        return []
    found: dict[int, dict[str, Any]] = {}
    for line in path.read_text("utf-8").splitlines():
        try:
            one = json.loads(line)
        except ValueError:
            continue
        found[int(one["number"])] = one
    return list(found.values())


def _append(path: Path, score: Score) -> None:
    """One line in one write: a bench that is stopped leaves whole lines."""
    path.parent.mkdir(parents=True, exist_ok=True)
    line = (json.dumps(asdict(score)) + "\n").encode()
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        os.write(handle, line)
    finally:
        os.close(handle)


def run_many(numbers: list[int], asked: argparse.Namespace, path: Path) -> int:
    """Run these shoots as long as there is time; how many remain."""
    clock, waiting, done = _Clock(asked.minutes), list(numbers), 0
    running: dict[Future[Score], tuple[int, float]] = {}
    with ProcessPoolExecutor(asked.workers, mp_context=get_context("spawn")) as pool:
        while waiting or running:
            while len(running) < asked.workers:
                number = clock.first_that_fits(waiting, asked.seed)
                if number is None:
                    break
                waiting.remove(number)
                future = pool.submit(run_one, number, asked.seed, asked.keep, asked.again)
                running[future] = (number, time.monotonic())
            if not running:
                break
            finished, _ = wait(running, return_when=FIRST_COMPLETED)
            for future in finished:
                number, started = running.pop(future)
                clock.learn(number, asked.seed, time.monotonic() - started)
                score = future.result()
                done += 1
                _append(path, score)
                _show(score, done, len(numbers))
    return len(waiting)


class _Clock:
    """Which shoots still end in time, by the seconds a cell has taken at most so far."""

    def __init__(self, minutes: float | None) -> None:
        self._ends_at = None if minutes is None else time.monotonic() + 60.0 * minutes
        self._s_per_cell = _USUAL_S_PER_CELL

    def learn(self, number: int, seed: int, seconds: float) -> None:
        """What a finished shoot took."""
        self._s_per_cell = max(self._s_per_cell, seconds / len(case(number, seed).plan.cells))

    def first_that_fits(self, waiting: list[int], seed: int) -> int | None:
        """The first shoot that would end in time."""
        if self._ends_at is None:
            return next(iter(waiting), None)
        left_s = self._ends_at - time.monotonic()
        for number in waiting:
            if left_s < _USUAL_S_PER_CELL:
                break
            if self._s_per_cell * len(case(number, seed).plan.cells) < left_s:
                return number
        return None


def _show(score: Score, done: int, total: int) -> None:
    took = f"{score.rehearse_s:.0f} s rehearsed, {score.check_s:.0f} s checked"
    print(
        f"{done}/{total}  shoot {score.number} ({score.scene}, {score.case['cells']} cells): "
        f"{score.verdict}, {took}",
        flush=True,
    )
    for line in failure_lines(asdict(score)):
        print(f"    {line}", flush=True)


def _report(asked: argparse.Namespace) -> int:
    folder = Path(asked.results)
    if asked.seed is None:
        paths = sorted(folder.glob("check-*.jsonl"))
    else:
        paths = [results_file(folder, asked.seed)]
    scores = [one for path in paths for one in read_results(path)]
    if not scores:
        print("No shoot is finished yet.")
        return 1
    figures = figures_of(scores)
    print(text(figures, scores))
    if asked.markdown:
        Path(asked.markdown).write_text(markdown(figures), "utf-8")
    if asked.picture:
        Path(asked.picture).write_text(reliability_svg(figures), "utf-8")
    return 0 if figures["holds"] else 1


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--shoots", type=int, default=60, help="how many in all")
    parser.add_argument("--only", type=int, nargs="*", help="numbers of the shoots to run")
    parser.add_argument("--seed", type=int, help="without one: a new one from the clock")
    parser.add_argument("--minutes", type=float, help="stop in time; asked again, it goes on")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", default="", help="a folder to keep cards and answers in")
    parser.add_argument("--again", action="store_true", help="with --keep: check what is kept")
    parser.add_argument("--results", help="the folder of the results")
    parser.add_argument("--report", action="store_true", help="only the table of what is there")
    parser.add_argument("--markdown", default="", help="with --report: write the table there")
    parser.add_argument("--picture", default="", help="with --report: the reliability as SVG")
    asked = parser.parse_args()
    asked.results = asked.results or asked.keep or str(RESULTS)
    if asked.again and not (asked.keep and asked.seed is not None):
        parser.error("--again needs the --keep and the --seed of the run that kept the cards")
    if asked.report:
        return _report(asked)
    if asked.seed is None:
        asked.seed = int(time.time()) % 1_000_000_000
    print(f"seed {asked.seed}", flush=True)
    paint_harbours()
    path = results_file(Path(asked.results), asked.seed)
    if asked.again:
        path.unlink(missing_ok=True)
    finished = {int(one["number"]) for one in read_results(path)}
    numbers = asked.only or [n for n in range(asked.shoots) if n not in finished]
    remain = run_many(numbers, asked, path)
    if remain:
        print(f"{remain} of {asked.shoots} shoots remain: run it again with --seed {asked.seed}")
    return _report(asked)


if __name__ == "__main__":
    raise SystemExit(main())
