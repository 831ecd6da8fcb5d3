"""The limits of the check: the page tells what the code does, and no judge hides one of its own."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from belvedere.check import thresholds

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/check.md").read_text("utf-8")
LIMITS = {name: value for name, value in vars(thresholds).items() if name.isupper()}
TABLE = dict(re.findall(r"^\| `([A-Z0-9_]+)` \| (\S+) \|", PAGE, re.M))


@pytest.mark.parametrize("name", sorted(LIMITS))
def test_the_page_has_each_limit_with_its_value(name: str) -> None:
    assert name in TABLE, "add it to the tables under Limits in docs/check.md"
    assert float(TABLE[name]) == LIMITS[name]


def test_the_page_has_no_limit_that_is_gone() -> None:
    assert set(TABLE) <= set(LIMITS)


def test_each_limit_has_a_unit_and_a_reason() -> None:
    source = Path(thresholds.__file__).read_text("utf-8")
    told = re.findall(r"^#: ([^:]+): (.+(?:\n#: .+)*)\n([A-Z0-9_]+): Final = ", source, re.M)
    assert {name for _, _, name in told} == set(LIMITS)
