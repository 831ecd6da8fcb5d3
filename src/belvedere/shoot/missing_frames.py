"""The probability that at least one frame of a shoot goes missing, as a function of the interval.

The head releases at fixed times and never asks. A release that comes while the camera is busy is
not obeyed, and its frame never exists.

The model. After a release that was obeyed the camera is busy for c = fixed + P seconds: self-timer,
shutter lag, exposure, dark frame and review are fixed, the processing P is log-normal. Then the
file is ready to be written, which takes W seconds: the size is log-normal, the card's rate fixed,
and with a small probability the card stalls in between. A release is obeyed if the camera is idle
and no more than `buffer_s` seconds of writing are still to be done: 0 for a camera that writes
each frame before it takes the next.

*Without a buffer* a frame that was obeyed delays only the next release. With frames independent of
each other, the shoot is complete with the product of P(c + W <= gap) over all gaps: closed form
but for one quadrature. Frames whose neighbours are alike go missing in company, so shoots in which
any goes missing are rarer than that: for sizes that are jointly normal in their logarithm with
correlations of 0 or more, the product is a lower bound (D. Slepian, "The one-sided barrier problem
for Gaussian noise", Bell System Technical Journal 41, 1962; from memory). Independence is the
cautious side here.

*With a buffer* it is not: a row of detailed frames fills the buffer one by one. So the size is
modelled as scene times frame: log size = mean + spread (sqrt(share) L + sqrt(1 - share) E), with E
independent and L a stationary autoregressive process along the sweep, whose correlation falls by
`scene_memory` with each frame. The unwritten work U follows Lindley's recursion (D. V. Lindley,
"The theory of queues with a single server", 1952; from memory):

    U' = max(0, max(0, U - c) + W - (gap - c)), lost where c > gap or U' > buffer.

Its distribution is carried from release to release on a lattice over [0, buffer] for each level of
L; the integral over L is a trapezoid rule, which for normal densities is very exact. The lattice
splits each mass between its two neighbours so that the mean stays exact; this errs on the cautious
side by a little.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

FloatArray = NDArray[np.float64]

#: Levels of the scene, in its standard deviations: the detailed ones count. The step is in those of
#: what changes from frame to frame.
_LOWEST_LEVEL, _HIGHEST_LEVEL, _LEVEL_STEP, _WIDEST_LEVEL_STEP = -3.0, 4.6, 1.4, 0.5
#: Lattice cells of unwritten work: for each frame of the buffer, at least, at most.
_CELLS_PER_FRAME, _FEWEST_CELLS, _MOST_CELLS = 4, 32, 80
#: The recursion has settled when the risk per frame changes by less than this share.
_SETTLED = 1e-4
#: Gauss-Legendre nodes on [-1, 1] for the processing time.
_ROOTS, _ROOT_WEIGHTS = np.polynomial.legendre.leggauss(24)


@dataclass(frozen=True, slots=True)
class BusyTimes:
    """How long the camera is busy with one frame, and what it can put off.

    Attributes
    ----------
    fixed_s
        Self-timer, shutter lag, exposure, dark frame and review.
    processing_s, write_s
        Means of the processing and of the writing, the latter without stalls.
    processing_spread, write_spread
        Standard deviations of their logarithms; 0 for a constant.
    stall_probability, stall_s
        Chance per frame that the card pauses, and for how long.
    buffer_s
        Seconds of writing that may be undone when the next release is obeyed.
    scene_share
        Share of the variance of the logarithm of size that neighbours have in common.
    scene_memory
        Correlation of that common part from one frame of the sweep to the next.
    """

    fixed_s: float
    processing_s: float = 0.0
    processing_spread: float = 0.0
    write_s: float = 0.0
    write_spread: float = 0.0
    stall_probability: float = 0.0
    stall_s: float = 0.0
    buffer_s: float = 0.0
    scene_share: float = 0.0
    scene_memory: float = 0.0


def missing_frame_probability(busy: BusyTimes, gaps_s: ArrayLike) -> float:
    """Probability that at least one release of a shoot is not obeyed.

    Parameters
    ----------
    busy
        The camera. Without a buffer its `scene_share` plays no part: frames count as independent.
    gaps_s
        Seconds from each release to the next, shape (frames - 1,); empty for a single frame. With
        a buffer each counts as the shortest of them: the cautious side.
    """
    gaps = np.asarray(gaps_s, dtype=np.float64)
    if gaps.size == 0:
        return 0.0
    if busy.buffer_s > 0.0:
        return _with_buffer(busy, float(gaps.min()), gaps.size)
    values, counts = np.unique(np.round(gaps, 6), return_counts=True)
    risks = busy_longer_than(busy, values)
    if (risks >= 1.0).any():
        return 1.0
    return max(0.0, float(-np.expm1((counts * np.log1p(-risks)).sum())))


def busy_longer_than(busy: BusyTimes, gaps_s: ArrayLike) -> FloatArray:
    """Probability that exposing, processing and writing one frame take longer than each gap."""
    left = np.asarray(gaps_s, dtype=np.float64) - busy.fixed_s
    stalled = busy.stall_probability
    risk = (1.0 - stalled) * _sum_exceeds(busy, left)
    if stalled > 0.0:
        risk = risk + stalled * _sum_exceeds(busy, left - busy.stall_s)
    return np.clip(risk, 0.0, 1.0)


def _sum_exceeds(busy: BusyTimes, limit_s: FloatArray) -> FloatArray:
    """P(processing + write > limit): exact in the wider of the two, quadrature in the other."""
    parts = [(busy.processing_s, busy.processing_spread), (busy.write_s, busy.write_spread)]
    (narrow_mean, narrow_spread), wide = sorted(parts, key=lambda part: part[0] * part[1])
    # The integrand is analytic and dies with the normal density: the trapezoid rule converges
    # faster than any power of the step.
    z = np.linspace(-9.0, 9.0, 361) if narrow_mean * narrow_spread > 0.0 else np.zeros(1)
    weights = np.exp(-0.5 * z**2)
    nodes = narrow_mean * np.exp(narrow_spread * z - 0.5 * narrow_spread**2)
    exceeds = _below(limit_s[..., None] - nodes, *wide, upper=True)
    result: FloatArray = exceeds @ (weights / weights.sum())
    return result


def _below(x: FloatArray, mean: float, spread: float, *, upper: bool = False) -> FloatArray:
    """P(X <= x) of a log-normal X, or P(X > x) for `upper`; constants have a spread of 0."""
    if mean * spread == 0.0:
        met = x >= mean - 1e-9
        return np.where(met != upper, 1.0, 0.0)
    z = _standard(x, mean, spread)
    result: FloatArray = ndtr(-z if upper else z)
    return result


def _standard(x: FloatArray, mean: float, spread: float) -> FloatArray:
    safe = np.maximum(x, 1e-300)
    result: FloatArray = (np.log(safe / mean) + 0.5 * spread**2) / spread
    return result


def _summed_below(x: FloatArray, mean: float, spread: float) -> FloatArray:
    """The integral of P(X <= t) over t up to x, which is E[max(0, x - X)]."""
    if mean * spread == 0.0:
        return np.maximum(0.0, x - mean)
    z = _standard(x, mean, spread)
    # The mean's own share below x: a log-normal weighted by its value is one shifted by spread.
    return np.maximum(0.0, x * ndtr(z) - mean * ndtr(z - spread))


def _with_buffer(busy: BusyTimes, gap_s: float, releases: int) -> float:
    """The recursion over `releases` further releases, ended early where it has settled."""
    means, chain, state_of_level = _levels(busy)
    nodes = _busy_nodes(busy, gap_s)
    kernels = np.stack([_kernel(busy, gap_s, mean, nodes) for mean in means])
    state = np.zeros((len(means), kernels.shape[1]))
    state[:, 0] = state_of_level
    log_complete, risk = 0.0, 0.0
    for done in range(1, releases + 1):
        moved = chain.T @ np.matmul(state[:, None, :], kernels)[:, 0, :]
        obeyed = float(moved.sum())
        if obeyed <= 1e-12:
            return 1.0
        log_complete += math.log(min(1.0, obeyed))
        moved /= obeyed
        previous, risk = risk, 1.0 - obeyed
        calm = float(np.abs(moved - state).sum()) < _SETTLED
        state = moved
        if calm and abs(risk - previous) <= _SETTLED * risk + 1e-15:
            log_complete += (releases - done) * math.log(min(1.0, obeyed))
            break
    return max(0.0, -math.expm1(log_complete))


def _levels(busy: BusyTimes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean write time at each level of the scene, the chain between levels, their frequencies."""
    common = busy.write_spread * math.sqrt(busy.scene_share)
    if common == 0.0:
        return np.array([busy.write_s]), np.ones((1, 1)), np.ones(1)
    fresh = math.sqrt(1.0 - busy.scene_memory**2)
    step = min(_LEVEL_STEP * fresh, _WIDEST_LEVEL_STEP)
    levels = np.arange(_LOWEST_LEVEL, _HIGHEST_LEVEL + step, step)
    chain = np.exp(-0.5 * ((levels - busy.scene_memory * levels[:, None]) / fresh) ** 2)
    chain /= chain.sum(axis=1, keepdims=True)
    frequencies = np.exp(-0.5 * levels**2)
    frequencies /= frequencies.sum()
    return busy.write_s * np.exp(common * levels - 0.5 * common**2), chain, frequencies


def _kernel(
    busy: BusyTimes, gap_s: float, write_s: float, nodes: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """From unwritten work at a release to that at the next: (cells + 1, cells + 1), rows sum < 1.

    What is missing from a row's sum is the probability that the next release is not obeyed.
    """
    frames = busy.buffer_s / busy.write_s if busy.write_s > 0.0 else 0.0
    cells = int(np.clip(_CELLS_PER_FRAME * frames, _FEWEST_CELLS, _MOST_CELLS))
    lattice = np.linspace(0.0, busy.buffer_s, cells + 1)
    busy_s, weights = nodes
    # Work that outlasts c: what remains does not depend on c.
    outlasting = _spread_out(busy, write_s, gap_s - lattice, lattice)
    share = (busy_s[None, :] <= lattice[:, None]) @ weights
    # Work done within c: what remains does not depend on U.
    within = _spread_out(busy, write_s, gap_s - busy_s, lattice)
    kernel: FloatArray = share[:, None] * outlasting
    kernel += ((busy_s[None, :] > lattice[:, None]) * weights) @ within
    return kernel


def _busy_nodes(busy: BusyTimes, gap_s: float) -> tuple[FloatArray, FloatArray]:
    """Times c not longer than the gap, and their probabilities, which sum to P(c <= gap)."""
    limit = np.array([gap_s - busy.fixed_s])
    whole = float(_below(limit, busy.processing_s, busy.processing_spread)[0])
    if busy.processing_s * busy.processing_spread == 0.0 or whole == 0.0:
        return np.array([busy.fixed_s + busy.processing_s]), np.array([whole])
    top = min(6.0, float(_standard(limit, busy.processing_s, busy.processing_spread)[0]))
    z = -6.0 + (top + 6.0) * (_ROOTS + 1.0) / 2.0
    weights = _ROOT_WEIGHTS * np.exp(-0.5 * z**2)
    processing = busy.processing_s * np.exp(
        busy.processing_spread * z - 0.5 * busy.processing_spread**2
    )
    return busy.fixed_s + processing, weights * (whole / weights.sum())


def _spread_out(
    busy: BusyTimes, write_s: float, drained_s: FloatArray, lattice: FloatArray
) -> FloatArray:
    """Distribution of max(0, W - drained) on the lattice: (len(drained), len(lattice)).

    Each mass goes to the two lattice points beside it in proportion; what exceeds the lattice's
    end is left out.
    """
    own = busy.write_spread * math.sqrt(1.0 - busy.scene_share)
    step = lattice[1] - lattice[0]
    edges = np.append(lattice, lattice[-1])[None, :] + drained_s[:, None]
    summed = np.zeros_like(edges)
    reached = np.zeros(len(drained_s))
    chances = ((1.0 - busy.stall_probability, 0.0), (busy.stall_probability, busy.stall_s))
    for chance, stall_s in chances:
        if chance > 0.0:
            summed += chance * _summed_below(edges - stall_s, write_s, own)
            reached += chance * _below(edges[:, -1] - stall_s, write_s, own)
    rise = np.diff(summed[:, :-1], axis=1) / step
    spread = np.empty((len(drained_s), len(lattice)))
    spread[:, 0] = rise[:, 0]
    spread[:, 1:-1] = np.diff(rise, axis=1)
    spread[:, -1] = reached - rise[:, -1]
    return np.maximum(spread, 0.0)
