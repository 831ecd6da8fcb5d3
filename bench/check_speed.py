"""How fast a card is checked, against plainly decoding the same files on the same cores.

    python bench/check_speed.py [--frames 200] [--megapixels 12] [--rounds 3] [--bare]

Decoding is cv2.imread in colour at full size, in two threads, the start of Python not counted;
checking is a process of its own from its start to its answer, with an empty catalogue. They take
turns, and the median of the rounds counts. In brackets stands the processor's time per frame,
which other work on the machine disturbs less. Cards are made once, in bench/results/speed; their
files have thumbnails as every camera writes them, but for `--bare`.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median

import psutil

sys.path.insert(0, str(Path(__file__).resolve().parent))

from check_speed_card import Card, make

ROOT = Path(__file__).resolve().parent.parent
RESULTS = ROOT / "bench" / "results"
THREADS = 2
#: The bus of a fast card reader (UHS-I), MB/s.
BUS_MB_PER_S = 104.0
SIZES = {0.3: (640, 480), 1.0: (1152, 864), 12.0: (4000, 3000)}

_DECODE = """
import sys, time, json, resource
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
import cv2
cv2.setNumThreads(1)
files = sorted(str(file) for file in Path(sys.argv[1]).iterdir())
began, spent = time.perf_counter(), time.process_time()
with ThreadPoolExecutor(int(sys.argv[2])) as pool:
    for picture in pool.map(lambda file: cv2.imread(file, cv2.IMREAD_COLOR).shape, files):
        pass
print(json.dumps([time.perf_counter() - began, time.process_time() - spent]))
"""
_CHECK = """
import sys, time, json
from pathlib import Path
began = float(sys.argv[3])
from belvedere.workflows.check import check_card
stages, last = {}, "start"
since = began
def ended(step):
    global since, last
    now = time.time()
    stages[last] = stages.get(last, 0.0) + now - since
    since, last = now, step
steps = check_card(Path(sys.argv[1]), Path(sys.argv[2]))
try:
    while True:
        step = next(steps).step
        if step != last:
            ended(step)
except StopIteration as stop:
    ended("end")
    report = stop.value
print(json.dumps([stages, report.verdict]))
"""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a process: seconds on the clock and of the processor, MiB at the peak."""

    seconds: float
    processor_s: float
    peak_mib: float
    said: str


def run(code: str, *arguments: str) -> Run:
    """Run Python code in a process of its own and watch it and its children."""
    # What is installed has its bytecode beside it.
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    kept["PYTHONPYCACHEPREFIX"] = str(RESULTS / "speed" / "bytecode")
    began = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE, text=True, env=kept
    )
    peak = [0.0]
    spent: dict[int, float] = {}
    watch = threading.Thread(target=_watch, args=(process.pid, peak, spent))
    watch.start()
    said, _ = process.communicate()
    seconds = time.perf_counter() - began
    watch.join()
    if process.returncode:
        raise SystemExit(f"exit code {process.returncode}")
    return Run(seconds, sum(spent.values()), peak[0], said)


def _watch(pid: int, peak: list[float], spent: dict[int, float]) -> None:
    try:
        parent = psutil.Process(pid)
        while True:
            everyone = [parent, *parent.children(recursive=True)]
            peak[0] = max(peak[0], sum(one.memory_info().rss for one in everyone) / 2**20)
            for one in everyone:
                times = one.cpu_times()
                spent[one.pid] = times.user + times.system
            time.sleep(0.05)
    except psutil.Error:
        return


def card_of(frames: int, megapixels: float, thumbnails: bool) -> Card:
    """A card of about so many frames, twice as many columns as rows."""
    rows = max(2, round((frames / 2.0) ** 0.5))
    width, height = SIZES[megapixels]
    folder = RESULTS / "speed" / f"{frames}x{megapixels:g}{'' if thumbnails else '-bare'}"
    return Card(folder, rows, frames // rows, width, height, 97, thumbnails)


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--frames", type=int, default=200)
    parser.add_argument("--megapixels", type=float, default=12.0, choices=sorted(SIZES))
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--bare", action="store_true", help="files without thumbnails")
    asked = parser.parse_args()
    card = card_of(asked.frames, asked.megapixels, not asked.bare)
    make(card)
    megabytes = sum(file.stat().st_size for file in card.files.iterdir()) / 1e6
    run("import belvedere.workflows.check")
    decoded, checked = [], []
    for _ in range(asked.rounds):
        plain = run(_DECODE, str(card.files), str(THREADS))
        seconds, processor_s = json.loads(plain.said)
        decoded.append(Run(seconds, processor_s, plain.peak_mib, ""))
        shutil.rmtree(card.folder / ".belvedere", ignore_errors=True)
        checked.append(run(_CHECK, str(card.files), str(card.shoot), repr(time.time())))
    shutil.rmtree(card.folder / ".belvedere", ignore_errors=True)
    figures = _figures(card, megabytes, decoded, checked)
    _show(card, megabytes, figures)
    (RESULTS / f"check-speed-{card.folder.name}.json").write_text(
        json.dumps({**figures, "rounds": [asdict(one) for one in checked]}, indent=1), "utf-8"
    )
    return 0 if figures["ratio"] <= 1.0 else 1


def _figures(
    card: Card, megabytes: float, decoded: list[Run], checked: list[Run]
) -> dict[str, float]:
    plain_s, check_s = (median(one.seconds for one in runs) for runs in (decoded, checked))
    plain_cpu, check_cpu = (median(one.processor_s for one in runs) for runs in (decoded, checked))
    stages, _ = json.loads(checked[-1].said)
    return {
        "ratio": check_s / plain_s,
        "ratio_processor": check_cpu / plain_cpu,
        "plain_ms_per_frame": 1e3 * plain_s / card.frames,
        "plain_processor_ms_per_frame": 1e3 * plain_cpu / card.frames,
        "check_ms_per_frame": 1e3 * check_s / card.frames,
        "check_processor_ms_per_frame": 1e3 * check_cpu / card.frames,
        "mb_per_s": megabytes / check_s,
        "peak_mib": max(one.peak_mib for one in checked),
        **{f"ms_per_frame: {name}": 1e3 * value / card.frames for name, value in stages.items()},
    }


def _show(card: Card, megabytes: float, figures: dict[str, float]) -> None:
    megapixels = card.width_px * card.height_px / 1e6
    print(f"{card.frames} frames of {megapixels:.0f} MP, {megabytes / card.frames:.1f} MB each")
    for name, says in (("plain", "decoding alone"), ("check", "the whole check")):
        clock = figures[f"{name}_ms_per_frame"]
        processor = figures[f"{name}_processor_ms_per_frame"]
        print(f"  {says:<20}{clock:7.1f} ms a frame ({processor:.1f})")
    print(f"  {'ratio':<20}{figures['ratio']:7.2f}            ({figures['ratio_processor']:.2f})")
    print(f"  {'reads':<20}{figures['mb_per_s']:7.0f} MB/s (the bus: {BUS_MB_PER_S:.0f})")
    print(f"  {'peak memory':<20}{figures['peak_mib']:7.0f} MiB")
    for name, value in figures.items():
        if name.startswith("ms_per_frame: "):
            print(f"    {name[14:]:<22}{value:7.1f} ms a frame")


if __name__ == "__main__":
    raise SystemExit(main())
