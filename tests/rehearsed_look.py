"""Rehearsed shoots in memory, with overlaps and small pictures, for what is judged by the look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check import Judgement, judge
from belvedere.foundation import finish
from belvedere.imagefiles.catalogue import shrunk
from belvedere.measure import Overlap
from belvedere.rehearse import Rehearsal, Scene, Shot, rehearse, stated_settings
from belvedere.shoot import Frame, Plan, make_plan, parse_shoot

Pixels = NDArray[np.uint8]
WIDTH_PX, HEIGHT_PX = 640, 480


def plan_of(rows: int = 4, columns: int = 6, middle_deg: float = 0.0) -> Plan:
    """A plan of frames of 13.9° × 10.5°, 30 % overlap."""
    across, down = 13.91 * (columns - 0.3 * (columns - 1)), 10.45 * (rows - 0.3 * (rows - 1))
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
            focal_length_mm = 30.5
            [grid]
            left_deg = {-across / 2.0}
            right_deg = {across / 2.0}
            top_deg = {middle_deg + down / 2.0}
            bottom_deg = {middle_deg - down / 2.0}
            overlap = 0.28
            rows = {rows}
            columns = {columns}
            [sweep]
            interval_s = 3.0
            """
        )
    )


class InMemory:
    """Frames in memory as a source."""

    def __init__(self, pictures: dict[str, Pixels]) -> None:
        self.pictures = pictures

    def colour(self, file: str, shrink: int = 1) -> Pixels:
        picture = self.pictures[file]
        size = (-(-picture.shape[1] // shrink), -(-picture.shape[0] // shrink))
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)

    def grey(self, file: str, shrink: int = 1) -> Pixels:
        return np.asarray(cv2.cvtColor(self.colour(file, shrink), cv2.COLOR_RGB2GRAY))


@dataclass
class Look:
    """A photographed shoot; `cells` and `shots` are by file."""

    frames: list[Frame]
    overlaps: list[Overlap]
    source: InMemory
    cells: dict[str, tuple[int, int]]
    shots: dict[str, Shot]

    @property
    def small(self) -> dict[str, Pixels]:
        return {file: shrunk(self.source.grey(file)) for file in self.source.pictures}

    def judged(self) -> Judgement:
        return finish(judge(self.frames, self.overlaps, self.source, self.small, self.cells))


def look_of(rehearsal: Rehearsal, scene: Scene) -> Look:
    """Every frame of a rehearsal, its overlaps mapped with an error of 2 px."""
    pictures: dict[str, Pixels] = {}
    frames, shots = [], {}
    for shot, picture in rehearse(rehearsal, scene):
        file = f"PIC_{shot.number:04d}.JPG"
        pictures[file], shots[file] = picture, shot
        settings = stated_settings(shot, rehearsal.plan.shoot)
        frames.append(
            Frame(file, "", 0, WIDTH_PX, HEIGHT_PX, taken_at=shot.taken_at, settings=settings)
        )
    cells = {file: shot.cell for file, shot in shots.items() if shot.cell is not None}
    overlaps = _overlaps(rehearsal.plan, shots, cells)
    return Look(frames, overlaps, InMemory(pictures), cells, shots)


def _overlaps(
    plan: Plan, shots: dict[str, Shot], cells: dict[str, tuple[int, int]]
) -> list[Overlap]:
    focal = plan.focal_length_px
    camera = np.array(
        [
            [focal, 0.0, (WIDTH_PX - 1) / 2.0],
            [0.0, focal, (HEIGHT_PX - 1) / 2.0],
            [0.0, 0.0, 1.0],
        ]
    )
    by_cell = {cell: file for file, cell in cells.items()}
    rng = np.random.default_rng(2)
    overlaps = []
    for (row, column), file in by_cell.items():
        for other in ((row, column + 1), (row + 1, column)):
            if other not in by_cell:
                continue
            turn = shots[by_cell[other]].camera_from_world @ shots[file].camera_from_world.T
            mapping = camera @ turn @ np.linalg.inv(camera)
            mapping = mapping / mapping[2, 2]
            mapping[:2, 2] += rng.normal(0.0, 2.0, 2)
            overlaps.append(Overlap(file, by_cell[other], mapping, 1.0))
    return overlaps


def kinds(judgement: Judgement, wanted: Sequence[str]) -> list[str]:
    """Those of the wanted kinds that stand on the shoot or as remarks."""
    said = [finding.kind for finding in (*judgement.shoot_findings, *judgement.remarks)]
    return [kind for kind in wanted if kind in said]
