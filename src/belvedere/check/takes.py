"""The frames of each cell and which of them is in charge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from belvedere.check.model import GRAVITY, Finding, State

#: Findings of these kinds stand on a cell; others are remarks.
STATES: tuple[State, ...] = GRAVITY


@dataclass(frozen=True, slots=True)
class Take:
    """One frame of a cell; `chosen` by the person as a retake."""

    file: str
    confidence: float
    chosen: bool = False


def gravest(findings: Sequence[Finding]) -> State:
    """The state that follows from findings on one frame."""
    kinds = {finding.kind for finding in findings}
    return next((state for state in GRAVITY if state in kinds), "good")


def in_charge_first(
    takes: Sequence[Take], findings: Mapping[str, Sequence[Finding]]
) -> tuple[Take, ...]:
    """`takes` (in the order they were taken) with the one in charge first, the rest latest first.

    The person's retake wins over what the sweep took, even if it is worse: the check says so.
    Only a retake that cannot be opened does not win. Among takes of one kind the last good one
    wins, or else the last of the least bad.
    """

    def rank(indexed: tuple[int, Take]) -> tuple[bool, int, int]:
        place, take = indexed
        state = gravest(findings.get(take.file, ()))
        wins = take.chosen and state != "corrupt"
        return (not wins, -GRAVITY.index(state), -place)

    return tuple(take for _, take in sorted(enumerate(takes), key=rank))
