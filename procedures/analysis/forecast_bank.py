"""A bank of warm-up models, filtered together: sums of decaying modes with fixed time constants.

A channel's level is modelled as a slowly walking rest value, a short wander (mains, draughts), and ten modes
that each die away with a time constant of its own, six seconds to fifty minutes. Nobody knows beforehand how
large the modes are or how restless the bench is, so that nine variants (three sizes, three restlessnesses)
run side by side and are weighted by how well they foresaw each level. Three generations of the nine differ
in how much of the past they trust: a younger one forgives what the first minutes taught wrongly.

Everything is linear, of constant cost, and relative to the channel's scale. Not here: units, when to speak,
and how far past forecasts were off (`forecast`).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# The magnitudes below are round numbers: they span what thermal paths of an amplifier can do (junction, case,
# sensor, sink, cabinet) and are not fitted to any one generator. tests/benchmarks/bench_forecast shows them.
_TAUS_S = np.array([6.0, 12.0, 24.0, 48.0, 95.0, 190.0, 380.0, 760.0, 1500.0, 3000.0])
_SIZES = (0.035, 0.12, 0.35)
_PEAK_TAU_S, _PEAK_WIDTH, _PEAK_FLOOR = 200.0, 2.5, 0.15
_SLOW_FROM_S, _SLOW_AT_LEAST = 300.0, 0.04  # a slow mode is always possible, however calm the start
_RESTLESS = ((0.0028, 0.0018), (0.010, 0.0022), (0.030, 0.0030))  # walk a half hour, wander
_WANDER_S = 150.0
_HALF_HOUR_S = 1800.0
_START_WANDER, _START_S = 30.0, 100.0  # the first minutes hold effects that no mode describes
_GENERATIONS = 3
_NEXT_GENERATION_S = (90.0, 300.0, 900.0)
_GENERATION_EVERY_S = 1800.0
_YOUNG_PRIOR = 0.1
_TRUST = 0.5  # weight of a block's evidence: blocks are not quite independent
_FORGET_S = 10000.0
_WALK, _WANDER, _REMEMBERED, _MODES = 0, 1, 2, 3  # places in the state


def _variants() -> tuple[Floats, Floats, Floats]:
    """Sizes of the modes (9, 10), walk and wander of each variant (9,)."""
    peak = np.exp(-0.5 * (np.log(_TAUS_S / _PEAK_TAU_S) / _PEAK_WIDTH) ** 2)
    profile = np.maximum(peak, _PEAK_FLOOR)
    sizes = np.array([size * profile for size in _SIZES for _ in _RESTLESS])
    slow = _TAUS_S > _SLOW_FROM_S
    sizes[:, slow] = np.maximum(sizes[:, slow], _SLOW_AT_LEAST)
    walk = np.array([walk for _ in _SIZES for walk, _ in _RESTLESS])
    wander = np.array([wander for _ in _SIZES for _, wander in _RESTLESS])
    return sizes, walk, wander


_SIZE, _WALK_SD, _WANDER_SD = (np.tile(part.T, _GENERATIONS).T for part in _variants())
_VARIANTS = len(_SIZE) // _GENERATIONS
_STATES = _MODES + len(_TAUS_S)


class Filter:
    """The bank's belief about one channel, in units of the channel's scale."""

    def __init__(self, level: float, shape: float = 0.0, modes_scale: float = 1.0) -> None:
        """Begin with the first level. `shape` is the remembered warm-up's value at this moment.

        `modes_scale` shrinks what is left to the modes when a remembered warm-up explains the rest.
        """
        models = len(_SIZE)
        self._start_wander = _START_WANDER * modes_scale
        self._size = _SIZE * modes_scale
        self._mean = np.zeros((models, _STATES))
        self._mean[:, _WALK] = level - shape
        self._mean[:, _REMEMBERED] = 1.0
        self._cov = np.zeros((models, _STATES, _STATES))
        self._diagonal = np.einsum("mss->ms", self._cov)  # a view: writing to it writes the diagonal
        self._diagonal[:, _WALK] = 1.0
        self._diagonal[:, _WANDER] = _WANDER_SD**2
        self._diagonal[:, _MODES:] = self._size**2
        self._log_weight = np.full(models, -np.inf)
        self._log_weight[:_VARIANTS] = 0.0
        self._age_s = 0.0
        self._excited_s = 0.0
        self._born = 0
        self._next_birth_s = _NEXT_GENERATION_S[0]
        self._step_s = 0.0
        self._keep: Floats = np.ones(1)
        self._keep_square: Floats = np.ones(1)
        self._push: Floats = np.ones(1)
        self._seen = np.ones(_STATES)
        self._seen[_REMEMBERED] = shape
        self._viewed: tuple[Floats, Floats, Floats] | None = None

    @property
    def age_s(self) -> float:
        """How long it has been following the channel."""
        return self._age_s

    def doubt_memory(self, sd: float) -> None:
        """How far the remembered warm-up's size may be off (a fraction)."""
        self._viewed = None
        self._diagonal[:, _REMEMBERED] = sd**2

    def rebase(self, shape: float) -> None:
        """Count the remembered warm-up from now, where its value is `shape`, instead of from before."""
        self._viewed = None
        self._mean[:, _WALK] += shape * self._mean[:, _REMEMBERED]
        self._cov[:, _WALK, :] += shape * self._cov[:, _REMEMBERED, :]
        self._cov[:, :, _WALK] += shape * self._cov[:, :, _REMEMBERED]

    def elapse(self, step_s: float) -> None:
        """Let time pass."""
        self._viewed = None
        if abs(step_s - self._step_s) > 1e-3:
            self._prepare(step_s)
        self._mean *= self._keep
        self._cov *= self._keep_square
        self._diagonal += self._push
        self._age_s += step_s
        self._excited_s += step_s
        early = self._start_wander * math.exp(-self._excited_s / _START_S)
        if early > 0.05:
            fresh = 1.0 - self._keep[:, _WANDER] ** 2
            self._diagonal[:, _WANDER] += (early * _WANDER_SD) ** 2 * fresh
        if self._age_s >= self._next_birth_s:
            self._bear()

    def expected(self, shape: float = 0.0) -> tuple[float, float]:
        """The level expected now, and its standard deviation without the meter's."""
        weight = self._weights()
        mean, _, spread = self._view(shape)
        centre = float(weight @ mean)
        return centre, math.sqrt(max(0.0, float(weight @ (spread + (mean - centre) ** 2))))

    def learn(self, level: float, variance: float, shape: float = 0.0) -> float:
        """Take a level with the variance of its measurement; the log likelihood that it was given before."""
        before = self._weights()
        mean, reach, spread = self._view(shape)
        self._viewed = None
        total = spread + variance
        miss = level - mean
        gain = reach / total[:, None]
        self._mean += gain * miss[:, None]
        self._cov -= gain[:, :, None] * reach[:, None, :]
        np.maximum(self._diagonal, 0.0, out=self._diagonal)
        evidence = -0.5 * (np.log(total) + miss * miss / total)
        self._log_weight *= math.exp(-self._step_s / _FORGET_S)
        self._log_weight += _TRUST * evidence
        self._log_weight -= self._log_weight.max()
        best = float(evidence.max())
        return best + math.log(float(before @ np.exp(evidence - best)))

    def shift(self, amount: float, doubt: float) -> None:
        """The level was moved on purpose, or stepped: a new rest value, and every mode stirred a little.

        `doubt` is how uncertain the new rest value is (a standard deviation); a tenth of `amount` is
        what the thermal answer to a trim may add to each mode.
        """
        self._viewed = None
        self._mean[:, _WALK] += amount
        self._diagonal[:, _WALK] += doubt**2 + (0.05 * amount) ** 2
        self._diagonal[:, _MODES:] += (0.1 * amount) ** 2 + (0.1 * doubt) ** 2

    def stir(self, amount: float) -> None:
        """The cooling changed (lid, draught): modes of minutes may be excited by `amount`."""
        self._viewed = None
        self._diagonal[:, _MODES:] += np.where(_TAUS_S > 60.0, amount**2, (0.3 * amount) ** 2)

    def ahead(self, leads_s: Floats, shapes: Floats | None = None) -> tuple[Floats, Floats, Floats, Floats]:
        """The level `leads_s` (n,) from now: mean and sd (n,), and mean and sd of the change until then.

        `shapes` (n,) are the remembered warm-up's values at those moments.
        """
        leads = leads_s[:, None]
        view = np.ones((len(leads_s), _STATES))
        view[:, _WANDER] = np.exp(-leads_s / _WANDER_S)
        view[:, _REMEMBERED] = 0.0 if shapes is None else shapes
        view[:, _MODES:] = np.exp(-leads / _TAUS_S)
        now = self._seen
        fresh = _WALK_SD**2 * (leads / _HALF_HOUR_S) + _WANDER_SD**2 * (1.0 - view[:, _WANDER, None] ** 2)
        weight = self._weights()
        level = self._blend(view, fresh, weight)
        change = self._blend(view - now, fresh, weight)
        return (*level, *change)

    # --- inside -------------------------------------------------------------------------------------

    def _prepare(self, step_s: float) -> None:
        """Work out decay and noise of a step; the usual step stays the same for hours."""
        self._step_s = step_s
        keep = np.ones((len(_SIZE), _STATES))
        keep[:, _WANDER] = math.exp(-step_s / _WANDER_S)
        keep[:, _MODES:] = np.exp(-step_s / _TAUS_S)
        self._keep, self._keep_square = keep, keep[:, :, None] * keep[:, None, :]
        self._push = np.zeros_like(keep)
        self._push[:, _WALK] = _WALK_SD**2 * step_s / _HALF_HOUR_S
        self._push[:, _WANDER] = _WANDER_SD**2 * (1.0 - keep[:, _WANDER] ** 2)

    def _view(self, shape: float) -> tuple[Floats, Floats, Floats]:
        """What each model sees of the level now: mean, covariance with the state, variance."""
        if self._viewed is None or self._seen[_REMEMBERED] != shape:
            self._seen[_REMEMBERED] = shape
            reach = self._cov @ self._seen
            self._viewed = (self._mean @ self._seen, reach, reach @ self._seen)
        return self._viewed

    def _weights(self) -> Floats:
        raw = np.exp(self._log_weight)
        weights: Floats = raw / raw.sum()
        return weights

    def _blend(self, view: Floats, fresh: Floats, weight: Floats) -> tuple[Floats, Floats]:
        """Mean and sd over the models of what `view` (n, states) sees; `fresh` (n, models) is added noise."""
        means = view @ self._mean.T
        spread = np.einsum("ns,mns->nm", view, view @ self._cov) + fresh
        centre = means @ weight
        variance = (spread + (means - centre[:, None]) ** 2) @ weight
        return centre, np.sqrt(np.maximum(variance, 0.0))

    def _bear(self) -> None:
        """Begin a new generation from the best one, with the modes set free again."""
        shares = self._weights().reshape(_GENERATIONS, _VARIANTS).sum(axis=1)
        best = int(shares.argmax())
        empty = [g for g in range(_GENERATIONS) if not np.isfinite(self._log_weight[g * _VARIANTS])]
        young = empty[0] if empty else int(shares.argmin())
        old, new = _generation(best), _generation(young)
        if young != best:
            self._mean[new] = self._mean[old]
            self._cov[new] = self._cov[old]
            self._diagonal[new, _MODES:] += self._size[new] ** 2
            self._diagonal[new, _WALK] += 0.1
            self._log_weight[new] = self._log_weight[old] + math.log(_YOUNG_PRIOR)
        self._born += 1
        if self._born < len(_NEXT_GENERATION_S):
            self._next_birth_s = _NEXT_GENERATION_S[self._born]
        else:
            self._next_birth_s = self._age_s + _GENERATION_EVERY_S


def _generation(number: int) -> slice:
    return slice(number * _VARIANTS, (number + 1) * _VARIANTS)
