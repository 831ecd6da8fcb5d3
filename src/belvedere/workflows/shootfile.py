"""Reading a shoot file from disk."""

from __future__ import annotations

from pathlib import Path

from belvedere.foundation import PlanError
from belvedere.shoot import Shoot, parse_shoot


def load_shoot(path: Path) -> Shoot:
    """The shoot that the file at `path` describes; a folder stands for its `shoot.toml`.

    Raises
    ------
    PlanError
        Where the file cannot be read, or what it says cannot be shot.
    """
    return parse_shoot(read_shoot_text(path), str(path))


def read_shoot_text(path: Path) -> str:
    """The text of the shoot file at `path`; raises PlanError where there is none."""
    if path.is_dir():
        path = path / "shoot.toml"
    try:
        return path.read_text("utf-8")
    except FileNotFoundError as error:
        raise PlanError(
            f"There is no shoot file {path}.", "Give the path of a shoot.toml."
        ) from error
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        raise PlanError(
            f"{path} is not UTF-8 text (line {line}).", "Save it as UTF-8 in a text editor."
        ) from error
    except OSError as error:
        raise PlanError(
            f"{path} cannot be read: {error.strerror or error}.", "Check the path and its rights."
        ) from error
