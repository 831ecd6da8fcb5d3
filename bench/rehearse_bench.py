"""How long a frame of the built-in scene takes, on two cores, and how much memory.

    python bench/rehearse_bench.py [--profile]

Two processes photograph side by side, as a rehearsal does; the time of a frame is the time on the
clock over the frames that both have finished. In brackets stands the processor's time, shared out
in the same way: what an idle machine would need. Directions are the four kinds of picture in the
scene; writing the JPEG is not in it.

What things draw at one scale is kept from frame to frame, so a shoot's frames are quicker than its
first. The figures are those of a frame whose neighbour, a third of it in common, has been
photographed before; the first frame of each place stands in bench/results/rehearse.json beside.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import multiprocessing
import pstats
import resource
import time
from pathlib import Path

import cv2
import numpy as np

from belvedere.rehearse import CameraTraits, Exposure, render_frame
from belvedere.rehearse.harbour import HarbourScene
from belvedere.sphere import camera_from_world

ROOT = Path(__file__).resolve().parent.parent
RESULTS = ROOT / "bench" / "results"
SENSOR_WIDTH_MM = 36.0
SIZES = {"1 MP": (1224, 816), "3 MP": (2121, 1414), "12 MP": (4243, 2828)}
FOCAL_LENGTHS_MM = (200.0, 600.0, 2000.0)
#: Seconds on the clock that a frame may take, two processes at work.
TARGET_S = {"1 MP": 0.15, "12 MP": 1.5}
#: Bearing and elevation.
DIRECTIONS = {
    "town": (0.0, 2.0),
    "water": (5.0, -3.5),
    "sky": (-36.0, 3.0),
    "mole": (9.0, -8.0),
}
PROCESSES = 2
#: From frame to frame of a row, as a share of the frame's width.
NEIGHBOUR = 2.0 / 3.0
SEED = 7

Job = tuple[str, float, str]


def main() -> None:
    """Measure every size and focal length."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--profile", action="store_true", help="where the time of a frame goes")
    if parser.parse_args().profile:
        _profile(("12 MP", 600.0, "town"))
        return
    figures: dict[str, object] = {"target_s": TARGET_S}
    with multiprocessing.get_context("spawn").Pool(PROCESSES, _ready) as pool:
        pool.map(_nothing, range(4 * PROCESSES))
        for size in SIZES:
            for focal in FOCAL_LENGTHS_MM:
                row = {where: _frame_s(pool, (size, focal, where)) for where in DIRECTIONS}
                figures[f"{size}, {focal:.0f} mm"] = row
                _show(size, focal, row)
        peaks = pool.map(_peak_mib, range(4 * PROCESSES))
    figures["peak_mib"] = max(peaks)
    print(f"peak memory of a process: {max(peaks):.0f} MiB")
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / "rehearse.json").write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


def _show(size: str, focal: float, row: dict[str, dict[str, float]]) -> None:
    shown = "  ".join(
        f"{where} {one['clock_s']:.2f} ({one['processor_s']:.2f})" for where, one in row.items()
    )
    mean = sum(one["clock_s"] for one in row.values()) / len(row)
    busy = sum(one["processor_s"] for one in row.values()) / len(row)
    print(f"{size:>5} {focal:5.0f} mm  {shown}  mean {mean:.2f} ({busy:.2f}) s a frame", flush=True)


def _frame_s(pool: multiprocessing.pool.Pool, job: Job) -> dict[str, float]:
    """Seconds a frame; every process photographs its own, a little beside the other."""
    first_s, first_busy_s = _together(pool, job, -NEIGHBOUR)
    clock_s, busy_s = _together(pool, job, 0.0)
    return {
        "clock_s": clock_s,
        "processor_s": busy_s,
        "first_clock_s": first_s,
        "first_processor_s": first_busy_s,
    }


def _together(pool: multiprocessing.pool.Pool, job: Job, beside: float) -> tuple[float, float]:
    """Seconds a frame on the clock and of the processor, all processes at work."""
    started = time.perf_counter()
    places = [(job, beside + 0.2 * i) for i in range(PROCESSES)]
    busy = pool.starmap(_photograph, places, chunksize=1)
    return (time.perf_counter() - started) / PROCESSES, sum(busy) / PROCESSES**2


def _ready() -> None:
    """What a process does once: the scene, and its reflections in the water."""
    global _scene
    cv2.setNumThreads(1)
    _scene = HarbourScene(SEED)
    _scene.patch(0.0, -3.0, 40.0, 64, 64)


def _nothing(index: int) -> None:
    """Wake a process up."""
    time.sleep(0.05)


def _photograph(job: Job, beside: float) -> float:
    """Photograph one frame; the seconds that the processor was at work."""
    started = time.process_time()
    size, focal, where = job
    width, height = SIZES[size]
    traits = CameraTraits()
    lens = traits.lens(width, height, focal * width / SENSOR_WIDTH_MM)
    bearing, elevation = DIRECTIONS[where]
    share = beside * np.degrees(SENSOR_WIDTH_MM / focal)
    rotation = camera_from_world(bearing + share, elevation)
    render_frame(_scene, lens, rotation, traits, Exposure(), np.random.default_rng(1))
    return time.process_time() - started


def _peak_mib(index: int) -> float:
    time.sleep(0.02)
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def _profile(job: Job) -> None:
    _ready()
    profile = cProfile.Profile()
    profile.runcall(_photograph, job, 0.0)
    pstats.Stats(profile).sort_stats("tottime").print_stats(20)


if __name__ == "__main__":
    main()
