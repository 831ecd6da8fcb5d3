"""A rehearsed card oriented, against the rehearsal's truth; errors bounded on both sides."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.check import CellReport
from belvedere.foundation import StoreError, finish
from belvedere.imagefiles import FolderSource, read_card
from belvedere.optics import LensModel
from belvedere.orient import Orientation, light_falloff
from belvedere.shoot import make_plan
from belvedere.workflows.orient import orient_card
from belvedere.workflows.orientation_file import (
    load_orientation,
    orientation_document,
    save_orientation,
)
from belvedere.workflows.rehearse import rehearse_card
from belvedere.workflows.rehearse_request import RehearsalRequest, prepare
from belvedere.workflows.shootfile import load_shoot

FloatArray = NDArray[np.float64]
ROOT = Path(__file__).resolve().parents[2]

SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = {width}
image_height_px = {height}
[lens]
focal_length_mm = 30.5
[grid]
left_deg = {left}
right_deg = {right}
top_deg = {top}
bottom_deg = {bottom}
overlap = 0.30
rows = {rows}
columns = {columns}
[sweep]
interval_s = 3.0
"""
SMALL = {
    "width": 640, "height": 480, "left": -17.0, "right": 17.0, "top": 2.0, "bottom": -18.0,
    "rows": 3, "columns": 4,
}  # fmt: skip
FULL = {
    "width": 1216, "height": 912, "left": -58.0, "right": 58.0, "top": 17.0, "bottom": -21.0,
    "rows": 5, "columns": 12,
}  # fmt: skip


class Card:
    """A rehearsed card, its orientation and its truth."""

    def __init__(self, folder: Path, numbers: dict[str, Any], with_plan: bool = True) -> None:
        shoot = folder / "shoot.toml"
        if not shoot.exists():
            shoot.write_text(SHOOT.format(**numbers), "utf-8")
            prepared = prepare(RehearsalRequest(shoot=shoot, seed=7, still=True))
            finish(
                rehearse_card(
                    prepared.rehearsal,
                    prepared.make_scene,
                    prepared.scene_name,
                    folder / "out",
                    workers=2,
                )
            )
        self.truth = json.loads((folder / "out" / "truth.json").read_text("utf-8"))
        self.of_file = {f["file"]: f for f in self.truth["frames"]}
        root = folder / "out" / "card"
        frames = finish(read_card(root))
        cells = [
            CellReport(*f["cell"], state="good", frames=(f["file"],), confidence=1.0)
            for f in self.truth["frames"]
        ]
        plan = make_plan(load_shoot(shoot)) if with_plan else None
        source = FolderSource(root)
        self.orientation: Orientation = finish(orient_card(frames, source, plan, cells))
        self.true_lens = LensModel(**self.truth["camera"]["lens"])

    def tied(self) -> list[Any]:
        """Frames that rest on ties, not on the head alone."""
        alone = {f.file for f in self.orientation.findings if f.kind == "pointing"}
        return [f for f in self.orientation.frames if f.file not in alone]

    def rotations(self) -> tuple[FloatArray, FloatArray]:
        """Found and true `world_from_camera` of the tied frames."""
        frames = self.tied()
        found = np.stack([f.camera_from_world.T for f in frames])
        true = np.stack([np.array(self.of_file[f.file]["camera_from_world"]).T for f in frames])
        return found, true

    def direction_errors_px(self) -> FloatArray:
        """Where nine pixels of every frame look, after the best turn of the whole.

        Pictures cannot tell that turn; and a lens' middle that is off a little only turns every
        camera the other way, so rotations and lens are compared as they work together.
        """
        found, true = self.rotations()
        lens = self.true_lens
        x, y = np.meshgrid(
            np.linspace(0.1, 0.9, 3) * lens.width_px, np.linspace(0.1, 0.9, 3) * lens.height_px
        )
        pixels = np.stack([x, y], axis=-1).reshape(-1, 2)
        ours = (self.orientation.lens.unproject(pixels) @ np.swapaxes(found, 1, 2)).reshape(-1, 3)
        theirs = (lens.unproject(pixels) @ np.swapaxes(true, 1, 2)).reshape(-1, 3)
        whole, _ = Rotation.align_vectors(theirs, ours)
        apart = np.linalg.norm(whole.apply(ours) - theirs, axis=1)
        return np.asarray(apart * lens.focal_length_px)

    def overlap_errors_px(self) -> FloatArray:
        """Where pixels of the overlaps land in the neighbour, against the truth."""
        found, true = self.rotations()
        at = {(f.row, f.column): n for n, f in enumerate(self.tied())}
        lens, errors = self.true_lens, []
        x, y = np.meshgrid(
            np.linspace(0, lens.width_px - 1, 9), np.linspace(0, lens.height_px - 1, 9)
        )
        pixels = np.stack([x, y], axis=-1).reshape(-1, 2)
        for (row, column), i in at.items():
            for j in (at.get((row, column + 1)), at.get((row + 1, column))):
                if j is None:
                    continue
                there = lens.project(lens.unproject(pixels) @ (true[j].T @ true[i]).T)
                ours = self.orientation.lens
                seen = ours.project(ours.unproject(pixels) @ (found[j].T @ found[i]).T)
                size = np.array([lens.width_px - 1, lens.height_px - 1])
                inside = ((there >= 0) & (there <= size)).all(axis=1)
                errors.append(np.linalg.norm(seen - there, axis=1)[inside])
        return np.concatenate(errors)


def rms(values: FloatArray) -> float:
    return float(np.sqrt((values**2).mean()))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("rehearsed")


@pytest.fixture(scope="module")
def card(folder: Path) -> Card:
    return Card(folder, SMALL)


def test_neighbours_fit_to_a_small_part_of_a_pixel(card: Card) -> None:
    """The lower bound: noise and JPEG leave something; the upper: a tenth of a pixel."""
    assert len(card.orientation.frames) == 12
    assert len(card.tied()) >= 9
    assert 0.003 < rms(card.overlap_errors_px()) < 0.1
    assert 0.02 < card.orientation.residual_px_rms < 0.2


def test_rotations_are_the_heads_to_what_it_can_tell(card: Card) -> None:
    """Focal length and steps trade with each other: the whole is as large as 12 pointings say."""
    pointing_px = np.radians(0.03) * card.true_lens.focal_length_px
    assert 0.005 < rms(card.direction_errors_px()) < 0.6 * pointing_px


def test_lens_and_light_are_the_truths(card: Card) -> None:
    lens, true = card.orientation.lens, card.true_lens
    assert lens.focal_length_px == pytest.approx(true.focal_length_px, rel=2e-3)
    corner = np.array([[0.0, 0.0], [true.width_px - 1.0, true.height_px - 1.0]])
    half = np.array([[0.5 * true.width_px, 0.5 * true.height_px]]) / true.focal_length_px
    bent_px = (lens.distort(half) - true.distort(half)) * true.focal_length_px
    assert np.abs(bent_px).max() < 0.25
    left = light_falloff(lens, card.orientation.falloff, corner)
    assert left == pytest.approx(2.0 ** -card.truth["camera"]["corner_falloff_ev"], abs=0.03)
    gains = np.stack([f.gain for f in card.orientation.frames])
    exposures = np.array([card.of_file[f.file]["exposure_ev"] for f in card.orientation.frames])
    true_gains = 2.0**-exposures
    ratio = gains / true_gains[:, None]
    assert np.abs(ratio / ratio.mean(axis=0) - 1.0).max() < 0.015


def test_without_a_plan_the_same_neighbours_fit(folder: Path, card: Card) -> None:
    """From pictures alone, in any case of those frames that show something."""
    free = Card(folder, SMALL, with_plan=False)
    cell_of = {f["file"]: f["cell"] for f in card.truth["frames"]}
    assert len(free.orientation.frames) >= 9
    assert free.orientation.residual_px_rms < 0.3
    found = {f.file: f.camera_from_world for f in free.orientation.frames}
    rights = [
        (a, b)
        for a in found
        for b in found
        if cell_of[b][0] == cell_of[a][0] and cell_of[b][1] == cell_of[a][1] + 1
    ]
    for a, b in rights:
        apart = Rotation.from_matrix(found[b] @ found[a].T).magnitude()
        true = Rotation.from_matrix(
            np.array(card.of_file[b]["camera_from_world"])
            @ np.array(card.of_file[a]["camera_from_world"]).T
        ).magnitude()
        assert apart == pytest.approx(true, rel=0.02)


def test_the_file_keeps_the_orientation(card: Card, tmp_path: Path) -> None:
    schema = json.loads((ROOT / "docs" / "schema" / "orientation-1.schema.json").read_text("utf-8"))
    document = orientation_document(card.orientation)
    jsonschema.validate(json.loads(json.dumps(document, allow_nan=False)), schema)
    path = tmp_path / "orientation.json"
    save_orientation(path, card.orientation)
    again = load_orientation(path)
    assert again.lens == card.orientation.lens
    assert again.falloff == card.orientation.falloff
    assert again.findings == card.orientation.findings
    for ours, read in zip(card.orientation.frames, again.frames, strict=True):
        assert (read.file, read.row, read.column) == (ours.file, ours.row, ours.column)
        assert read.camera_from_world == pytest.approx(ours.camera_from_world, abs=1e-12)
        assert read.gain == pytest.approx(ours.gain)


def test_a_bad_file_is_refused_in_one_sentence(card: Card, tmp_path: Path) -> None:
    path = tmp_path / "orientation.json"
    with pytest.raises(StoreError, match=r"orientation\.json cannot be read"):
        load_orientation(path)
    path.write_text("{", "utf-8")
    with pytest.raises(StoreError, match="is not an orientation"):
        load_orientation(path)
    document = orientation_document(card.orientation)
    document["lens"]["focal_length_px"] = -1
    path.write_text(json.dumps(document), "utf-8")
    with pytest.raises(StoreError, match=r"lens\.focal_length_px"):
        load_orientation(path)


@pytest.mark.slow
def test_five_rows_of_twelve(tmp_path: Path) -> None:
    """The size of the demo: directions within 0.3 px, neighbours within a tenth."""
    whole = Card(tmp_path, FULL)
    assert len(whole.orientation.frames) == 60
    assert 0.003 < rms(whole.overlap_errors_px()) < 0.1
    assert rms(whole.direction_errors_px()) < 0.3
