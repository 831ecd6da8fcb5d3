"""Real photographs that nobody here made, oriented from the pictures and EXIF alone.

Outside truth: what a plain homography leaves between the same pairs, with OpenCV's SIFT and
MAGSAC at 3 px, on its own inliers.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.foundation import finish
from belvedere.imagefiles import FolderSource, read_card
from belvedere.orient import Orientation, orient
from belvedere.sphere import bearing_elevation_roll

pytestmark = pytest.mark.photos


@cache
def oriented(folder: Path) -> Orientation:
    frames = finish(read_card(folder))
    return finish(orient(frames, FolderSource(folder)))


@cache
def sift(path: Path) -> tuple[NDArray[np.float64], NDArray[np.float32]]:
    """Places and descriptors of 4,000 features at full size."""
    picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    points, features = cv2.SIFT.create(nfeatures=4000).detectAndCompute(picture, None)
    return np.array([point.pt for point in points]), features


def homography_rms_px(folder: Path, file_a: str, file_b: str) -> float:
    """What a homography leaves: SIFT, ratio test, MAGSAC at 3 px; rms over its inliers."""
    (points_a, features_a), (points_b, features_b) = sift(folder / file_a), sift(folder / file_b)
    nearest = cv2.BFMatcher(cv2.NORM_L2).knnMatch(features_a, features_b, k=2)
    good = [m for m, n in nearest if m.distance < 0.75 * n.distance]
    at_a = points_a[[m.queryIdx for m in good]]
    at_b = points_b[[m.trainIdx for m in good]]
    homography, mask = cv2.findHomography(at_a, at_b, cv2.USAC_MAGSAC, 3.0)
    inlier = mask.ravel().astype(bool)
    moved = np.c_[at_a[inlier], np.ones(inlier.sum())] @ homography.T
    left = np.linalg.norm(moved[:, :2] / moved[:, 2:] - at_b[inlier], axis=1)
    return float(np.sqrt((left**2).mean()))


@pytest.mark.parametrize(("name", "count"), [("petra", 3), ("arches", 3), ("kayak", 7)])
def test_rotations_and_lens_beat_homographies(photos: Path, name: str, count: int) -> None:
    folder = photos / name
    orientation = oriented(folder)
    assert len(orientation.frames) == count
    assert not [f for f in orientation.findings if f.kind == "unconnected"]
    theirs = [homography_rms_px(folder, p.file_a, p.file_b) for p in orientation.pairs]
    ours = [p.residual_px_rms for p in orientation.pairs]
    counts = np.array([p.inliers for p in orientation.pairs])
    assert orientation.residual_px_rms < np.sqrt(np.average(np.square(theirs), weights=counts))
    # pair by pair, one in five may go the other way: a pair alone fits itself best
    better = np.array(ours) < np.array(theirs)
    assert better.mean() >= 0.8
    # and not because hard ties were called outliers
    assert counts.sum() > 0.75 * orientation.tie_points


@pytest.mark.parametrize("name", ["cave", "apartment_building"])
def test_two_frames_without_any_stated_focal_length(photos: Path, name: str) -> None:
    """Little is known from two frames: the lens stays possible, and the two fit."""
    folder = photos / "pairs"
    frames = [f for f in finish(read_card(folder)) if f.file.startswith(name)]
    orientation = finish(orient(frames, FolderSource(folder)))
    assert len(orientation.frames) == 2
    assert orientation.residual_px_rms < homography_rms_px(folder, frames[0].file, frames[1].file)
    lens = orientation.lens
    corner = lens.distort(
        np.array([0.5 * lens.width_px, 0.5 * lens.height_px]) / lens.focal_length_px
    )
    straight = np.array([0.5 * lens.width_px, 0.5 * lens.height_px]) / lens.focal_length_px
    assert np.linalg.norm(corner - straight) < 0.12 * np.linalg.norm(straight)


def test_a_stated_focal_length_is_kept_where_it_is_right(photos: Path) -> None:
    """petra states 27 mm in 35 mm terms: 27 / 43.27 of the diagonal (CIPA DCG-001)."""
    lens = oriented(photos / "petra").lens
    stated = 27 / 43.2666 * np.hypot(3000, 1987)
    assert lens.focal_length_px == pytest.approx(stated, rel=0.05)


def test_a_hand_held_row_lies_level_and_a_column_stands(photos: Path) -> None:
    row = [bearing_elevation_roll(f.camera_from_world) for f in oriented(photos / "arches").frames]
    assert np.abs([roll for _, _, roll in row]).max() < 1.0
    assert [b for b, _, _ in row] == sorted(b for b, _, _ in row)
    column = [
        bearing_elevation_roll(f.camera_from_world) for f in oriented(photos / "petra").frames
    ]
    assert [e for _, e, _ in column] == sorted((e for _, e, _ in column), reverse=True)
    assert np.abs([b for b, _, _ in column]).max() < 3.0


def test_gains_follow_the_exposures_that_were_not_locked(photos: Path) -> None:
    """kayak: frames 5 and 6 had half the light of frames 3 and 4 by their EXIF (1/800, 1/400 s).

    The camera's tone curve is not sRGB's, so a quarter of a stop is allowed.
    """
    orientation = oriented(photos / "kayak")
    gain = {f.file: float(np.log2(f.gain.mean())) for f in orientation.frames}
    dark = np.mean([gain["kayak_05.jpg"], gain["kayak_06.jpg"]])
    light = np.mean([gain["kayak_03.jpg"], gain["kayak_04.jpg"]])
    assert dark - light == pytest.approx(1.0, abs=0.25)


@pytest.mark.slow
def test_a_camera_that_travels_is_called_so(photos: Path) -> None:
    orientation = oriented(photos / "grid-brighton")
    assert len(orientation.frames) == 18
    (finding,) = [f for f in orientation.findings if f.kind == "parallax"]
    assert finding.says.startswith("Parallax")
    assert orientation.residual_px_rms < 5.0
    elevations = [bearing_elevation_roll(f.camera_from_world)[1] for f in orientation.frames]
    assert np.abs(elevations).max() < 60.0
