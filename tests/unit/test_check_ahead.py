"""Neighbours compared while a card is read: shifts against where the frames were cut out."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps

from belvedere.check import Ahead, PairMemory, judge
from belvedere.check.judge_pairs import measure_pairs
from belvedere.foundation import finish
from belvedere.imagefiles import OnePass, read_card_with_pictures
from belvedere.imagefiles.one_pass import decode_once
from belvedere.measure import Overlap
from belvedere.shoot import Frame, Plan
from check_synthetic import plan_of, texture

ROWS, COLUMNS = 4, 6
WIDTH, HEIGHT = 480, 360
Place = tuple[int, int]


def places_of(plan: Plan, seed: int) -> list[Place]:
    """Left and top of each cell in a flat scene: the plan's, and a few pixels of head error."""
    rng = np.random.default_rng(seed)
    scale = plan.scale_px_per_deg
    left = min(cell.bearing_deg for cell in plan.cells)
    top = max(cell.elevation_deg for cell in plan.cells)
    return [
        (
            round((cell.bearing_deg - left) * scale) + 10 + int(rng.integers(-3, 4)),
            round((top - cell.elevation_deg) * scale) + 10 + int(rng.integers(-3, 4)),
        )
        for cell in plan.cells
    ]


def sweep(
    serpentine: bool, gone: set[int], before: int = 0, seed: int = 3
) -> tuple[Plan, dict[str, Place], list[tuple[Frame, OnePass]]]:
    """A flat scene swept: frames with noise, those `gone` missing, others `before` the sweep."""
    # A long lens: the scene is flat, and frames of it are moved, not turned.
    plan = plan_of(
        ROWS, COLUMNS, serpentine=serpentine, lens_mm=200.0, width_px=WIDTH, height_px=HEIGHT
    )
    places = places_of(plan, seed)
    scene = texture(seed, max(y for _, y in places) + HEIGHT + 9, max(places)[0] + WIDTH + 9)
    scene = cv2.GaussianBlur(scene, (0, 0), 0.8).astype(np.uint8)
    rng = np.random.default_rng([seed, 7])
    shown: list[tuple[Place | None, NDArray[np.uint8]]] = [
        (None, texture(900 + n, HEIGHT, WIDTH)) for n in range(before)
    ]
    shown += [
        ((x, y), scene[y : y + HEIGHT, x : x + WIDTH])
        for cell, (x, y) in enumerate(places)
        if cell not in gone
    ]
    known: dict[str, Place] = {}
    frames = []
    for number, (place, picture) in enumerate(shown):
        file = f"PIC_{number:04d}.JPG"
        noisy = np.clip(picture + rng.normal(0.0, 1.5, picture.shape), 0, 255).astype(np.uint8)
        half = cv2.resize(noisy, (WIDTH // 2, HEIGHT // 2), interpolation=cv2.INTER_AREA)
        colour = cv2.merge([noisy, noisy, noisy]).astype(np.uint8)
        if place is not None:
            known[file] = place
        frame = Frame(file, file, 1, WIDTH, HEIGHT, None, False)
        frames.append((frame, OnePass(noisy, half.astype(np.uint8), colour, 1)))
    return plan, known, frames


def read(plan: Plan, frames: list[tuple[Frame, OnePass]]) -> PairMemory:
    memory = PairMemory()
    ahead = Ahead(plan, memory, len(frames))
    for frame, picture in frames:
        job = ahead.arrived(frame, ahead.look(picture))
        if job is not None:
            job()
    return memory


def sides(places: dict[str, Place]) -> set[tuple[str, str]]:
    """Pairs of frames that share most of a side."""
    files = sorted(places)
    return {
        (a, b)
        for k, a in enumerate(files)
        for b in files[k + 1 :]
        for dx, dy in [np.abs(np.subtract(places[a], places[b]))]
        if (dx < 0.2 * WIDTH and dy < 0.85 * HEIGHT) or (dy < 0.2 * HEIGHT and dx < 0.85 * WIDTH)
    }


@pytest.mark.parametrize("serpentine", [False, True])
@pytest.mark.parametrize(
    "gone",
    [set(), {8}, {15}, {20}, {2, 3}, {7, 8}, {3}, {3, 15}],
    ids=lambda gone: str(sorted(gone)),
)
def test_sides_are_compared_where_the_frames_lie(serpentine: bool, gone: set[int]) -> None:
    # Swept to and fro, a line that begins below a gap fits to what came after the gap, and only the
    # frames before it tell otherwise: that part is left until all frames are placed.
    least_share = 0.8 if serpentine and gone & {2, 3, 15} else 1.0
    plan, places, frames = sweep(serpentine, gone)
    memory = read(plan, frames)
    wanted = sides(places)
    assert len(wanted) >= 25
    measured = wanted & set(memory.pairs)
    lost = []
    for a, b in measured:
        notes = memory.pairs[a, b]
        if not notes.registered:
            lost.append((a, b))
            continue
        # Where b's centre lies from a's: the difference of the places they were cut out at. Phase
        # correlation of noisy patches errs by some tenths of a pixel (see the reference tests).
        assert notes.shift_px == pytest.approx(np.subtract(places[b], places[a]), abs=0.5)
    # One overlap of so small frames may not be found.
    assert len(measured) - len(lost) >= least_share * len(wanted) - 1


def test_trial_pictures_before_the_sweep_put_it_out_of_step_for_a_line_at_most() -> None:
    plan, places, frames = sweep(False, set(), before=2)
    memory = read(plan, frames)
    wanted = sides(places)
    registered = {pair for pair, notes in memory.pairs.items() if notes.registered}
    assert len(wanted & registered) >= 0.8 * len(wanted)


def test_what_was_measured_ahead_is_judged_without_opening_a_file() -> None:
    plan, places, frames = sweep(False, set())
    memory = read(plan, frames)
    moved = {pair: np.eye(3) for pair in sides(places)}
    for (a, b), b_from_a in moved.items():
        b_from_a[:2, 2] = np.subtract(places[a], places[b])
    overlaps = [Overlap(a, b, b_from_a, 1.0) for (a, b), b_from_a in sorted(moved.items())]
    judged = [frame for frame, _ in frames]
    evidence = finish(measure_pairs(judged, overlaps, Shut(), memory))
    assert len(evidence.pairs) == len(overlaps)
    assert evidence.undecodable == {}
    judgement = finish(judge(judged, overlaps, Shut(), memory=memory))
    assert judgement.findings == ()
    assert judgement.unjudged == {}


def test_a_pair_that_lies_elsewhere_is_not_taken_from_memory() -> None:
    plan, places, frames = sweep(False, set())
    memory = read(plan, frames)
    (a, b), *_ = sorted(sides(places))
    by_file = {frame.file: frame for frame, _ in frames}
    b_from_a = np.eye(3)
    b_from_a[:2, 2] = np.subtract(places[a], places[b])
    assert memory.pair(by_file[a], by_file[b], b_from_a) is memory.pairs[a, b]
    b_from_a[0, 2] += 0.05 * WIDTH
    assert memory.pair(by_file[a], by_file[b], b_from_a) is None


class Shut:
    """A source that must not be asked."""

    def colour(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        raise AssertionError(file)

    def grey(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        raise AssertionError(file)


def jpeg(width: int, height: int, **options: object) -> tuple[bytes, Image.Image]:
    """A coloured picture as Pillow writes it, and as Pillow reads it again."""
    grey = texture(5, height, width).astype(np.float32)
    across = np.linspace(0.7, 1.2, width, dtype=np.float32)
    picture = np.clip(np.stack([grey * across, grey, grey / across], axis=-1), 0, 255)
    kept = io.BytesIO()
    Image.fromarray(picture.astype(np.uint8)).save(kept, "JPEG", **options)  # type: ignore[arg-type]
    return kept.getvalue(), Image.open(io.BytesIO(kept.getvalue()))


@pytest.mark.parametrize("subsampling", [0, 1, 2])
@pytest.mark.parametrize("shrink", [1, 2, 4, 8])
def test_one_decoding_gives_what_pillow_gives(subsampling: int, shrink: int) -> None:
    content, reference = jpeg(203, 149, quality=92, subsampling=subsampling)
    found = decode_once(content, lambda _width, _height: shrink)
    assert found is not None
    # Pillow decodes luma alone when asked for it. A rounded colour may stray by a level.
    luma = Image.open(io.BytesIO(content))
    luma.draft("L", None)
    off = found.luma.astype(int) - np.asarray(luma.convert("L"), dtype=int)
    inside = (np.asarray(reference) > 2).all(axis=2) & (np.asarray(reference) < 253).all(axis=2)
    assert np.abs(off[inside]).max() <= 1
    small = np.asarray(reference.reduce(shrink), dtype=float)
    assert found.colour.shape == (149 // shrink, 203 // shrink, 3)
    # Not every line goes into the small picture, so single pixels differ; the picture does not.
    same = small[: found.colour.shape[0], : found.colour.shape[1]]
    assert np.abs(found.colour - same).mean() < 6.0
    assert found.colour.mean(axis=(0, 1)) == pytest.approx(same.mean(axis=(0, 1)), abs=1.0)


def thumbnail_of(picture: Image.Image) -> bytes:
    kept = io.BytesIO()
    # Cameras fill up to 160 × 120 with black bars (CIPA DC-009, from memory).
    ImageOps.pad(picture, (160, 120), color="black").save(kept, "JPEG", quality=85)
    return kept.getvalue()


@pytest.mark.parametrize("shrink", [1, 2, 4, 8])
def test_a_thumbnail_that_shows_the_same_gives_the_tints(shrink: int) -> None:
    content, reference = jpeg(960, 640, quality=92)
    found = decode_once(content, lambda _width, _height: shrink, thumbnail_of(reference))
    assert found is not None
    assert found.tinted
    luma = Image.open(io.BytesIO(content))
    luma.draft("L", None)
    assert np.array_equal(found.luma, np.asarray(luma.convert("L")))
    small = np.asarray(reference.reduce(2 * shrink), dtype=float)
    assert found.shrink == 2 * shrink
    assert found.colour.shape == small.shape
    # A level of a thumbnail's chroma is about as exact as it is written.
    assert found.colour.mean(axis=(0, 1)) == pytest.approx(small.mean(axis=(0, 1)), abs=1.5)
    tenth = small.shape[1] // 10
    for part in (slice(tenth), slice(-tenth, None)):
        mean = small[:, part].mean(axis=(0, 1))
        assert found.colour[:, part].mean(axis=(0, 1)) == pytest.approx(mean, abs=3.0)


@pytest.mark.parametrize("thumbnail", ["another", "brighter", "damaged"])
def test_a_thumbnail_that_shows_something_else_is_not_believed(thumbnail: str) -> None:
    content, reference = jpeg(960, 640, quality=92)
    other = ImageOps.mirror(reference)
    if thumbnail == "brighter":
        other = reference.point(lambda level: min(255, level + 25))
    wrong = b"\xff\xd8\xff" if thumbnail == "damaged" else thumbnail_of(other)
    found = decode_once(content, lambda _width, _height: 2, wrong)
    plain = decode_once(content, lambda _width, _height: 2)
    assert found is not None
    assert plain is not None
    assert not found.tinted
    assert np.array_equal(found.colour, plain.colour)


def test_thumbnails_that_differ_send_for_the_frames_own_colours() -> None:
    plan, places, frames = sweep(False, set())
    first, second = (frame for frame, _ in frames[:2])
    memory = PairMemory()
    ahead = Ahead(plan, memory, 2)
    for (frame, picture), blue in zip(frames[:2], (1.0, 0.8), strict=True):
        tints = np.clip(picture.colour * np.array([1.0, 1.0, blue]), 0, 255).astype(np.uint8)
        look = ahead.look(replace(picture, colour=tints, tinted=True))
        job = ahead.arrived(frame, look)
        if job is not None:
            job()
    by_thumbnails = memory.pairs[first.file, second.file]
    assert by_thumbnails.tinted
    assert np.median(by_thumbnails.tone.tint, axis=0)[1] < -0.2
    b_from_a = np.eye(3)
    b_from_a[:2, 2] = np.subtract(places[first.file], places[second.file])
    for frame in (first, second):
        memory.keep_edges(frame, np.nan)
    asked = Shown({frame.file: picture.colour for frame, picture in frames[:2]})
    overlap = Overlap(first.file, second.file, b_from_a, 1.0)
    evidence = finish(measure_pairs([first, second], [overlap], asked, memory))
    (pair,) = evidence.pairs
    # The frames themselves are grey.
    assert np.median(pair.tone.tint, axis=0) == pytest.approx([0.0, 0.0], abs=1e-3)
    assert asked.files == [first.file, second.file]
    assert not memory.pairs[first.file, second.file].tinted


class Shown:
    """Frames' colours, and which were asked for."""

    def __init__(self, colours: dict[str, NDArray[np.uint8]]) -> None:
        self._colours = colours
        self.files: list[str] = []

    def colour(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        assert shrink == 1
        self.files.append(file)
        return self._colours[file]

    def grey(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        raise AssertionError(file)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_whoever_looks_sees_frames_upright(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[274] = orientation
    content, stored = jpeg(320, 240, quality=95, exif=exif.tobytes())
    (tmp_path / "PIC_0001.JPG").write_bytes(content)
    looker = Onlooker()
    (reading,) = finish(read_card_with_pictures(tmp_path, looker=looker)).readings
    (seen,) = looker.seen
    upright = ImageOps.exif_transpose(stored).convert("L")
    assert (reading.frame.width_px, reading.frame.height_px) == upright.size
    assert np.abs(seen.luma.astype(int) - np.asarray(upright, dtype=int)).mean() < 1.0
    half = np.asarray(upright.reduce(2), dtype=int)
    assert np.abs(seen.half.astype(int) - half).mean() < 1.5
    assert seen.colour.shape[:2] == (upright.height // 2, upright.width // 2)


def test_damaged_files_are_not_looked_at(tmp_path: Path) -> None:
    content, _ = jpeg(640, 480, quality=92)
    (tmp_path / "PIC_0001.JPG").write_bytes(content[: len(content) // 2])
    looker = Onlooker()
    (reading,) = finish(read_card_with_pictures(tmp_path, looker=looker)).readings
    assert reading.frame.damage == "ends in the middle of the picture"
    assert looker.seen == []
    assert looker.arrivals == 1


class Onlooker:
    """Keeps what it is shown."""

    def __init__(self) -> None:
        self.seen: list[OnePass] = []
        self.arrivals = 0

    def colour_shrink(self, width_px: int, height_px: int) -> int:
        return 2

    def look(self, picture: OnePass) -> OnePass:
        self.seen.append(picture)
        return picture

    def arrived(self, frame: Frame, look: object) -> Callable[[], None] | None:
        self.arrivals += 1
        return None
