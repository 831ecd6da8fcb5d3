"""The whole job once, in the harbour of Saltmere: `make demo`.

Runs the same commands a photographer would type, in the folder `demo/`, and shows each before it
runs. Everything in `demo/` is made anew.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo"
EXAMPLE = ROOT / "docs" / "examples" / "saltmere"
BELVEDERE = ROOT / ".venv" / "bin" / "belvedere"


def main() -> None:
    """Play the job; a step that ends otherwise than the story goes ends the demo."""
    started = time.monotonic()
    shutil.rmtree(DEMO, ignore_errors=True)
    DEMO.mkdir()
    for name in ("shoot.toml", "places.json"):
        shutil.copy(EXAMPLE / name, DEMO / name)

    tell("Plan: what will it take to photograph the harbour from the mole?")
    run("plan", "shoot.toml", "--sheet", "sheet.pdf")
    tell("Rehearse: a simulated head sweeps the grid; two frames will go wrong.")
    faults = ("--fault", "missing 3,7", "--fault", "soft 2,4 2.5")
    # Still: a boat that crosses a seam would be cut in two, as the seams do not know of it yet.
    run("rehearse", "shoot.toml", "first", "--seed", "7", "--still", *faults)
    tell("Check: the card goes into the laptop before the tripod is folded.")
    run("check", "first/card", "--shoot", "shoot.toml", "--json", "check-1.json", expect=1)
    tell("Re-shoot just those cells, onto a second card.")
    run("rehearse", "shoot.toml", "second", "--cells", "2,4 3,7", "--after", "first", "--still")
    run("retake", "second/card", "--shoot", "shoot.toml")
    tell("Check again.")
    run("check", "first/card", "--shoot", "shoot.toml", "--json", "check-2.json")
    tell("Pack up. At home: assemble one picture, and publish it as a page.")
    run("assemble", "first/card", "--shoot", "shoot.toml", "--out", "saltmere.tif",
        "--json", "assemble.json")  # fmt: skip
    run("publish", "saltmere.tif", "site", "--places", "places.json")

    minutes, seconds = divmod(round(time.monotonic() - started), 60)
    tell(f"Done in {minutes} min {seconds} s. Open {(DEMO / 'site' / 'index.html').as_uri()}")
    if sys.stdin.isatty() and sys.stdout.isatty():
        run("serve", "site", expect=None)
    else:
        print("or serve it: .venv/bin/belvedere serve demo/site")


def tell(line: str) -> None:
    """One line of the story."""
    colour = sys.stdout.isatty() and "NO_COLOR" not in os.environ
    print(f"\n\033[1m{line}\033[0m" if colour else f"\n{line}", flush=True)


def run(*arguments: str, expect: int | None = 0) -> None:
    """Show and run one command in `demo/`."""
    shown = " ".join(f'"{word}"' if " " in word else word for word in arguments)
    print(f"$ belvedere {shown}", flush=True)
    try:
        code = subprocess.run([str(BELVEDERE), *arguments], cwd=DEMO, check=False).returncode
    except KeyboardInterrupt:
        code = 130
    if expect is not None and code != expect:
        print(f"demo: this should have ended with exit code {expect}, not {code}.", file=sys.stderr)
        sys.exit(code or 1)


if __name__ == "__main__":
    main()
