"""Progress, errors and angles: what every room speaks."""

from __future__ import annotations

import inspect

import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.foundation import (
    EXIT_CODES,
    BelvedereError,
    Progress,
    Steps,
    errors,
    finish,
    wrap_180,
    wrap_360,
)


def test_finish_returns_what_the_steps_return() -> None:
    def work() -> Steps[str]:
        yield Progress("reading", 1, 2, "frames")
        yield Progress("reading", 2, 2, "frames")
        return "read"

    assert finish(work()) == "read"


def test_every_error_has_an_exit_code() -> None:
    branches = {
        kind
        for _, kind in inspect.getmembers(errors, inspect.isclass)
        if issubclass(kind, BelvedereError)
    }
    assert branches == set(EXIT_CODES)
    assert set(EXIT_CODES.values()) == {2}


def test_an_error_says_what_and_what_next() -> None:
    error = BelvedereError("Row 7 needs +62.0°; this head stops at +55.0°.", "Leave row 7 out.")
    assert str(error) == "Row 7 needs +62.0°; this head stops at +55.0°. Leave row 7 out."
    assert str(BelvedereError("Only this.")) == "Only this."


@given(st.floats(-1e4, 1e4))
def test_wrapping_keeps_the_direction(angle_deg: float) -> None:
    for wrapped, low in ((wrap_180(angle_deg), -180.0), (wrap_360(angle_deg), 0.0)):
        assert low <= wrapped <= low + 360.0
        turns = (wrapped - angle_deg) / 360.0
        assert turns == pytest.approx(round(turns), abs=1e-9)
