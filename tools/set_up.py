"""Set up this checkout: a virtual environment, locked dependencies, the pages, a browser.

Run by `make`; needs nothing but Python. Each part is skipped where it is up to date.

    python3 tools/set_up.py [--browser]
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

from chromium import find_chromium

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMPS = ROOT / ".setup"
LOCK = ROOT / "requirements.lock"


def main() -> None:
    """Bring everything up to date; one sentence and exit code 2 where that cannot be."""
    if sys.version_info < (3, 11):  # noqa: UP036 (an older Python may well run this file)
        stop(f"Python 3.11 or newer is needed, this is {sys.version.split()[0]}: install it.")
    step("packages", [LOCK, ROOT / "pyproject.toml"], install_packages)
    viewer = ROOT / "pages" / "viewer"
    sources = sorted(p for p in viewer.rglob("*") if p.is_file() and "node_modules" not in p.parts)
    step("pages", sources, build_pages, made=ROOT / "src/belvedere/publish/page/index.html")
    if "--browser" in sys.argv[1:]:
        provide_browser()


def step(name: str, inputs: list[Path], work: object, made: Path | None = None) -> None:
    """Do `work` unless the stamp says it was done for just these inputs."""
    digest = hashlib.sha256()
    for path in inputs:
        digest.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    stamp = STAMPS / name
    done = stamp.is_file() and stamp.read_text() == digest.hexdigest()
    if done and (VENV / "bin" / "python").exists() and (made is None or made.exists()):
        return
    print(f"set-up: {name} …", flush=True)
    work()  # type: ignore[operator]
    STAMPS.mkdir(exist_ok=True)
    stamp.write_text(digest.hexdigest())


def install_packages() -> None:
    """Make the virtual environment and install the locked packages and Belvedere itself."""
    if not (VENV / "bin" / "pip").exists():
        run(
            [sys.executable, "-m", "venv", str(VENV)],
            "The virtual environment could not be made: install your system's package for "
            "Python's venv module (on Debian: apt-get install python3-venv).",
        )
    pip = [str(VENV / "bin" / "python"), "-m", "pip", "install", "--quiet"]
    pip.append("--disable-pip-version-check")
    help_ = "The locked packages could not be installed: look at the lines above; is PyPI reached?"
    run([*pip, "--require-hashes", "-r", str(LOCK)], help_)
    run([*pip, "--no-deps", "--no-build-isolation", "-e", str(ROOT)], help_)


def build_pages() -> None:
    """Build the viewer with the Node.js that came with the packages."""
    run(
        [str(VENV / "bin" / "python"), str(ROOT / "tools" / "build_pages.py")],
        "The pages could not be built: look at the lines above; is the npm registry reached?",
    )


def provide_browser() -> None:
    """A Chromium for the browser tests: the one there is, or Debian's where that can be had."""
    if find_chromium():
        return
    if shutil.which("apt-get") and os.geteuid() == 0:
        print("set-up: browser …", flush=True)
        for command in (
            ["apt-get", "update", "-q"],
            ["apt-get", "install", "-y", "-q", "chromium"],
        ):
            done = subprocess.run(command, capture_output=True, check=False)
            if done.returncode:
                break
        if shutil.which("chromium"):
            return
    print(
        "set-up: there is no Chromium, so the browser tests are skipped: install it "
        "(on Debian: sudo apt-get install chromium).",
        flush=True,
    )


def run(command: list[str], help_: str) -> None:
    """Run `command`; where it fails, say what to do."""
    if subprocess.run(command, check=False, cwd=ROOT).returncode:
        stop(help_)


def stop(sentence: str) -> None:
    """End with a sentence."""
    print(f"set-up: {sentence}", file=sys.stderr)
    sys.exit(2)


if __name__ == "__main__":
    main()
