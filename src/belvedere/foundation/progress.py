"""Progress of long work: steps yield it, the door that called them shows it."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Progress:
    """`done` of `total` `unit`s of one named step."""

    step: str
    done: int
    total: int
    unit: str
    note: str = ""


#: A step of the work: yields progress, returns its result.
Steps = Generator[Progress, None, T]


def finish(steps: Steps[T]) -> T:
    """Run `steps` to the end without showing anything and return the result."""
    while True:
        try:
            next(steps)
        except StopIteration as stop:
            result: T = stop.value
            return result
