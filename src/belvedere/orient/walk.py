"""Pairs of frames visited so that every picture is decoded once and few are held at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Picture = TypeVar("Picture")
Result = TypeVar("Result")
Pair = tuple[int, int]


def walk_pairs(
    order: Sequence[int],
    pairs: Sequence[Pair],
    load: Callable[[int], Picture],
    work: Callable[[Pair, Picture, Picture], Result],
    threads: int = 2,
) -> Iterator[tuple[int, list[tuple[Pair, Result]]]]:
    """Yield after each frame of `order` the results of the pairs that it completed.

    Parameters
    ----------
    order
        Every frame in a pair, once; neighbours near each other keep the memory small.
    pairs
        Indices of frames.
    load
        Decodes a frame. Called once per frame, from a thread.
    work
        Called with each pair and its two pictures, from a thread.
    threads
        How many.
    """
    place = {frame: n for n, frame in enumerate(order)}
    completes: dict[int, list[Pair]] = {}
    last_use = dict(place)
    for i, j in pairs:
        later = i if place[i] > place[j] else j
        completes.setdefault(later, []).append((i, j))
        for frame in (i, j):
            last_use[frame] = max(last_use[frame], place[later])
    held: dict[int, Picture] = {}
    with ThreadPoolExecutor(threads) as pool:
        coming = [pool.submit(load, frame) for frame in order[:1]]
        for n, frame in enumerate(order):
            held[frame] = coming.pop().result()
            coming = [pool.submit(load, following) for following in order[n + 1 : n + 2]]
            due = completes.get(frame, [])
            tasks = [pool.submit(work, pair, held[pair[0]], held[pair[1]]) for pair in due]
            yield n, [(pair, task.result()) for pair, task in zip(due, tasks, strict=True)]
            for old in [f for f in held if last_use[f] <= n]:
                del held[old]
