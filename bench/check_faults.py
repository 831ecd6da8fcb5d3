"""Faults for the bench of the check: every kind that can be rehearsed, at plausible sizes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from belvedere.foundation import PlanError
from belvedere.rehearse import (
    Asleep,
    BatteryEmpty,
    Bumped,
    CardFull,
    ColourJump,
    Dust,
    ExposureJump,
    Fault,
    Flickering,
    FocusWrong,
    LostRow,
    Missing,
    Paused,
    PowerPulled,
    Rehearsal,
    Repeated,
    Restarted,
    Shaken,
    Slipped,
    Slipping,
    Soft,
    Stuck,
    TrialPictures,
    Truncated,
    WetLens,
    releases,
)
from belvedere.shoot import Plan

Place = tuple[int, int]
Draw = Callable[[Place, Plan, np.random.Generator], Fault]

#: One shoot in three has no fault; the others have one to four.
_WITHOUT, _MOST = 1.0 / 3.0, 4
#: What ends a sweep strikes in its last part: else the shoot would be little but missing cells.
_LATE_SHARE = 0.7
_TRIES = 200


def draw_faults(rehearsal: Rehearsal, rng: np.random.Generator) -> tuple[Fault, ...]:
    """None to four faults on different cells, which this rehearsal can have together."""
    count = 0 if rng.random() < _WITHOUT else int(rng.integers(1, _MOST + 1))
    faults: list[Fault] = []
    for _ in range(_TRIES):
        if len(faults) == count:
            break
        one = _draw(rehearsal.plan, rng)
        if _can_have(rehearsal, [*faults, one]):
            faults.append(one)
    return tuple(faults)


def _draw(plan: Plan, rng: np.random.Generator) -> Fault:
    names = list(_KINDS)
    weights = np.array([_KINDS[name][0] for name in names])
    name = names[int(rng.choice(len(names), p=weights / weights.sum()))]
    # What is to last from the first cell on would be no change at all.
    first = int(_LATE_SHARE * len(plan.cells)) if name in _LATE else 1
    cell = plan.cells[int(rng.integers(first, len(plan.cells)))]
    return _KINDS[name][1]((cell.row, cell.column), plan, rng)


def _can_have(rehearsal: Rehearsal, faults: list[Fault]) -> bool:
    cells = [fault.cell for fault in faults if hasattr(fault, "cell")]
    once = [type(fault) for fault in faults if not hasattr(fault, "cell")]
    if len(set(cells)) < len(cells) or len(set(once)) < len(once):
        return False
    if sum(isinstance(fault, CardFull | BatteryEmpty | PowerPulled) for fault in faults) > 1:
        return False
    try:
        releases(Rehearsal(rehearsal.plan, faults=tuple(faults)))
    except PlanError:
        return False
    return True


def _sign(rng: np.random.Generator) -> float:
    return 1.0 if rng.random() < 0.5 else -1.0


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _exposure(place: Place, plan: Plan, rng: np.random.Generator) -> Fault:
    size = _sign(rng) * float(rng.uniform(0.3, 1.2))
    return ExposureJump(place, round(size, 2), bool(rng.random() < 0.4), bool(rng.random() < 0.5))


def _colour(place: Place, plan: Plan, rng: np.random.Generator) -> Fault:
    warm = float(rng.uniform(1.18, 1.4)) ** _sign(rng)
    return ColourJump(place, round(warm, 3), round(1.0 / warm, 3), bool(rng.random() < 0.4))


def _shaken(place: Place, plan: Plan, rng: np.random.Generator) -> Fault:
    return Shaken(place, round(float(rng.uniform(3.0, 12.0)), 1), round(float(rng.uniform(0, 180))))


def _slipped(place: Place, plan: Plan, rng: np.random.Generator) -> Fault:
    return Slipped(place, round(_log_uniform(rng, 0.02, 0.5) * plan.vertical_fov_deg, 3))


def _bumped(place: Place, plan: Plan, rng: np.random.Generator) -> Fault:
    return Bumped(place, round(_log_uniform(rng, 0.02, 0.6) * plan.vertical_fov_deg, 3))


_LATE = frozenset({"card full", "battery empty", "power pulled"})
#: How often each kind is drawn, against the others, and how.
_KINDS: dict[str, tuple[float, Draw]] = {
    "missing": (3.0, lambda place, plan, rng: Missing(place)),
    "stuck": (1.0, lambda place, plan, rng: Stuck(place)),
    "soft": (3.0, lambda place, plan, rng: Soft(place, round(float(rng.uniform(0.9, 4.0)), 2))),
    "shaken": (3.0, _shaken),
    "exposure": (2.5, _exposure),
    "colour": (2.0, _colour),
    "truncated": (
        2.0,
        lambda place, plan, rng: Truncated(place, round(float(rng.uniform(0.02, 0.97)), 2)),
    ),
    "repeated": (1.5, lambda place, plan, rng: Repeated(place)),
    "tests": (1.5, lambda place, plan, rng: TrialPictures(int(rng.integers(1, 5)))),
    "lost row": (0.4, lambda place, plan, rng: LostRow(place[0])),
    "slipped": (1.0, _slipped),
    "slipping": (
        0.5,
        lambda place, plan, rng: Slipping(place, round(_log_uniform(rng, 0.003, 0.03), 4)),
    ),
    "bumped": (1.5, _bumped),
    "restart": (0.8, lambda place, plan, rng: Restarted(place)),
    "pause": (1.0, lambda place, plan, rng: Paused(place, round(_log_uniform(rng, 0.5, 20.0), 1))),
    "asleep": (0.8, lambda place, plan, rng: Asleep(place)),
    "card full": (0.5, lambda place, plan, rng: CardFull(place)),
    "battery empty": (0.4, lambda place, plan, rng: BatteryEmpty(place)),
    "power pulled": (
        0.7,
        lambda place, plan, rng: PowerPulled(place, round(float(rng.uniform(0.05, 0.95)), 2)),
    ),
    "autofocus": (
        1.5,
        lambda place, plan, rng: FocusWrong(place, round(_log_uniform(rng, 2.0, 10.0), 1)),
    ),
    "flicker": (
        0.6,
        lambda place, plan, rng: Flickering(
            place, round(float(rng.uniform(0.1, 0.5)), 2), bool(rng.random() < 0.4)
        ),
    ),
    "wet lens": (0.5, lambda place, plan, rng: WetLens(place, int(rng.integers(1, 5)))),
    "dust": (0.6, lambda place, plan, rng: Dust(int(rng.integers(4, 30)))),
}
