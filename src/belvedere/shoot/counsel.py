"""The planner's advice, the gravest first: what will not work is said before all else."""

from __future__ import annotations

from dataclasses import replace

from belvedere.shoot.advice_day import day_advice
from belvedere.shoot.advice_grid import grid_advice
from belvedere.shoot.advice_picture import picture_advice
from belvedere.shoot.briefing import Briefing

_GRAVITY = {"stop": 0, "warn": 1, "note": 2}


def counsel(draft: Briefing) -> Briefing:
    """The briefing with its advice."""
    advice = [
        *picture_advice(draft),
        *day_advice(draft),
        *grid_advice(draft.plan, draft.tripod_rows),
    ]
    return replace(draft, advice=tuple(sorted(advice, key=lambda said: _GRAVITY[said.severity])))
