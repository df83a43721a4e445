"""The setting of a condition that a wanted number needs: an interval or a bound, and nothing beyond the series."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import FloatArray, IndexArray
from curves.sensitometry.series.trend import Trend

_FINE = 2001
"""Places between the ends of a series at which a trend is held against a wanted number."""


@dataclass(frozen=True)
class Setting:
    """The setting that a wanted number needs.

    An end that is None is open: the series does not show where the interval ends on that side.

    Attributes:
        value: the setting of the estimate; None where the estimate does not pass the wanted number in the series.
        low, high: ends of the 95 % interval, in the condition's unit.
        why: the reason there is no value, or why the interval is not a plain one; empty if it is.
    """

    value: float | None
    low: float | None
    high: float | None
    why: str = ""

    @property
    def known(self) -> bool:
        """True if the series says anything on the setting."""
        return not (self.value is None and self.low is None and self.high is None)


@dataclass(frozen=True, eq=False)
class SettingScale:
    """The settings of a series on the axis on which its trends are drawn, from 0 at the first to 1 at the last.

    Attributes:
        first, last: settings at the ends.
        by_ratio: True if equal ratios are equally long.
    """

    first: float
    last: float
    by_ratio: bool

    def place(self, settings: FloatArray | float) -> FloatArray:
        """Return the places of settings, any shape."""
        if self.by_ratio:
            return np.asarray(np.log(np.asarray(settings) / self.first) / np.log(self.last / self.first))
        return np.asarray((np.asarray(settings) - self.first) / (self.last - self.first))

    def setting(self, place: FloatArray | float) -> FloatArray:
        """Return the settings at places, any shape."""
        if self.by_ratio:
            return np.asarray(self.first * (self.last / self.first) ** np.asarray(place))
        return np.asarray(self.first + (self.last - self.first) * np.asarray(place))


def setting_for(trend: Trend, wanted: float, scale: SettingScale, way: int, next_out: tuple[float, ...]) -> Setting:
    """Return the setting at which a number has the wanted value: all settings whose 95 % interval holds the value.

    Args:
        trend: the number against the condition.
        wanted: the value, on the number's scale.
        scale: the settings of the series.
        way: direction of the trend: 1 up, -1 down, 0 not known.
        next_out: settings beyond the trend at which a strip shows by a bound that the wanted value is passed.
    """
    if not trend.drawn:
        return _of_two(trend, wanted, scale, way, next_out)
    place = np.linspace(0.0, 1.0, _FINE)
    low, high, estimate = (np.interp(place, trend.place, y) for y in (trend.low, trend.high, trend.estimate))
    inside = (low <= wanted) & (wanted <= high)
    crossed = np.flatnonzero(np.diff((estimate >= wanted).astype(int)))
    inside[crossed] = True
    if not inside.any():
        return _beyond(bool(high.max() < wanted), scale, way, next_out)
    held = np.flatnonzero(inside)
    least = _below(scale, next_out) if held[0] == 0 else float(scale.setting(place[held[0]]))
    most = _above(scale, next_out) if held[-1] == _FINE - 1 else float(scale.setting(place[held[-1]]))
    value = _crossing(place, estimate - wanted, crossed, scale)
    pieces = int((np.diff(inside.astype(int)) != 0).sum() + inside[0] + inside[-1]) // 2
    return Setting(value, least, most, _reason(value, max(pieces, crossed.size), least, most))


def _of_two(trend: Trend, wanted: float, scale: SettingScale, way: int, next_out: tuple[float, ...]) -> Setting:
    """Return the setting that two settings leave possible: between them, if the number has a direction."""
    if way == 0:
        return Setting(None, None, None, "two settings and no usual direction do not tell what lies between")
    if not trend.low.min() <= wanted <= trend.high.max():
        return _beyond(bool(trend.high.max() < wanted), scale, way, next_out)
    at_first, at_last = (trend.low[[0, -1]] <= wanted) & (wanted <= trend.high[[0, -1]])
    least = _below(scale, next_out) if at_first else scale.first
    most = _above(scale, next_out) if at_last else scale.last
    why = _reason(None, 1, least, most) if at_first or at_last else "with two settings nothing tells where between them"
    return Setting(None, least, most, why)


def _crossing(place: FloatArray, height: FloatArray, crossed: IndexArray, scale: SettingScale) -> float | None:
    """Return the setting at which an estimate passes zero, the first of several; None where it does not."""
    if not crossed.size:
        return None
    at = int(crossed[0])
    share = height[at] / (height[at] - height[at + 1])
    return float(scale.setting(place[at] + share * (place[at + 1] - place[at])))


def _below(scale: SettingScale, next_out: tuple[float, ...]) -> float | None:
    """Return the nearest strip below the series that closes an interval there; None where there is none."""
    return max((setting for setting in next_out if setting < scale.first), default=None)


def _above(scale: SettingScale, next_out: tuple[float, ...]) -> float | None:
    """Return the nearest strip above the series that closes an interval there; None where there is none."""
    return min((setting for setting in next_out if setting > scale.last), default=None)


def _beyond(short: bool, scale: SettingScale, way: int, next_out: tuple[float, ...]) -> Setting:
    """Return the bound on a setting that no strip of the series reaches."""
    if way == 0:
        return Setting(None, None, None, "no setting of the series gives it, and its usual direction is not known")
    if short == (way > 0):
        return Setting(None, scale.last, _above(scale, next_out), "no setting of the series gives it")
    return Setting(None, _below(scale, next_out), scale.first, "no setting of the series gives it")


def _reason(value: float | None, times: int, least: float | None, most: float | None) -> str:
    """Return the reason why a setting has no value or no plain interval; empty if there is none."""
    if least is None and most is None:
        return "every setting of the series fits"
    if value is None:
        return "it lies at the end of the series"
    if times > 1:
        return "the trend passes it more than once; the interval holds every place"
    return "the interval runs beyond the series" if least is None or most is None else ""
