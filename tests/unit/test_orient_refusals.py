"""What cannot be oriented is refused in one sentence that names the frames."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.foundation import OrientError, finish
from belvedere.orient import Pointing, orient
from belvedere.shoot import Frame
from belvedere.sphere import camera_from_world

Pixels = NDArray[np.uint8]
WIDTH, HEIGHT = 480, 360


class Pictures:
    """Pictures in memory as a FrameSource."""

    def __init__(self, pictures: dict[str, Pixels]) -> None:
        self.pictures = pictures

    def grey(self, file: str, shrink: int = 1) -> Pixels:
        return np.asarray(self.pictures[file][::shrink, ::shrink])

    def colour(self, file: str, shrink: int = 1) -> Pixels:
        return np.repeat(self.grey(file, shrink)[:, :, None], 3, axis=2)


def scene(seed: int) -> Pixels:
    """Blots of all sizes, 1400 × 360."""
    random = np.random.default_rng(seed)
    total = np.zeros((HEIGHT, 1400), np.float32)
    for octave in range(3, 9):
        blots = random.normal(size=(max(2, HEIGHT >> octave), max(2, 1400 >> octave)))
        total += cv2.resize(blots.astype(np.float32), (1400, HEIGHT), interpolation=cv2.INTER_CUBIC)
    total += cv2.GaussianBlur(random.normal(0, 3, total.shape).astype(np.float32), (0, 0), 1.5)
    return np.asarray(40 + (total - total.min()) / np.ptp(total) * 170, np.uint8)


def crop(picture: Pixels, left: int) -> Pixels:
    return np.ascontiguousarray(picture[:, left : left + WIDTH])


def frame(file: str, width: int = WIDTH) -> Frame:
    return Frame(file, "", 0, width, HEIGHT)


def test_one_frame_is_no_mosaic() -> None:
    with pytest.raises(OrientError, match=r"^1 frame cannot make a mosaic\. Give at least two"):
        finish(orient([frame("a.jpg")], Pictures({})))


def test_the_frame_of_another_size_is_named() -> None:
    frames = [frame("a.jpg"), frame("b.jpg"), frame("odd.jpg", 300)]
    with pytest.raises(OrientError, match=r"odd\.jpg is 300 × 360 px, .* 480 × 360 px"):
        finish(orient(frames, Pictures({})))


def test_frames_without_anything_in_common_are_named() -> None:
    pictures = {f"{n}.jpg": crop(scene(n), 0) for n in range(3)}
    with pytest.raises(OrientError, match="No two frames overlap"):
        finish(orient([frame(file) for file in pictures], Pictures(pictures)))


def test_two_groups_are_told_apart() -> None:
    pictures = {f"{n}{m}.jpg": crop(scene(n), 200 * m) for n in range(2) for m in range(3)}
    pictures["02b.jpg"] = crop(scene(0), 500)
    with pytest.raises(OrientError, match=r"none of the others: 10\.jpg, 11\.jpg, 12\.jpg"):
        finish(orient([frame(file) for file in sorted(pictures)], Pictures(pictures)))


def test_a_stranger_is_left_out_and_named() -> None:
    pictures = {f"{m}.jpg": crop(scene(0), 200 * m) for m in range(3)}
    pictures["stranger.jpg"] = crop(scene(5), 0)
    orientation = finish(orient([frame(file) for file in pictures], Pictures(pictures)))
    assert [f.file for f in orientation.frames] == ["0.jpg", "1.jpg", "2.jpg"]
    (finding,) = [f for f in orientation.findings if f.kind == "unconnected"]
    assert finding.file == "stranger.jpg"


def test_a_plan_the_pictures_contradict_gives_way_to_them() -> None:
    """A head that was told to turn 20° a frame and turned far less."""
    pictures = {f"{m}.jpg": crop(scene(0), 120 * m) for m in range(4)}
    frames = [frame(file) for file in pictures]
    pointings = [
        Pointing(f.file, camera_from_world(20.0 * m, 0.0), 0.1, 1, m + 1)
        for m, f in enumerate(frames)
    ]
    orientation = finish(orient(frames, Pictures(pictures), pointings, 900.0))
    assert "head" in [finding.kind for finding in orientation.findings]
    assert [(f.row, f.column) for f in orientation.frames] == [(1, n) for n in range(1, 5)]
    assert orientation.tie_points > 30


def test_two_frames_of_one_cloud_hang_on_the_head_alone() -> None:
    """They fit each other, but nothing holds the two to the rest: that is said of both."""
    town, cloud = scene(0), scene(1)
    pictures = {f"{m}.jpg": crop(town, 300 * m) for m in range(4)}
    pictures |= {f"cloud-{m}.jpg": crop(cloud, 300 * m) for m in range(2)}
    step = float(np.degrees(300 / 1800.0))
    at = [(step * m, 0.0) for m in range(4)] + [(step * m, 9.0) for m in range(2)]
    frames = [frame(file) for file in pictures]
    pointings = [
        Pointing(f.file, camera_from_world(*where), 0.1, 1 + (where[1] < 5.0), n)
        for n, (f, where) in enumerate(zip(frames, at, strict=True))
    ]
    orientation = finish(orient(frames, Pictures(pictures), pointings, 1800.0))
    alone = [f.file for f in orientation.findings if f.kind == "pointing"]
    assert alone == ["cloud-0.jpg", "cloud-1.jpg"]


def test_plain_sky_stays_where_the_head_pointed_it() -> None:
    pictures = {f"{m}.jpg": crop(scene(0), 320 * m) for m in range(3)}
    pictures["sky.jpg"] = np.full((HEIGHT, WIDTH), 180, np.uint8)
    step = float(np.degrees(320 / 1800.0))
    pointings = [
        Pointing(f"{m}.jpg", camera_from_world(step * m, 0.0), 0.1, 2, m + 1) for m in range(3)
    ]
    pointings.append(Pointing("sky.jpg", camera_from_world(step, 8.0), 0.1, 1, 2))
    frames = [frame(file) for file in pictures]
    orientation = finish(orient(frames, Pictures(pictures), pointings, 1800.0))
    assert [f.file for f in orientation.findings if f.kind == "pointing"] == ["sky.jpg"]
    sky, middle = (
        next(f for f in orientation.frames if f.file == file) for file in ("sky.jpg", "1.jpg")
    )
    apart = np.degrees(np.arccos(sky.camera_from_world[2] @ middle.camera_from_world[2]))
    assert apart == pytest.approx(8.0, abs=0.3)
