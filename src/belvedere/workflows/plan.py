"""The station *plan*: a shoot file in; a briefing, its document, its pictures and its sheet out."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from belvedere.foundation import StoreError
from belvedere.shoot import Briefing, brief, make_plan
from belvedere.store import ensure_writable, write_bytes, write_text
from belvedere.workflows.plan_document import plan_text
from belvedere.workflows.shootfile import load_shoot

Paper = Literal["a4", "letter"]
#: Width of the pictures as PNG: sharp on a page of A4.
_PICTURE_WIDTH_PX = 2400


def plan_shoot(
    shoot_file: Path,
    json_file: Path | None = None,
    sheet_file: Path | None = None,
    paper: Paper = "a4",
    pictures: Path | None = None,
) -> Briefing:
    """The briefing of the shoot file; also written where names are given.

    Parameters
    ----------
    json_file
        The document `belvedere/plan/1`.
    sheet_file, paper
        The field sheet as PDF.
    pictures
        A folder for the plan's pictures, each as SVG and PNG.

    Raises
    ------
    PlanError
        Where the shoot file cannot be read or shot.
    StoreError
        Where something cannot be written.
    """
    briefing = brief(make_plan(load_shoot(shoot_file)))
    for file in (json_file, sheet_file):
        if file is not None:
            _keep_shoot_file(shoot_file, file)
            ensure_writable(file)
    if pictures is not None:
        _ensure_folder(pictures)
    if json_file is not None:
        write_text(json_file, plan_text(briefing))
    if sheet_file is not None:
        from belvedere.sheet import field_sheet

        write_bytes(sheet_file, field_sheet(briefing, paper))
    if pictures is not None:
        _write_pictures(briefing, pictures)
    return briefing


def _write_pictures(briefing: Briefing, folder: Path) -> None:
    from belvedere.sheet import (
        age_map,
        grid_on_sphere,
        grid_picture,
        interval_curve,
        picture_png,
    )

    drawn = {
        "grid": grid_picture(briefing),
        "sphere": grid_on_sphere(briefing),
        "interval": interval_curve(briefing),
        "ages": age_map(briefing),
    }
    folder.mkdir(exist_ok=True)
    for name, svg in drawn.items():
        ensure_writable(folder / f"{name}.svg")
        write_text(folder / f"{name}.svg", svg)
        write_bytes(folder / f"{name}.png", picture_png(svg, _PICTURE_WIDTH_PX))


def _ensure_folder(folder: Path) -> None:
    """Refuse early where `folder` is no folder and cannot become one."""
    if not folder.is_dir():
        if folder.exists():
            raise StoreError(f"{folder} is a file.", "Give the name of a folder for the pictures.")
        ensure_writable(folder)


def _keep_shoot_file(shoot_file: Path, other: Path) -> None:
    written = shoot_file / "shoot.toml" if shoot_file.is_dir() else shoot_file
    if other.resolve() == written.resolve():
        raise StoreError(
            f"{other} is the shoot file itself.", "Give another name to write the plan to."
        )
