"""How long a plan of 100,000 cells takes: the real command from end to end, and its parts.

    python bench/plan_bench.py [--runs 3] [--profile]

Each run is a process of its own, as a photographer would start it; the best of the runs counts,
as the machine can only make them longer. `--profile` prints where the time goes. Figures go to
bench/results/plan.json.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
RESULTS = ROOT / "bench" / "results"
#: Seconds that the whole command may take.
TARGET_S = 2.0

ROWS, COLUMNS = 250, 400
#: A long lens on a full-frame camera: 0.49° × 0.33° frames over 140° × 60°, 28 % of overlap.
SHOOT = f"""\
[shoot]
title = "Saltmere, every roof"

[camera]
sensor_width_mm = 36.0
image_width_px = 6000
image_height_px = 4000

[lens]
focal_length_mm = 4200.0

[grid]
left_deg = -70.0
right_deg = 70.0
top_deg = 30.0
bottom_deg = -30.0
overlap = 0.25
rows = {ROWS}
columns = {COLUMNS}

[sweep]
order = "columns"
serpentine = true
interval_s = 3.0
"""
#: The sun is computed only where place and time are known.
PLACE = """
[place]
latitude_deg = 50.0
longitude_deg = -4.0
zero_bearing_deg = 180.0
"""

PARTS = """
import json, sys, time
stages, begun = {}, time.perf_counter()
def stage(name):
    global begun
    now = time.perf_counter()
    stages[name], begun = now - begun, time.perf_counter()
import belvedere.cli
stage("import of the command line")
from belvedere.shoot import brief, make_plan
from belvedere.workflows.shootfile import load_shoot
from belvedere.workflows.plan_document import plan_text
stage("import of the planner")
from pathlib import Path
shoot = load_shoot(Path(sys.argv[1]))
stage("reading the shoot file")
plan = make_plan(shoot)
stage("make_plan")
from belvedere.shoot.sweep_ages import touching_pairs
touching_pairs(plan)
stage("touching_pairs (again in the briefing)")
briefing = brief(plan)
stage("briefing")
text = plan_text(briefing)
stage("JSON text")
print(json.dumps({"frames": len(plan.cells), "bytes": len(text), "stages": stages}))
"""


def shoot_text(with_light: bool) -> str:
    """The shoot file, with or without a place and a start."""
    if not with_light:
        return SHOOT
    return SHOOT.replace("[shoot]\n", "[shoot]\nstart = 2026-06-21T10:00:00+01:00\n") + PLACE


def command_s(shoot_file: Path, folder: Path) -> float:
    """Seconds of `belvedere plan SHOOT --json F` as a process."""
    command = [sys.executable, "-c", "from belvedere.cli import main; main()", "plan"]
    begun = time.perf_counter()
    done = subprocess.run(
        [*command, str(shoot_file), "--json", str(folder / "plan.json")],
        capture_output=True,
        text=True,
        check=False,
    )
    took = time.perf_counter() - begun
    if done.returncode != 0:
        raise SystemExit(f"belvedere plan failed: {done.stderr or done.stdout}")
    return took


def parts(shoot_file: Path) -> dict[str, object]:
    """Seconds of each part, in one fresh process."""
    done = subprocess.run(
        [sys.executable, "-c", PARTS, str(shoot_file)], capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        return {"trouble": done.stderr.strip().splitlines()[-1]}
    answer: dict[str, object] = json.loads(done.stdout)
    return answer


def profile(shoot_file: Path, folder: Path) -> None:
    """Print where the command spends its time."""
    stats = "import cProfile, pstats, sys; from belvedere.cli import main\n"
    stats += "p = cProfile.Profile(); p.enable()\n"
    stats += "try: main()\nexcept SystemExit: pass\n"
    stats += "p.disable(); pstats.Stats(p, stream=sys.stderr).sort_stats('tottime').print_stats(25)"
    done = subprocess.run(
        [sys.executable, "-c", stats, "plan", str(shoot_file), "--json", str(folder / "p.json")],
        capture_output=True,
        text=True,
        check=False,
    )
    print(done.stderr)


def main() -> int:
    """Measure, print, and keep the figures; 1 where the target is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--profile", action="store_true")
    asked = parser.parse_args()
    figures: dict[str, object] = {"target_s": TARGET_S}
    missed = False
    with tempfile.TemporaryDirectory(prefix="plan-bench-") as name:
        folder = Path(name)
        for label, with_light in (("without light", False), ("with place and start", True)):
            shoot_file = folder / "shoot.toml"
            shoot_file.write_text(shoot_text(with_light), "utf-8")
            seconds = min(command_s(shoot_file, folder) for _ in range(asked.runs))
            inside = parts(shoot_file)
            figures[label] = {"command_s": seconds, "parts": inside}
            missed |= seconds > TARGET_S
            print(f"{label}: {seconds:.2f} s for the command (target {TARGET_S:.0f} s)")
            stages = inside.get("stages")
            if isinstance(stages, dict):
                print(f"  {inside['frames']:,} frames, {inside['bytes']:,} bytes of JSON")
                for stage, took in stages.items():
                    print(f"  {took:6.3f} s  {stage}")
            else:
                print(f"  parts not measured: {inside['trouble']}")
            if asked.profile:
                profile(shoot_file, folder)
    RESULTS.mkdir(parents=True, exist_ok=True)
    (RESULTS / "plan.json").write_text(json.dumps(figures, indent=2) + "\n", "utf-8")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
