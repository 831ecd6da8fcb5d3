"""How well the check finds what is wrong: 60 rehearsed shoots with 0 to 4 faults each.

    python bench/check_bench.py [--shoots 60] [--seed 1] [--workers 2]

Every shoot is 5 × 8 cells of about 1 MP, photographed anew with its own scene, camera, head and
faults, then checked with the real command line. Figures go to bench/results/check.json.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2

sys.path.insert(0, str(Path(__file__).resolve().parent))

from belvedere.foundation import finish
from belvedere.rehearse import card_path, shots
from belvedere.workflows.rehearse import rehearse_card
from check_cases import ROOT, case, paint_harbours, scene_for
from check_truth import FAULTY, Score, expected, score

RESULTS = ROOT / "bench" / "results"


def run_one(number: int, seed: int, keep: str) -> Score:
    """Rehearse, check and compare one shoot."""
    cv2.setNumThreads(1)
    one = case(number, seed)
    scene = scene_for(one, seed)
    folder = Path(tempfile.mkdtemp(prefix=f"check-bench-{number:02d}-"))
    try:
        (folder / "shoot.toml").write_text(one.shoot_toml, "utf-8")
        out = folder / "rehearsal"
        report = finish(rehearse_card(one.rehearsal, lambda: scene, one.scene_name, out, workers=1))
        taken = shots(one.rehearsal)
        files = {shot.number: card_path(shot.number) for shot in taken}
        truth = expected(one.rehearsal, taken, files, scene)
        answer = check(report.card, folder / "shoot.toml", folder / "check.json")
        if "trouble" in answer:
            return Score(number, one.scene_name, "none", 0.0, len(taken), trouble=answer["trouble"])
        return score(number, one.scene_name, truth, answer, len(taken))
    finally:
        if keep:
            shutil.copytree(folder, Path(keep) / f"shoot-{number:02d}", dirs_exist_ok=True)
        shutil.rmtree(folder, ignore_errors=True)


def check(card: Path, shoot: Path, out: Path) -> dict[str, Any]:
    """The check's own JSON, by its command line."""
    command = [sys.executable, "-c", "from belvedere.cli import main; main()", "check", str(card)]
    done = subprocess.run(
        [*command, "--shoot", str(shoot), "--json", str(out)],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode not in (0, 1) or not out.exists():
        return {"trouble": f"exit {done.returncode}: {(done.stderr or done.stdout)[-500:]}"}
    answer: dict[str, Any] = json.loads(out.read_text("utf-8"))
    return answer


def summary(scores: list[Score]) -> dict[str, Any]:
    """The figures that the requirements speak of."""
    good = sum(one.good_cells for one in scores)
    accused = sum(len(one.accused) for one in scores)
    frames = sum(one.frames for one in scores)
    return {
        "shoots": len(scores),
        "found": {
            kind: [
                sum(one.found.get(kind, 0) for one in scores),
                sum(one.total.get(kind, 0) for one in scores),
            ]
            for kind in FAULTY
        },
        "soft_or_shaken_without_detail": sum(one.without_detail for one in scores),
        "wrongly_complete": sum(one.wrongly_complete for one in scores),
        "good_cells": good,
        "good_cells_accused": accused,
        "good_cells_accused_per_1000": round(1000.0 * accused / max(1, good), 2),
        "good_cells_unsure": sum(len(one.unsure) for one in scores),
        "misplaced": sum(len(one.misplaced) for one in scores),
        "troubles": sum(bool(one.trouble) for one in scores),
        "check_seconds_per_frame": round(sum(one.seconds for one in scores) / max(1, frames), 4),
    }


def show(scores: list[Score], figures: dict[str, Any], seconds: float) -> None:
    for one in sorted(scores, key=lambda one: one.number):
        for words in (
            *(f"missed {words}" for words in one.missed),
            *(f"accused {words}" for words in one.accused),
            *(f"misplaced {words}" for words in one.misplaced),
            *([f"trouble: {one.trouble}"] if one.trouble else []),
            *(["called complete, and is not"] if one.wrongly_complete else []),
        ):
            print(f"  shoot {one.number:2d} ({one.scene}): {words}")
    print(f"{figures['shoots']} shoots in {seconds:.0f} s")
    for kind, (found, total) in figures["found"].items():
        print(f"  {kind:<10}{found:4d} of {total} found")
    for key, value in figures.items():
        if key not in ("found", "shoots"):
            print(f"  {key.replace('_', ' ')}: {value}")


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--shoots", type=int, default=60)
    parser.add_argument("--only", type=int, nargs="*", help="numbers of the shoots to run")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", default="", help="a folder to keep cards and answers in")
    asked = parser.parse_args()
    started = time.monotonic()
    paint_harbours()
    numbers = asked.only if asked.only else list(range(asked.shoots))
    scores: list[Score] = []
    with ProcessPoolExecutor(asked.workers, mp_context=get_context("spawn")) as pool:
        waiting = [pool.submit(run_one, number, asked.seed, asked.keep) for number in numbers]
        for future in as_completed(waiting):
            scores.append(future.result())
            print(f"\r{len(scores)} of {len(numbers)} shoots", end="", flush=True)
    print()
    figures = summary(scores)
    show(scores, figures, time.monotonic() - started)
    RESULTS.mkdir(parents=True, exist_ok=True)
    document = {"seed": asked.seed, **figures, "by_shoot": [asdict(one) for one in scores]}
    (RESULTS / "check.json").write_text(json.dumps(document, indent=1), "utf-8")
    whole = all(found == total for found, total in figures["found"].values())
    fine = (
        whole
        and not figures["wrongly_complete"]
        and not figures["troubles"]
        and figures["good_cells_accused_per_1000"] <= 1.0
    )
    return 0 if fine else 1


if __name__ == "__main__":
    raise SystemExit(main())
