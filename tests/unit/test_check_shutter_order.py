"""Frames in the order of the shutter, whatever their clocks and numbers say."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from itertools import permutations

import pytest

from belvedere.imagefiles.shutter_order import file_number, in_shutter_order
from belvedere.shoot import Frame

NOON = datetime(2031, 5, 17, 12, 0, 0)


def frame(file: str, second: float | None = None) -> Frame:
    taken_at = None if second is None else NOON + timedelta(seconds=second)
    return Frame(file, file, 1, 100, 75, taken_at)


def names(frames: list[Frame]) -> list[str]:
    return [f.file for f in frames]


def test_clock_comes_before_number() -> None:
    frames = [frame("PIC_0002.JPG", 0), frame("PIC_0001.JPG", 5)]
    assert names(in_shutter_order(frames)) == ["PIC_0002.JPG", "PIC_0001.JPG"]


def test_numbers_decide_within_a_second() -> None:
    frames = [frame(f"PIC_{n:04d}.JPG", 0) for n in (12, 9, 10, 11)]
    assert names(in_shutter_order(frames)) == [f"PIC_{n:04d}.JPG" for n in (9, 10, 11, 12)]


@pytest.mark.parametrize("clock", [True, False])
def test_numbers_go_on_after_9999(clock: bool) -> None:
    # JEITA CP-3461 (DCF): file numbers 0001 to 9999; read in a secondary source.
    numbers = [9997, 9998, 9999, 1, 2, 3]
    frames = [frame(f"PIC_{n:04d}.JPG", 0 if clock else None) for n in numbers]
    assert names(in_shutter_order(sorted(frames, key=lambda f: f.file))) == names(frames)


def test_numbers_far_from_the_turn_are_left_alone() -> None:
    frames = [frame(f"PIC_{n:04d}.JPG") for n in (18, 19, 20, 8000, 8001)]
    assert names(in_shutter_order(frames)) == names(frames)


def test_frame_without_a_time_follows_its_number() -> None:
    frames = [frame("PIC_0001.JPG", 0), frame("PIC_0002.JPG"), frame("PIC_0003.JPG", 6)]
    for shuffled in permutations(frames):
        assert names(in_shutter_order(shuffled)) == names(frames)


@pytest.mark.parametrize("back_s", [5.0, 13.0, 41.0, 3600.0])
@pytest.mark.parametrize("turn", [False, True])
def test_clock_set_back_during_the_shoot_does_not_shuffle_it(back_s: float, turn: bool) -> None:
    """Summer time, or the satellites' time taken over: common practice, no source."""
    times = [3.0 * n - (back_s if n >= 9 else 0.0) + (4.0 if turn and n >= 9 else 0.0)
             for n in range(20)]  # fmt: skip
    frames = [frame(f"PIC_{n:04d}.JPG", time) for n, time in enumerate(times, start=401)]
    assert names(in_shutter_order(list(reversed(frames)))) == names(frames)


@pytest.mark.parametrize(("a", "b"), [(4, 5), (4, 6), (4, 15), (0, 19), (18, 19)])
def test_two_names_swapped_are_put_right_by_the_clock(a: int, b: int) -> None:
    numbers = list(range(401, 421))
    numbers[a], numbers[b] = numbers[b], numbers[a]
    frames = [frame(f"PIC_{n:04d}.JPG", 3.0 * i) for i, n in enumerate(numbers)]
    assert names(in_shutter_order(sorted(frames, key=lambda f: f.file))) == names(frames)


@pytest.mark.parametrize("seed", range(20))
def test_shuffled_names_are_put_right_by_the_clock(seed: int) -> None:
    numbers = random.Random(seed).sample(range(401, 441), 40)
    frames = [frame(f"PIC_{n:04d}.JPG", 3.0 * i) for i, n in enumerate(numbers)]
    assert names(in_shutter_order(sorted(frames, key=lambda f: f.file))) == names(frames)


def test_first_frame_without_a_time_stays_first() -> None:
    frames = [frame("PIC_0001.JPG"), frame("PIC_0002.JPG", 3), frame("PIC_0003.JPG", 6)]
    assert names(in_shutter_order(list(reversed(frames)))) == names(frames)


def test_folders_go_on_in_their_order() -> None:
    frames = [frame("DCIM/100SALTM/PIC_0999.JPG"), frame("DCIM/101SALTM/PIC_0001.JPG")]
    assert names(in_shutter_order(list(reversed(frames)))) == names(frames)


@pytest.mark.parametrize(
    ("file", "number"),
    [
        ("DCIM/100SALTM/PIC_0412.JPG", 412),
        ("IMG20310517.jpg", 20310517),
        ("mole.jpg", None),
        ("PIC_0412 (copy).jpg", 412),
    ],
)
def test_file_number(file: str, number: int | None) -> None:
    assert file_number(file) == number
