"""Files of real cameras, and files broken on purpose: read or refused, never a crash or a warning.

Sources: ianare/exif-samples, drewnoakes/metadata-extractor-images, and the corpora of go-fuzz,
libjpeg-turbo and afl, as noted beside the files.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from belvedere.foundation import finish
from belvedere.imagefiles import read_card
from belvedere.imagefiles.catalogue import _decode, _described

pytestmark = pytest.mark.photos


@pytest.mark.parametrize("folder", ["exif-samples", "exif-makers", "grid-brighton", "bad-frames"])
def test_whole_files_are_read_whole(photos: Path, folder: str) -> None:
    frames = finish(read_card(photos / folder))
    assert len(frames) > 2
    assert [f.file for f in frames if f.damage or not f.width_px] == []


def test_broken_files_are_frames_with_damage_or_pictures(
    photos: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    root = photos / "broken"
    files = [p for p in sorted(root.rglob("*")) if p.is_file() and p.suffix != ".txt"]
    assert len(files) > 500
    for path in files:
        name = path.relative_to(root).as_posix()
        frame = _described(root, name, _decode(path, {})).frame
        assert frame.damage or frame.width_px > 0, name
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("folder", "fastest_s", "slowest_s"),
    [
        # As the notes beside the photographs state them (LICENCES.md).
        ("petra", 1 / 320, 1 / 250),
        ("kayak", 1 / 800, 1 / 400),
        ("grid-brighton", 1 / 548, 1 / 279),
    ],
)
def test_exposure_times_of_real_sets(
    photos: Path, folder: str, fastest_s: float, slowest_s: float
) -> None:
    times = [f.settings.exposure_time_s or 0.0 for f in finish(read_card(photos / folder))]
    assert min(times) == pytest.approx(fastest_s, rel=0.01)
    assert max(times) == pytest.approx(slowest_s, rel=0.01)


def test_real_grid_in_the_order_it_was_flown(photos: Path) -> None:
    frames = finish(read_card(photos / "grid-brighton"))
    assert [f.file for f in frames] == [f"DJI_{n:04d}.JPG" for n in range(18, 36)]
    gaps = [
        (b.taken_at - a.taken_at).total_seconds()
        for a, b in pairwise(frames)
        if a.taken_at and b.taken_at
    ]
    assert len(gaps) == 17
    assert 7.0 <= min(gaps) <= max(gaps) <= 9.0  # "7 to 9 s apart"
