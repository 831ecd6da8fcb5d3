"""How placing grows with the shoot: seconds and memory for 200 to 10,000 frames, without pixels.

    python bench/place_bench.py [--frames 200 1000 5000] [--seed 1]

What two frames show of each other is simulated: a peak at the true displacement where they
overlap, nothing where a tenth of the rows is plain sky. One cell in a hundred has no frame, one
frame in two hundred is a repeat. Each size runs in a process of its own, so that its peak memory is
its own. Figures go to bench/results/place.json.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from belvedere.check import place
from belvedere.check.likeness import Likeness
from belvedere.check.moves import Moves
from belvedere.foundation import finish
from belvedere.measure import Peak
from belvedere.shoot import Frame, Plan, make_plan, parse_shoot

ROOT = Path(__file__).resolve().parent.parent
RESULTS = ROOT / "bench" / "results"
WIDTH_PX, HEIGHT_PX, SHRINK = 4000, 3000, 16
_START = datetime(2031, 5, 17, 10, 20)
_SUPPORT, _SCATTER_PX = 60.0, 12.0


class SimulatedSightings:
    """What `place` asks of `Sightings`, answered from the truth."""

    shrink = SHRINK

    def __init__(self, moves: Moves, cell: NDArray[np.int64], plain: NDArray[np.bool_]) -> None:
        self._moves, self._cell, self._plain = moves, cell, plain

    def _true(self, first: int, second: int) -> tuple[NDArray[np.float64], float]:
        a, b = self._cell[first : first + 1], self._cell[second : second + 1]
        shift = np.zeros((1, 2)) if a == b else self._moves.expected(a, b)
        share = float(self._moves.share(shift)[0])
        seen = share > 0.03 and not (self._plain[a[0]] or self._plain[b[0]])
        scatter = np.random.default_rng([first, second]).normal(0.0, _SCATTER_PX, 2)
        return shift[0] + scatter, _SUPPORT * min(1.0, share / 0.25) * seen

    def peak(self, first: int, second: int) -> Peak:
        shift, support = self._true(first, second)
        return Peak(float(shift[0]), float(shift[1]), support)

    def peak_near(
        self, first: int, second: int, expected: tuple[float, float], reach_px: float
    ) -> Peak:
        shift, support = self._true(first, second)
        if support == 0.0 or np.abs(shift - expected).max() > reach_px:
            return Peak(expected[0], expected[1], 0.0)
        return Peak(float(shift[0]), float(shift[1]), support)

    def ratios(
        self,
        first: int,
        second: int,
        expected_px: NDArray[np.float64],
        spread_px: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        shift, support = self._true(first, second)
        textured = not (self._plain[self._cell[first]] or self._plain[self._cell[second]])
        spread = np.maximum(spread_px / SHRINK, 0.8)
        off = np.square((expected_px - shift) / SHRINK / spread[:, None]).sum(axis=1)
        weight = (1.0 + off / 4.0) ** -3 / (2.0 * np.pi * spread**2)
        weight *= np.abs(expected_px - shift).max(axis=1) < 0.2 * WIDTH_PX
        blind = 0.02 if textured else 1.0
        matched = 4.0 * np.expm1(support) * np.exp(-2.0) * weight + np.exp(-2.0)
        ratios: NDArray[np.float64] = np.log((1.0 - blind) * matched + blind)
        return ratios

    def elsewhere(self, first: int, second: int) -> float:
        support = self._true(first, second)[1]
        return float(np.log(0.5 + 0.5 * np.exp(support - 12.0)))

    def rivals(self, first: int, second: int) -> int:
        return 0

    def likeness(self) -> Likeness:
        count = len(self._cell)
        shown = np.where(self._plain[self._cell], 0.0, 99.0)
        again = np.append(False, self._cell[1:] == self._cell[:-1])
        same, none = np.where(again, shown, 0.0), np.zeros(count)
        smooth = np.zeros((count, 1, 1), dtype=np.float32)
        return Likeness(shown, same, shown, same, np.where(again, none, shown), shown, smooth)

    def texture(self, index: int) -> float:
        return 0.0 if self._plain[self._cell[index]] else 1000.0


def plan_of(frames: int) -> Plan:
    """A grid of about so many cells, twice as wide as high, around the horizon."""
    rows = round((frames / 2.0) ** 0.5)
    columns = round(frames / rows)
    step = 340.0 / columns
    return make_plan(
        parse_shoot(
            f"""
            [shoot]
            title = "Saltmere from the mole"
            [camera]
            sensor_width_mm = 7.44
            image_width_px = {WIDTH_PX}
            image_height_px = {HEIGHT_PX}
            [lens]
            focal_length_mm = {7.44 / 2.0 / np.tan(np.radians(step / 0.7 / 2.0)):.4f}
            [grid]
            left_deg = -169.0
            right_deg = 169.0
            top_deg = {0.75 * step * rows / 2.0 * 0.98:.4f}
            bottom_deg = {-0.75 * step * rows / 2.0 * 0.98:.4f}
            overlap = 0.28
            rows = {rows}
            columns = {columns}
            [sweep]
            interval_s = 3.0
            """
        )
    )


def one(frames: int, seed: int) -> dict[str, float]:
    """Place one simulated sweep."""
    plan = plan_of(frames)
    rng = np.random.default_rng([seed, frames])
    count = len(plan.cells)
    cell, second, now = [], [], 0.0
    for k in range(count):
        now += 3.0 + rng.normal(0.0, 0.05)
        if rng.random() < 0.01:
            continue
        cell.append(k)
        second.append(now)
        if rng.random() < 0.005:
            cell.append(k)
            second.append(now + 1.2)
    plain = np.array([cell_.row <= max(1, plan.rows // 10) for cell_ in plan.cells])
    taken = [_START + timedelta(seconds=int(s)) for s in second]
    listed = [
        Frame(f"PIC_{i:05d}.JPG", str(i), 1, WIDTH_PX, HEIGHT_PX, at) for i, at in enumerate(taken)
    ]
    truth = np.array(cell)
    moves = Moves.of_plan(plan, WIDTH_PX)
    before_s, before_mib = time.process_time(), _peak_mib()
    placing = finish(place(listed, SimulatedSightings(moves, truth, plain), plan))  # type: ignore[arg-type]
    used_s = time.process_time() - before_s
    return {
        "frames": len(listed),
        "seconds": round(used_s, 2),
        "ms_per_frame": round(1000.0 * used_s / len(listed), 2),
        "added_mib": round(_peak_mib() - before_mib),
        "peak_mib": round(_peak_mib()),
        "misplaced": int((placing.cell != truth).sum()),
        "least_confidence": round(float(placing.confidence.min()), 4),
    }


def _peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--frames", type=int, nargs="*", default=[200, 1000, 5000])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--one", type=int, help="run this size here and print its figures")
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(one(asked.one, asked.seed)))
        return 0
    rows = []
    for frames in asked.frames:
        command = [sys.executable, __file__, "--one", str(frames), "--seed", str(asked.seed)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        rows.append(json.loads(done.stdout))
        print("  ".join(f"{key} {value}" for key, value in rows[-1].items()), flush=True)
    RESULTS.mkdir(parents=True, exist_ok=True)
    (RESULTS / "place.json").write_text(json.dumps(rows, indent=1), "utf-8")
    per_frame = [row["ms_per_frame"] for row in rows]
    fine = max(per_frame) <= 2.0 * min(per_frame) and rows[-1]["peak_mib"] < 1024
    return 0 if fine else 1


if __name__ == "__main__":
    raise SystemExit(main())
