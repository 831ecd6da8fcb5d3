"""How likely it is that a frame goes missing, over the interval: the curve behind the advice."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from belvedere.foundation import share_words
from belvedere.sheet import svg
from belvedere.sheet.axes import degree_ticks
from belvedere.sheet.words import seconds
from belvedere.shoot import Briefing, RiskPoint

#: The risk that is thought small enough.
ACCEPTED = 0.001
_LOWEST, _HIGHEST = -6.0, 0.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 16.0, 30.0, 56.0


@dataclass(frozen=True, slots=True)
class _Axes:
    """Seconds across, powers of ten down."""

    first_s: float
    last_s: float
    width: float
    height: float

    def x(self, interval_s: float) -> float:
        return _LEFT + (interval_s - self.first_s) / (self.last_s - self.first_s) * self.width

    def y(self, probability: float) -> float:
        power = math.log10(probability)
        return _TOP + (_HIGHEST - power) / (_HIGHEST - _LOWEST) * self.height


def interval_curve(
    briefing: Briefing,
    width_pt: float = 460.0,
    height_pt: float = 280.0,
) -> str:
    """Probability that at least one frame goes missing against the interval, as an SVG document.

    The line is the closed form, the marks are simulated shoots. Where the number
    behind each mark is known, they carry their sampling error: one standard deviation of
    a binomial share. Simulations without a loss have no place on a logarithmic scale. The plan's
    interval and the recommended one are marked.
    """
    timing = briefing.timing
    shoots = timing.simulated_shoots
    span = _span(timing.curve, (timing.interval_s, timing.recommended_interval_s))
    axes = _Axes(*span, width_pt - _LEFT - _RIGHT, height_pt - _TOP - _BOTTOM)
    body = [
        *_scales(axes),
        *_accepted(axes),
        *_marked_intervals(briefing, axes),
        *_line(timing.curve, axes),
        *_simulated(timing.curve, axes, shoots),
        *_legend(timing.curve, shoots, height_pt),
    ]
    says = (
        f"A frame goes missing with {share_words(timing.missing_frame_probability)} probability "
        f"at an interval of {seconds(timing.interval_s)}"
    )
    return svg.picture(width_pt, height_pt, says, body)


def _span(curve: Sequence[RiskPoint], also: tuple[float, float]) -> tuple[float, float]:
    values = [*(point.interval_s for point in curve), *also]
    low, high = min(values), max(values)
    margin = 0.04 * (high - low) or 0.5
    return max(0.0, low - margin), high + margin


def _scales(axes: _Axes) -> Iterator[str]:
    bottom = _TOP + axes.height
    for power in range(int(_LOWEST), int(_HIGHEST) + 1):
        y = axes.y(10.0**power)
        yield svg.line(_LEFT, y, _LEFT + axes.width, y, width=0.25, ink="#bbb")
        words = {0: "certain", -1: "1 in 10", -2: "1 in 100"}.get(power, f"1 in {10**-power:,}")
        yield svg.text(_LEFT - 5.0, y + 2.6, words, 8.0, anchor="end")
    for value in degree_ticks(axes.first_s, axes.last_s, int(axes.width / 34.0)):
        x = axes.x(value)
        yield svg.line(x, bottom, x, bottom + 3.0, width=0.7)
        yield svg.text(x, bottom + 12.0, f"{value:.1f}".removesuffix(".0"), 8.0, anchor="middle")
    yield svg.line(_LEFT, bottom, _LEFT + axes.width, bottom, width=0.7)
    yield svg.line(_LEFT, _TOP, _LEFT, bottom, width=0.7)
    yield svg.text(
        _LEFT + axes.width, bottom + 23.0, "interval in seconds", 8.0, anchor="end", italic=True
    )
    yield svg.text(2.0, 11.0, "shoots that lose a frame", 8.0, italic=True)


def _accepted(axes: _Axes) -> Iterator[str]:
    y = axes.y(ACCEPTED)
    yield svg.line(_LEFT, y, _LEFT + axes.width, y, width=0.9, dash="5 3")
    yield svg.text(_LEFT + 4.0, y - 3.0, "0.1 %", 8.0, bold=True)


def _line(curve: Sequence[RiskPoint], axes: _Axes) -> Iterator[str]:
    """The closed form, until it leaves the picture below."""
    view = svg.box(_LEFT, _TOP - 1.0, axes.width, axes.height + 1.0)
    yield f'<clipPath id="curve-view">{svg.shape(view)}</clipPath><g clip-path="url(#curve-view)">'
    known = [point for point in curve if point.probability > 0.0]
    points = [(axes.x(p.interval_s), axes.y(p.probability)) for p in known]
    yield svg.stroke(svg.polyline(points), width=1.6)
    yield "</g>"


def _simulated(
    curve: Sequence[RiskPoint], axes: _Axes, simulated_shoots: int | None
) -> Iterator[str]:
    for point in curve:
        if point.simulated is None or point.simulated < 10.0**_LOWEST:
            continue
        x = axes.x(point.interval_s)
        low, high = _sampling_error(point.simulated, simulated_shoots)
        if high > low:
            top, bottom = axes.y(high), axes.y(low)
            yield svg.line(x, top, x, bottom, width=0.8)
            for end in (top, bottom):
                yield svg.line(x - 2.0, end, x + 2.0, end, width=0.8)
        yield (
            f'<circle cx="{svg.num(x)}" cy="{svg.num(axes.y(point.simulated))}" r="2.6" '
            'fill="#fff" stroke="#000" stroke-width="1"/>'
        )


def _sampling_error(found: float, shoots: int | None) -> tuple[float, float]:
    """One standard deviation of a binomial share around what was found."""
    if not shoots:
        return found, found
    deviation = math.sqrt(found * (1.0 - found) / shoots)
    return max(found - deviation, 10.0**_LOWEST), min(found + deviation, 1.0)


def _marked_intervals(briefing: Briefing, axes: _Axes) -> Iterator[str]:
    """The plan's interval (firm) and the recommended one (dashed), named at the top."""
    timing = briefing.timing
    same = abs(timing.interval_s - timing.recommended_interval_s) < 0.005
    yield from _upright(
        axes, timing.interval_s, f"this plan {seconds(timing.interval_s)}", "", 24.0
    )
    if not same:
        words = f"recommended {seconds(timing.recommended_interval_s)}"
        yield from _upright(axes, timing.recommended_interval_s, words, "3 2", 13.0)


def _upright(axes: _Axes, interval_s: float, words: str, dash: str, y: float) -> Iterator[str]:
    x = axes.x(interval_s)
    yield svg.line(x, y + 2.0, x, _TOP + axes.height, width=1.0, dash=dash)
    right = x + svg.text_width(words, 8.5) + 4.0 < _LEFT + axes.width
    yield svg.text(
        x + (3.0 if right else -3.0),
        y,
        words,
        8.5,
        anchor="start" if right else "end",
        bold=not dash,
        halo=True,
    )


def _legend(
    curve: Sequence[RiskPoint], simulated_shoots: int | None, height_pt: float
) -> Iterator[str]:
    y = height_pt - 12.0
    yield svg.line(_LEFT, y, _LEFT + 17.0, y, width=1.6)
    yield svg.text(_LEFT + 22.0, y + 2.6, "computed", 8.0)
    if any(point.simulated is not None for point in curve):
        yield (
            f'<circle cx="{svg.num(_LEFT + 84.0)}" cy="{svg.num(y)}" r="2.6" fill="#fff" '
            'stroke="#000" stroke-width="1"/>'
        )
        words = "simulated"
        if simulated_shoots:
            words += f": {simulated_shoots:,} shoots each, with the sampling error"
        yield svg.text(_LEFT + 92.0, y + 2.6, words, 8.0)
