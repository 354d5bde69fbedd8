"""Fitting a curve to repeat readings with what is a tree's own as random effects.

Lindstrom and Bates (1990), Biometrics 46:673, as in Pinheiro and Bates (2000),
Mixed-Effects Models in S and S-PLUS, chapter 7: the model is made linear about
the present parameters and the present effects of each tree; the linear mixed
model so obtained is fitted by maximum likelihood, the variances by a search
along its slope and the rest in closed form; and so on until nothing moves.
Everything is worked on padded arrays, a row for each tree.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Model = Callable[[Floats, Floats], tuple[Floats, Floats, Floats]]
"""From parameters (p,) and effects (n, q) to values (n, m) and their derivatives, (n, m, p) and (n, m, q)."""

MOST_ROUNDS = 40
_HALVINGS, _LONGEST_STEP = 12, 1.0
_MOST_RATIO = 1e3
"""Greatest ratio of the spread of an effect to that of the readings."""


@dataclass(frozen=True, eq=False)
class Prior:
    """What is held likely of the parameters before any reading.

    Attributes
    ----------
    mean : ndarray, shape (p,)
        Likeliest values.
    precision : ndarray, shape (p,)
        One over variance; 0 for a parameter of which nothing is held.
    readings, residual : float
        How many readings' worth it is held that a reading of weight 1 has this standard deviation.
    spread : tuple of float
        Standard deviation among trees that an effect will hardly exceed; empty: nothing is held of it.
    """

    mean: Floats
    precision: Floats
    readings: float = 0.0
    residual: float = 0.0
    spread: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class MixedFit:
    """A fitted mixed model.

    Attributes
    ----------
    parameters : ndarray, shape (p,)
        Those of the typical tree.
    covariance : ndarray, shape (p, p)
        Of their errors.
    effects : ndarray, shape (n, q)
        What is each tree's own.
    spread : ndarray, shape (q, q)
        Covariance of the effects among trees.
    residual : float
        Standard deviation of a reading of weight 1.
    log_likelihood : float
        By the linear model of the last round.
    rounds : int
        How many rounds it took.
    settled : bool
        Whether it came to rest.
    factor : ndarray, shape (q, q)
        Lower triangle whose square is ``spread`` over the residual variance: where a next fit may begin.
    """

    parameters: Floats
    covariance: Floats
    effects: Floats
    spread: Floats
    residual: float
    log_likelihood: float
    rounds: int
    settled: bool
    factor: Floats


def fit_mixed(
    model: Model,
    values: Floats,
    weights: Floats,
    start: Floats,
    effects: int,
    prior: Prior | None = None,
    factor: Floats | None = None,
    *,
    tolerance: float = 1e-7,
    most_step: float = np.inf,
    most_rounds: int = MOST_ROUNDS,
    steps: int = 60,
    bends: bool = True,
) -> MixedFit:
    """Fit a model with random effects of trees by maximum likelihood.

    Parameters
    ----------
    model : callable
        See `Model`.
    values : ndarray, shape (n, m)
        Readings, a row for each tree.
    weights : ndarray, shape (n, m)
        One over variance of each reading, but for a common factor; 0 where there is no reading.
    start : ndarray, shape (p,)
        Parameters to begin with.
    effects : int
        How many random effects a tree has.
    prior : Prior, optional
        What is held likely beforehand; in the same units, independent of the residual.
    factor : ndarray, shape (q, q), optional
        Where to begin with the spread of the effects.
    tolerance : float
        Greatest change of a parameter, over 1 + its size, that counts as rest.
    most_step : float
        Greatest change of a parameter in a round.
    most_rounds, steps : int
        Rounds, and steps towards the likeliest variances in each; none: the factor given is kept.
    bends : bool
        Whether the model is not linear in the effects. Where it is, a step of the parameters is halved until the
        likelihood does not fall.
    """
    there = weights > 0
    many = int(there.sum())
    values = np.where(there, values, 0.0)
    theta = np.asarray(start, np.float64).copy()
    own = np.zeros((len(values), effects))
    lower = np.eye(effects) if factor is None else factor
    settled, rounds, search = False, 0, _Search(effects)
    sums = _Sums.of(model, values, weights, theta, own)
    pull = _Pull.of(prior, 1.0, many)
    residual2 = sums.squares_at(theta, lower, pull) / pull.many
    for rounds in range(1, most_rounds + 1):  # noqa: B007 - the number of rounds is told
        pull = _Pull.of(prior, residual2, many)
        if steps:
            lower = search.best(sums, lower, pull, steps, max(10 * tolerance, 1e-9))
        new, residual2, own = sums.solved(lower, pull)
        step = np.clip(new - theta, -most_step, most_step)
        if not bends:
            before = sums.value_at(theta, lower, pull)
            for _ in range(_HALVINGS):
                again = _Sums.of(model, values, weights, theta + step, own)
                if again.value_at(theta + step, lower, pull) <= before:
                    break
                step = step / 2
            else:
                break
            sums = again
        else:
            sums = _Sums.of(model, values, weights, theta + step, own)
        theta = theta + step
        if np.abs(step / (1 + np.abs(theta))).max() < tolerance:
            settled = True
            break
    residual2 = sums.squares_at(theta, lower, pull) / pull.many
    own = sums.effects_at(theta, lower)
    precision = sums.information(lower) / residual2 + (np.diag(prior.precision) if prior is not None else 0.0)
    log_weights = float(np.log(weights[there]).sum())
    misfit = sums.misfit_at(theta, lower, pull, residual2)
    return MixedFit(
        theta,
        np.asarray(np.linalg.pinv(precision, hermitian=True), np.float64),
        own,
        lower @ lower.T * residual2,
        float(np.sqrt(residual2)),
        0.5 * (log_weights - many * np.log(2 * np.pi * residual2) - misfit),
        rounds,
        settled,
        lower,
    )


@dataclass(frozen=True, eq=False)
class _Pull:
    """A prior in the units of a linear mixed model: ``weight`` is precision over that of a reading of weight 1."""

    mean: Floats
    weight: Floats
    squares: float
    many: float
    on_factor: Floats

    @classmethod
    def of(cls, prior: Prior | None, residual2: float, many: int) -> _Pull:
        if prior is None:
            return cls(np.zeros(0), np.zeros(0), 0.0, float(many), np.zeros(1))
        squares = prior.readings * prior.residual**2
        on_factor = residual2 / np.square(prior.spread or (np.inf,))
        return cls(prior.mean, prior.precision * residual2, squares, many + prior.readings, on_factor)


@dataclass(frozen=True, eq=False)
class _Sums:
    """Sums over the readings of each tree of a linear mixed model; all that its likelihood needs.

    ``zz`` (n, q, q) and ``zx`` (n, q, p + 1) for each tree, ``xx`` (p + 1, p + 1) over all of them; the last column
    of the latter two is that of the working response.
    """

    zz: Floats
    zx: Floats
    xx: Floats

    @classmethod
    def of(cls, model: Model, values: Floats, weights: Floats, theta: Floats, own: Floats) -> _Sums:
        at, x, z = model(theta, own)
        working = values - at + x @ theta + (z * own[:, None, :]).sum(axis=-1)
        x = np.concatenate([x, working[..., None]], axis=-1)
        wx, wz = x * weights[..., None], (z * weights[..., None]).swapaxes(1, 2)
        flat = (-1, x.shape[-1])
        return cls(wz @ z, wz @ x, x.reshape(flat).T @ wx.reshape(flat))

    def _inner(self, lower: Floats) -> tuple[Floats, Floats]:
        """Return the determinant of I + L'AL, and L(I + L'AL)^-1 L', of each tree."""
        if len(lower) == 1:
            det = 1 + lower[0, 0] ** 2 * self.zz[:, 0, 0]
            return det, (lower[0, 0] ** 2 / det)[:, None, None]
        first, skew, second = lower[0, 0], lower[1, 0], lower[1, 1]
        size, both, pace = self.zz[:, 0, 0], self.zz[:, 0, 1], self.zz[:, 1, 1]
        one = 1 + first**2 * size + 2 * first * skew * both + skew**2 * pace
        two, across = 1 + second**2 * pace, second * (first * both + skew * pace)
        det = one * two - across**2
        shrunk = np.empty_like(self.zz)
        shrunk[:, 0, 0] = first**2 * two / det
        shrunk[:, 0, 1] = shrunk[:, 1, 0] = first * (skew * two - second * across) / det
        shrunk[:, 1, 1] = (skew**2 * two - 2 * skew * second * across + second**2 * one) / det
        return det, shrunk

    def _left(self, shrunk: Floats) -> Floats:
        """X'V^-1 X with the working response as last column, (p + 1, p + 1)."""
        flat = (-1, self.zx.shape[-1])
        return self.xx - self.zx.reshape(flat).T @ (shrunk @ self.zx).reshape(flat)

    def information(self, lower: Floats) -> Floats:
        return self._left(self._inner(lower)[1])[:-1, :-1]

    def _solution(self, shrunk: Floats, pull: _Pull) -> tuple[Floats, float]:
        """Parameters, and weighted sum of squares at them."""
        whole = self._left(shrunk)
        left, right = whole[:-1, :-1], whole[:-1, -1]
        if len(pull.mean):
            bent = left + np.diag(pull.weight)
            theta = np.asarray(np.linalg.solve(bent, right + pull.weight * pull.mean), np.float64)
        else:
            theta = np.asarray(np.linalg.lstsq(left, right, rcond=None)[0], np.float64)
        squares = whole[-1, -1] - 2 * right @ theta + theta @ left @ theta
        held = float(pull.weight @ (theta - pull.mean) ** 2) if len(pull.mean) else 0.0
        return theta, max(float(squares), 1e-300) + pull.squares + held

    def _apart(self, theta: Floats) -> Floats:
        return self.zx[..., -1] - self.zx[..., :-1] @ theta

    def squares_at(self, theta: Floats, lower: Floats, pull: _Pull) -> float:
        """Weighted sum of squares at parameters."""
        return self._squares(theta, self._inner(lower)[1], pull)

    def _squares(self, theta: Floats, shrunk: Floats, pull: _Pull) -> float:
        ends = np.append(-theta, 1.0)
        return max(float(ends @ self._left(shrunk) @ ends), 1e-300) + pull.squares

    def value_at(self, theta: Floats, lower: Floats, pull: _Pull) -> float:
        """Minus twice the likelihood at parameters, but for a constant."""
        det, shrunk = self._inner(lower)
        held = float(pull.weight @ (theta - pull.mean) ** 2) if len(pull.mean) else 0.0
        return pull.many * np.log(self._squares(theta, shrunk, pull) + held) + float(np.log(det).sum())

    def misfit_at(self, theta: Floats, lower: Floats, pull: _Pull, residual2: float) -> float:
        """Log determinant of V, and the squares that it leaves, over the variance."""
        squares = self.squares_at(theta, lower, pull) - pull.squares
        return float(np.log(self._inner(lower)[0]).sum()) + squares / residual2

    def effects_at(self, theta: Floats, lower: Floats) -> Floats:
        """Likeliest effects of each tree, (n, q)."""
        return (self._inner(lower)[1] @ self._apart(theta)[..., None])[..., 0]

    def solved(self, lower: Floats, pull: _Pull) -> tuple[Floats, float, Floats]:
        """Likeliest parameters, residual variance and effects of the linear model."""
        theta, squares = self._solution(self._inner(lower)[1], pull)
        return theta, squares / pull.many, self.effects_at(theta, lower)

    def deviance(self, lower: Floats, pull: _Pull) -> tuple[float, Floats]:
        """Minus twice the likelihood but for a constant, and its slope by the factor."""
        det, shrunk = self._inner(lower)
        theta, squares = self._solution(shrunk, pull)
        apart = self._apart(theta)[..., None]
        kept = self.zz @ shrunk
        score = (apart - kept @ apart)[..., 0]
        slope = (self.zz - kept @ self.zz).sum(axis=0) - pull.many / squares * score.T @ score
        value = pull.many * np.log(squares) + float(np.log(det).sum())
        return value, 2 * slope @ lower


class _Search:
    """Seeks the lower triangle that makes the likelihood greatest, going on from where it last was.

    Broyden, Fletcher, Goldfarb and Shanno's method with halved steps. Scipy's L-BFGS-B does the same, but hands its
    triangles of ten rows to several threads, which for three unknowns takes a hundred times longer than the work.
    """

    def __init__(self, size: int) -> None:
        self._rows = np.tril_indices(size)
        self._size = size
        self._inverse: Floats | None = None

    def best(self, sums: _Sums, lower: Floats, pull: _Pull, most_steps: int, tolerance: float) -> Floats:
        at = lower[self._rows]
        value, slope = self._target(sums, at, pull)
        for _ in range(most_steps):
            if self._inverse is None:
                self._inverse = np.eye(len(at)) * (0.1 * (1 + np.abs(at).max()) / (np.abs(slope).max() + 1e-9))
            step = -self._inverse @ slope
            fall = float(slope @ step)
            if fall >= 0:
                self._inverse = None
                break
            step *= min(1.0, _LONGEST_STEP * (1 + np.abs(at).max()) / np.abs(step).max())
            there, new, new_slope = at + step, np.inf, slope
            for _ in range(_HALVINGS):
                there = at + step
                new, new_slope = self._target(sums, there, pull)
                if new <= value + 1e-4 * float(slope @ step):
                    break
                step = step / 2
            else:
                self._inverse = None
                break
            self._learn(step, new_slope - slope)
            gained, at, value, slope = value - new, there, new, new_slope
            if gained < tolerance:
                break
        return self._unpacked(at)

    def _learn(self, step: Floats, turned: Floats) -> None:
        assert self._inverse is not None
        bend = float(step @ turned)
        if bend > 1e-12 * float(np.sqrt((step @ step) * (turned @ turned))):
            left = np.eye(len(step)) - np.outer(step, turned) / bend
            self._inverse = left @ self._inverse @ left.T + np.outer(step, step) / bend

    def _target(self, sums: _Sums, packed: Floats, pull: _Pull) -> tuple[float, Floats]:
        lower = self._unpacked(packed)
        value, slope = sums.deviance(lower, pull)
        held = pull.on_factor[:, None] * lower
        return value + float((held * lower).sum()), (slope + 2 * held)[self._rows]

    def _unpacked(self, packed: Floats) -> Floats:
        out = np.zeros((self._size, self._size))
        out[self._rows] = np.clip(packed, -_MOST_RATIO, _MOST_RATIO)
        return out
