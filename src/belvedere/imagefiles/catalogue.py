"""Read a card: every picture file decoded once, described, hashed; nothing is written to it."""

from __future__ import annotations

import hashlib
import os
import threading
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray

from belvedere.foundation import CardError, Progress, Steps
from belvedere.imagefiles.exif import Statement, read_statement
from belvedere.imagefiles.folder import upright, without_companions
from belvedere.imagefiles.one_pass import Looker, decode_once
from belvedere.imagefiles.opening import MOST_PIXELS, UNREADABLE, opened
from belvedere.imagefiles.shutter_order import in_shutter_order
from belvedere.imagefiles.tints import thumbnail_bytes
from belvedere.shoot import Frame

Grey = NDArray[np.uint8]

SUFFIXES = frozenset({".jpg", ".jpeg", ".jpe", ".tif", ".tiff", ".heic", ".heif", ".png"})
#: Long side of the small picture that frames are placed by.
SMALL_LONG_SIDE_PX = 256
#: Decoding is bound by the processor, so every core decodes; each needs 60 MB at 12 MP.
_MOST_THREADS = 8
#: Frames waiting to be compared: more would only fill memory.
_MOST_JOBS = 4
#: Pillow is asked by one thread at a time: see `opened`.
_PILLOW = threading.Lock()

_ENDS_EARLY = "ends in the middle of the picture"
_NOT_A_PICTURE = "is not a picture"
_SPOILT = "holds picture data that is spoilt in places"
_UNDECODABLE = "cannot be decoded"


@dataclass(frozen=True, slots=True)
class Reading:
    """One file, read: the frame, and what later steps would otherwise decode it again for.

    `small` is the upright luma, each pixel the mean of `small_shrink` × `small_shrink`; empty
    (0, 0) where nothing could be decoded. `orientation` is the file's tag.
    """

    frame: Frame
    orientation: int
    small: Grey


@dataclass(frozen=True, slots=True)
class CardReading:
    """A card, read: `readings` in the order of the shutter."""

    root: Path
    readings: tuple[Reading, ...]

    @property
    def frames(self) -> tuple[Frame, ...]:
        """The frames in the order of the shutter."""
        return tuple(reading.frame for reading in self.readings)


@dataclass(frozen=True, slots=True)
class _Decoded:
    content_hash: str
    size_bytes: int
    width_px: int
    height_px: int
    small: Grey
    damage: str
    statement: Statement | None = None
    look: object = None


def read_card(root: Path) -> Steps[tuple[Frame, ...]]:
    """The frames of a card in the order of the shutter.

    Raises
    ------
    CardError
        The folder does not exist or holds no picture.
    """
    reading = yield from read_card_with_pictures(root)
    return reading.frames


def read_card_with_pictures(
    root: Path,
    known: Mapping[str, Reading] | None = None,
    only: Sequence[str] | None = None,
    looker: Looker | None = None,
) -> Steps[CardReading]:
    """Read a card, or `only` some of its files.

    A file whose content hash is in `known` is not decoded again. `looker` sees the pixels of all
    others, and what it wants done with them is done while the card is read on.

    Raises
    ------
    CardError
        The folder does not exist or holds no picture.
    """
    files = picture_files(root) if only is None else list(only)
    readings: list[Reading] = []
    waiting: deque[tuple[str, Future[_Decoded | Reading]]] = deque()
    jobs: deque[Future[None]] = deque()
    threads = processor_threads()
    with _pool(threads) as pool:
        ahead = iter(files)
        while len(readings) < len(files):
            while len(waiting) < 2 * threads and (file := next(ahead, None)) is not None:
                waiting.append((file, pool.submit(_decode, root / file, known or {}, looker)))
            file, future = waiting.popleft()
            decoded = future.result()
            readings.append(_described(root, file, decoded))
            job = _job(looker, readings[-1], decoded)
            if job is not None:
                jobs.append(pool.submit(job))
            while len(jobs) > _MOST_JOBS:
                jobs.popleft().result()
            yield Progress("reading the card", len(readings), len(files), "frames", file)
        for left in jobs:
            left.result()
    by_file = {reading.frame.file: reading for reading in readings}
    ordered = in_shutter_order([reading.frame for reading in readings])
    return CardReading(root, tuple(by_file[frame.file] for frame in ordered))


def processor_threads() -> int:
    """How many threads decode side by side: one for each core this process may use, 2 to 8."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return max(2, min(_MOST_THREADS, cores or 2))


@contextmanager
def _pool(threads: int) -> Iterator[ThreadPoolExecutor]:
    """Threads that drop what is not begun when the reading is broken off."""
    pool = ThreadPoolExecutor(threads)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _job(
    looker: Looker | None, reading: Reading, decoded: _Decoded | Reading
) -> Callable[[], None] | None:
    if looker is None:
        return None
    return looker.arrived(reading.frame, None if isinstance(decoded, Reading) else decoded.look)


def picture_files(root: Path) -> list[str]:
    """Picture files below `root` by their names, relative, with forward slashes, sorted.

    One for each frame: companions of a JPEG are left out. Hidden files and folders are not
    frames (some systems leave "._" shadows of every file).
    """
    if not root.is_dir():
        what = "is not a folder" if root.exists() else "does not exist"
        raise CardError(f"The card {root} {what}.", "Give the folder that holds the frames.")
    found: list[str] = []
    for folder, folders, names in os.walk(root):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        found += [
            (Path(folder) / name).relative_to(root).as_posix()
            for name in names
            if Path(name).suffix.lower() in SUFFIXES and not name.startswith(".")
        ]
    if not found:
        raise CardError(
            f"There is no picture file in {root}.",
            "Give the folder that holds the frames (JPEG, TIFF, HEIC or PNG).",
        )
    return sorted(without_companions(found))


def small_shrink(width_px: int, height_px: int) -> int:
    """How many pixels of a frame make one of its small picture, each way."""
    return max(1, round(max(width_px, height_px) / SMALL_LONG_SIDE_PX))


def require_one_size(frames: Iterable[Frame]) -> None:
    """Refuse frames of different sizes: they are not one sweep of one camera.

    Raises
    ------
    CardError
        Names the sizes, how many frames have each, and one file of the rarer size.
    """
    sized = [frame for frame in frames if frame.width_px and not frame.damage]
    sizes = Counter((frame.width_px, frame.height_px) for frame in sized)
    if len(sizes) < 2:
        return
    listed = sizes.most_common()
    said = " and ".join(
        f"{count} of {width} × {height} px" for (width, height), count in listed[:3]
    )
    if len(listed) > 3:
        said += f" and {sum(count for _, count in listed[3:])} of {len(listed) - 3} other sizes"
    odd = next(f.file for f in sized if (f.width_px, f.height_px) == listed[-1][0])
    raise CardError(
        f"The frames are not all of one size: {said} (such as {odd}).",
        "Keep the frames of one sweep in a folder of their own.",
    )


def _decode(
    path: Path, known: Mapping[str, Reading], looker: Looker | None = None
) -> _Decoded | Reading:
    """Read, hash and strictly decode one file; runs in a worker thread."""
    try:
        content = path.read_bytes()
    except OSError as error:
        return _Decoded("", 0, 0, 0, _nothing(), f"cannot be read: {error.strerror}")
    content_hash = hashlib.blake2b(content, digest_size=20).hexdigest()
    if content_hash in known:
        return known[content_hash]
    if content[:2] != b"\xff\xd8":
        return _Decoded(content_hash, len(content), 0, 0, _nothing(), "")
    if looker is not None:
        decoded = _looked_at(content, content_hash, looker)
        if decoded is not None:
            return decoded
    picture, damage = _decode_jpeg(content)
    height, width = picture.shape
    return _Decoded(content_hash, len(content), width, height, shrunk(picture), damage)


def _looked_at(content: bytes, content_hash: str, looker: Looker) -> _Decoded | None:
    """Decode once for the small picture and for the one who looks; None where that cannot be."""
    try:
        height, width, _, _ = simplejpeg.decode_jpeg_header(content, strict=False)
        if width * height > MOST_PIXELS:
            return None
        with _PILLOW, opened(content) as image:
            statement = read_statement(image)
            thumbnail = thumbnail_bytes(image)
    except UNREADABLE:
        return None
    stored = decode_once(content, looker.colour_shrink, thumbnail)
    if stored is None:
        return None
    seen = stored.upright(statement.orientation)
    look = looker.look(seen)
    small = shrunk(stored.luma, stored.half)
    return _Decoded(content_hash, len(content), width, height, small, "", statement, look)


def _decode_jpeg(content: bytes) -> tuple[Grey, str]:
    try:
        height, width, _, _ = simplejpeg.decode_jpeg_header(content, strict=False)
    except (ValueError, KeyError):  # KeyError: colour spaces it has no name for
        return _nothing(), _UNDECODABLE
    if width * height > MOST_PIXELS:
        return _nothing(), f"claims {width} × {height} pixels"
    try:
        return simplejpeg.decode_jpeg(content, colorspace="GRAY", strict=True)[..., 0], ""
    except ValueError as error:
        early = "remature end" in str(error)
    try:
        picture = simplejpeg.decode_jpeg(content, colorspace="GRAY", strict=False)[..., 0]
    except ValueError:
        return _nothing(), _ENDS_EARLY if early else _UNDECODABLE
    return picture, _ENDS_EARLY if early else _SPOILT


def _described(root: Path, file: str, decoded: _Decoded | Reading) -> Reading:
    """Add what the file states of itself, where that is not known yet."""
    if isinstance(decoded, Reading):
        return replace(decoded, frame=replace(decoded.frame, file=file))
    if decoded.statement is not None:
        return _reading(file, decoded, decoded.statement)
    statement = Statement()
    if decoded.size_bytes == 0:
        damage = decoded.damage or "is empty"
        return _reading(file, replace(decoded, damage=damage), statement)
    try:
        with _PILLOW, opened(root / file) as image:
            statement = read_statement(image)
            if not decoded.width_px:
                picture = np.asarray(image.convert("L"), dtype=np.uint8)
                height, width = picture.shape
                decoded = replace(
                    decoded, width_px=width, height_px=height, small=shrunk(picture), damage=""
                )
    except UNREADABLE as error:
        if not decoded.width_px:
            decoded = replace(decoded, damage=_why_unreadable(error, decoded.damage))
    return _reading(file, decoded, statement)


def _why_unreadable(error: BaseException, before: str) -> str:
    said = str(error)
    if "cannot identify" in said:
        return before or _NOT_A_PICTURE
    if "truncated" in said or "claims" in said:
        return _ENDS_EARLY if "truncated" in said else said
    return before or _UNDECODABLE


def _reading(file: str, decoded: _Decoded, statement: Statement) -> Reading:
    width, height = decoded.width_px, decoded.height_px
    if statement.orientation >= 5:
        width, height = height, width
    frame = Frame(
        file=file,
        content_hash=decoded.content_hash,
        size_bytes=decoded.size_bytes,
        width_px=width,
        height_px=height,
        taken_at=statement.taken_at,
        has_subsecond=statement.has_subsecond,
        settings=statement.settings,
        maker=statement.maker,
        model=statement.model,
        damage=decoded.damage,
    )
    small = upright(decoded.small, statement.orientation) if decoded.small.size else decoded.small
    return Reading(frame, statement.orientation, np.ascontiguousarray(small))


def shrunk(picture: Grey, half: Grey | None = None) -> Grey:
    """The small picture of a full one, each pixel the mean of a square; `half` saves a step."""
    height, width = picture.shape
    if not picture.size:
        return _nothing()
    shrink = small_shrink(width, height)
    rows, columns = height // shrink, width // shrink
    if not rows or not columns:
        return _nothing()
    whole = picture[: rows * shrink, : columns * shrink]
    # By steps of two the library takes its quick path.
    if half is not None and shrink % 2 == 0:
        shrink //= 2
        whole = half[: rows * shrink, : columns * shrink]
    while shrink % 2 == 0:
        shrink //= 2
        size = (columns * shrink, rows * shrink)
        whole = cv2.resize(whole, size, interpolation=cv2.INTER_AREA).astype(np.uint8, copy=False)
    small = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8)


def _nothing() -> Grey:
    return np.zeros((0, 0), dtype=np.uint8)
