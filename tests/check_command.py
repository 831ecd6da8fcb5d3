"""The command line of the check as a person runs it, and a small shoot to run it on."""

from __future__ import annotations

from dataclasses import dataclass
from unittest import mock

import pytest

from belvedere.cli import main

SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = 960
image_height_px = 720
[lens]
focal_length_mm = 40.0
[grid]
left_deg = -16.0
right_deg = 16.0
top_deg = 10.0
bottom_deg = -10.0
overlap = 0.30
rows = 3
columns = 4
[sweep]
interval_s = 3.0
"""


@dataclass(frozen=True)
class Done:
    code: int
    out: str
    err: str


def run(capsys: pytest.CaptureFixture[str], *words: object) -> Done:
    """The command line in this process; `main` ends by leaving it."""
    arguments = ["belvedere", *(str(word) for word in words)]
    with mock.patch("sys.argv", arguments), pytest.raises(SystemExit) as left:
        main()
    said = capsys.readouterr()
    code = left.value.code
    return Done(code if isinstance(code, int) else 0, said.out, said.err)
