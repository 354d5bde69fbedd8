"""Growth curves of the trade: size at an age, age at a size, inflection, and from one reading to the next.

A curve takes its parameters as positional numbers or arrays in the order of
``Curve.parameters``; everything is broadcast. Ages and sizes may be in any
unit, as long as it is the same throughout.

For fitting, every curve is also written as ``log size = a + shape(s, q)`` with
``s = age × rate``: ``a`` is the log of the asymptote, ``log rate`` stretches
time and ``q`` bends. A tree's own size and own pace are then a shift of ``a``
and a shift of ``log rate`` whatever the curve.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Shape = Callable[[Floats, Any], tuple[Floats, Floats, Floats]]

_LEAST = 1e-9
"""Least scaled age; a tree planted today has no logarithm of its age."""


@dataclass(frozen=True, eq=False)
class Curve:
    """A growth curve.

    Attributes
    ----------
    name : str
        What it is called.
    parameters : tuple of str
        Its parameters, the asymptote first.
    formula : str
        As it is printed.
    source : str
        Author, year and journal.
    value, age_at, inflection : callable
        Size at an age; age at a size (nan beyond the asymptote, or before the curve begins); age at which the growth
        is fastest (nan where it only slows down).
    project : callable
        Size at a second age from the size at a first one, by the algebraic difference form with the asymptote as the
        parameter that differs between trees: ``project(size, age, later, *other_parameters)``. Bailey and Clutter
        (1974), Forest Science 20:155.
    shape : callable
        ``shape(s, q)``: log of size over asymptote, its derivative by ``log s`` and its derivative by ``q``.
    natural : callable
        Parameters from ``a``, ``log rate`` and ``q``.
    bent : bool
        Whether ``q`` is free; else the curve has two parameters.
    start : tuple of float
        Usual ``q``, and ``log s`` at which half the asymptote is reached.
    spread : float
        How far ``q`` usually lies from that (standard deviation).
    """

    name: str
    parameters: tuple[str, ...]
    formula: str
    source: str
    value: Callable[..., Any]
    age_at: Callable[..., Any]
    inflection: Callable[..., Any]
    project: Callable[..., Any]
    shape: Shape
    natural: Callable[[Any, Any, Any], tuple[Any, ...]]
    bent: bool
    start: tuple[float, float]
    spread: float


def _quiet(function: Callable[..., Any]) -> Callable[..., Any]:
    """Let a function give nan and inf where it has no value, without a warning."""

    def call(*given: Any) -> Any:
        with np.errstate(all="ignore"):
            return function(*(np.asarray(one, np.float64) for one in given))

    return call


def _where(kept: Any, value: Any) -> Any:
    return np.where(kept, value, np.nan)


def _richards_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    s = np.clip(s, _LEAST, 500.0)
    p = np.exp(q)
    log = np.log(-np.expm1(-s))
    return p * log, p * s / np.expm1(s), p * log


CHAPMAN_RICHARDS = Curve(
    "Chapman-Richards",
    ("A", "k", "p"),
    "A (1 - exp(-k t))^p",
    "Richards (1959), Journal of Experimental Botany 10:290; Pienaar and Turnbull (1973), Forest Science 19:2",
    _quiet(lambda t, top, k, p: top * (-np.expm1(-k * t)) ** p),
    _quiet(lambda d, top, k, p: _where(d < top, -np.log1p(-((d / top) ** (1 / p))) / k)),
    _quiet(lambda _top, k, p: _where(p > 1, np.log(p) / k)),
    _quiet(lambda d, t, later, k, p: d * (np.expm1(-k * later) / np.expm1(-k * t)) ** p),
    _richards_shape,
    lambda a, rate, q: (np.exp(a), np.exp(rate), np.exp(q)),
    bent=True,
    start=(0.25, 0.0),
    spread=0.5,
)


def _schumacher_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    s = np.maximum(s, 1e-3)
    return -1 / s, 1 / s, np.zeros_like(s + q)


SCHUMACHER = Curve(
    "Schumacher",
    ("A", "b"),
    "A exp(-b / t)",
    "Schumacher (1939), Journal of Forestry 37:819",
    _quiet(lambda t, top, b: _where(t >= 0, top * np.exp(-b / np.maximum(t, 1e-300)))),
    _quiet(lambda d, top, b: _where(d < top, -b / np.log(d / top))),
    _quiet(lambda _top, b: b / 2),
    _quiet(lambda d, t, later, b: d * np.exp(b / t - b / later)),
    _schumacher_shape,
    lambda a, rate, _q: (np.exp(a), np.exp(-rate)),
    bent=False,
    start=(0.0, 0.37),
    spread=1.0,
)


def _gompertz_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    fall = np.exp(np.clip(q - s, -500.0, 50.0))
    return -fall, s * fall, -fall


GOMPERTZ = Curve(
    "Gompertz",
    ("A", "B", "k"),
    "A exp(-B exp(-k t))",
    "Gompertz (1825); Winsor (1932), Proceedings of the National Academy of Sciences 18:1",
    _quiet(lambda t, top, drop, k: top * np.exp(-drop * np.exp(-k * t))),
    _quiet(lambda d, top, drop, k: _where(d < top, -np.log(-np.log(d / top) / drop) / k)),
    _quiet(lambda _top, drop, k: np.log(drop) / k),
    _quiet(lambda d, t, later, drop, k: d * np.exp(drop * np.exp(-k * t) - drop * np.exp(-k * later))),
    _gompertz_shape,
    lambda a, rate, q: (np.exp(a), np.exp(q), np.exp(rate)),
    bent=True,
    start=(1.1, 0.4),
    spread=0.4,
)


def _logistic_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    s = np.minimum(s, 500.0)
    fall = 1 / (1 + np.exp(s - q))
    return -np.logaddexp(0, q - s), s * fall, -fall


LOGISTIC = Curve(
    "logistic",
    ("A", "m", "s"),
    "A / (1 + exp(-(t - m) / s))",
    "Verhulst (1838), Correspondance mathématique et physique 10:113",
    _quiet(lambda t, top, m, s: top / (1 + np.exp((m - t) / s))),
    _quiet(lambda d, top, m, s: _where(d < top, m - s * np.log(top / d - 1))),
    _quiet(lambda _top, m, s: m + 0 * s),
    _quiet(lambda d, t, later, m, s: d * (1 + np.exp((m - t) / s)) / (1 + np.exp((m - later) / s))),
    _logistic_shape,
    lambda a, rate, q: (np.exp(a), q * np.exp(-rate), np.exp(-rate)),
    bent=True,
    start=(2.0, 0.7),
    spread=0.6,
)


def _asymptotic_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    s = np.clip(s, _LEAST, 500.0)
    return np.log(-np.expm1(-s)), s / np.expm1(s), np.zeros_like(s + q)


ASYMPTOTIC = Curve(
    "asymptotic exponential",
    ("A", "R", "k"),
    "A + (R - A) exp(-k t)",
    "Mitscherlich (1919), Landwirtschaftliche Jahrbücher 53:167; "
    "Pinheiro and Bates (2000), Mixed-Effects Models in S and S-PLUS, with ln k",
    _quiet(lambda t, top, low, k: top + (low - top) * np.exp(-k * t)),
    _quiet(lambda d, top, low, k: _where(d < top, -np.log((top - d) / (top - low)) / k)),
    _quiet(lambda _top, _low, k: np.nan * k),
    _quiet(lambda d, t, later, low, k: low + (d - low) * np.expm1(-k * later) / np.expm1(-k * t)),
    _asymptotic_shape,
    lambda a, rate, _q: (np.exp(a), 0.0 * a, np.exp(rate)),
    bent=False,
    start=(0.0, -0.37),
    spread=1.0,
)


def _korf_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    c = np.exp(q)
    fall = np.exp(np.minimum(-c * np.log(np.maximum(s, _LEAST)), 50.0))
    return -fall, c * fall, fall * c * np.log(np.maximum(s, _LEAST))


KORF = Curve(
    "Korf",
    ("A", "b", "c"),
    "A exp(-b t^-c)",
    "Korf (1939), Lesnická práce 18:339; Lundqvist (1957), Meddelanden från Statens Skogsforskningsinstitut 47",
    _quiet(lambda t, top, b, c: top * np.exp(-b * np.maximum(t, 1e-300) ** -c)),
    _quiet(lambda d, top, b, c: _where(d < top, (b / np.log(top / d)) ** (1 / c))),
    _quiet(lambda _top, b, c: (b * c / (c + 1)) ** (1 / c)),
    _quiet(lambda d, t, later, b, c: d * np.exp(b * t**-c - b * later**-c)),
    _korf_shape,
    lambda a, rate, q: (np.exp(a), np.exp(-rate * np.exp(q)), np.exp(q)),
    bent=True,
    start=(-0.3, 0.5),
    spread=0.4,
)


def _hossfeld_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    c = np.exp(q)
    log = np.log(np.maximum(s, _LEAST))
    left = 1 / (1 + np.exp(np.minimum(c * log, 500.0)))
    return -np.logaddexp(0, -c * log), c * left, c * log * left


def _hossfeld_on(d: Any, t: Any, later: Any, b: Any, c: Any) -> Any:
    """Solve for the asymptote: 1/A = 1/d - b t^-c."""
    return 1 / (1 / d - b * t**-c + b * later**-c)


HOSSFELD = Curve(
    "Hossfeld",
    ("A", "b", "c"),
    "t^c / (b + t^c / A)",
    "Hossfeld (1822), quoted by Peschel (1938), Tharandter Forstliches Jahrbuch 89:169",
    _quiet(lambda t, top, b, c: t**c / (b + t**c / top)),
    _quiet(lambda d, top, b, c: _where(d < top, (b * d / (1 - d / top)) ** (1 / c))),
    _quiet(lambda top, b, c: _where(c > 1, (top * b * (c - 1) / (c + 1)) ** (1 / c))),
    _quiet(_hossfeld_on),
    _hossfeld_shape,
    lambda a, rate, q: (np.exp(a), np.exp(-rate * np.exp(q) - a), np.exp(q)),
    bent=True,
    start=(0.25, 0.0),
    spread=0.4,
)


def _weibull_shape(s: Floats, q: Any) -> tuple[Floats, Floats, Floats]:
    p = np.exp(q)
    log = np.log(np.maximum(s, _LEAST))
    x = np.maximum(np.exp(np.minimum(p * log, 500.0)), _LEAST)
    slope = x / np.expm1(np.minimum(x, 500.0))
    return np.log(-np.expm1(-x)), p * slope, p * log * slope


WEIBULL = Curve(
    "Weibull",
    ("A", "k", "p"),
    "A (1 - exp(-(k t)^p))",
    "Yang, Kozak and Smith (1978), Canadian Journal of Forest Research 8:424",
    _quiet(lambda t, top, k, p: top * -np.expm1(-((k * t) ** p))),
    _quiet(lambda d, top, k, p: _where(d < top, (-np.log1p(-d / top)) ** (1 / p) / k)),
    _quiet(lambda _top, k, p: _where(p > 1, ((p - 1) / p) ** (1 / p) / k)),
    _quiet(lambda d, t, later, k, p: d * np.expm1(-((k * later) ** p)) / np.expm1(-((k * t) ** p))),
    _weibull_shape,
    lambda a, rate, q: (np.exp(a), np.exp(rate), np.exp(q)),
    bent=True,
    start=(0.15, -0.3),
    spread=0.3,
)

CURVES: tuple[Curve, ...] = (
    CHAPMAN_RICHARDS,
    HOSSFELD,
    WEIBULL,
    KORF,
    SCHUMACHER,
    GOMPERTZ,
    LOGISTIC,
    ASYMPTOTIC,
)
"""Every curve that is tried, the commonest of the trade first."""
