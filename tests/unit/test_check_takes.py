"""Which of a cell's frames is in charge."""

from __future__ import annotations

import pytest

from belvedere.check import Finding
from belvedere.check.takes import Take, gravest, in_charge_first


def first(takes: list[Take], **states: str) -> str:
    findings = {file: [Finding(kind, "so it is", file)] for file, kind in states.items()}
    return in_charge_first(takes, findings)[0].file


A, B, C = (Take(name, 1.0) for name in "abc")
RETAKE = Take("r", 1.0, chosen=True)
AGAIN = Take("s", 1.0, chosen=True)


def test_last_good_take_wins() -> None:
    assert first([A, B, C]) == "c"
    assert first([A, B, C], c="soft") == "b"
    assert first([A, B, C], c="soft", b="corrupt") == "a"


def test_least_bad_take_wins_where_none_is_good() -> None:
    assert first([A, B], a="colour", b="corrupt") == "a"
    assert first([A, B], a="soft", b="soft") == "b"


def test_the_persons_retake_wins_even_if_it_is_worse() -> None:
    assert first([A, RETAKE]) == "r"
    assert first([A, RETAKE], r="soft") == "r"


def test_a_retake_that_cannot_be_opened_does_not_win() -> None:
    assert first([A, RETAKE], r="corrupt") == "a"


def test_among_retakes_the_last_good_one_wins() -> None:
    assert first([A, RETAKE, AGAIN]) == "s"
    assert first([A, RETAKE, AGAIN], s="shaken") == "r"


@pytest.mark.parametrize(
    ("kinds", "state"),
    [((), "good"), (("unjudged",), "good"), (("colour", "soft"), "soft"),
     (("soft", "corrupt"), "corrupt")],
)  # fmt: skip
def test_gravest_finding_is_the_state(kinds: tuple[str, ...], state: str) -> None:
    assert gravest([Finding(kind, "so it is") for kind in kinds]) == state
