"""Strips of one film that differ in one condition: every number against it, and what the trade knows of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError, nearest
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.comparison.differences import (
    NumberDifference,
    Tolerances,
    refuse_incomparable,
    verdict_on,
)
from curves.sensitometry.comparison.numbers import (
    ComparableNumber,
    NumberKey,
    Scale,
    comparable_numbers,
    on_scale,
)
from curves.sensitometry.comparison.pairs import SHARED, exposed_again, exposures_apart
from curves.sensitometry.core.units import Channel, FloatArray, eye_channel
from curves.sensitometry.series.condition import Condition, conditions_of
from curves.sensitometry.series.setting import Setting, SettingScale, setting_for
from curves.sensitometry.series.trend import Repeatability, StripNumbers, Trend, fit_trend
from curves.sensitometry.uncertainty.results import Analysis, shared_sources

FOLLOWED = (
    "ei", "iso_2240", "iso_5800", "iso_6", "T", "S", "speed", "gamma", "average_gradient", "range_stops", "dmin",
    "dmax",
)  # fmt: skip
"""Keys of the numbers that a series follows; those that the strips do not have are left out."""

_FEWEST_DRAWS = 100
"""Fewest draws that the errors of a trend are taken from: our own choice [unitless]."""

_Numbers = Sequence[ComparableNumber | None]

_MOST_LOST = 0.5
"""Largest share of a strip's rows without the number at which the strip still counts [unitless]."""


@dataclass(frozen=True, eq=False)
class NumberSeries:
    """One number of all strips of a series.

    Attributes:
        key: name of the number and its channel.
        label: name that a person reads.
        scale: scale of the trend.
        numbers: the number on each strip; None where a strip does not have it.
        own: the same with the errors alone that the strips do not share; empty where they share none.
        trend: the number against the condition, with all errors; None where fewer than two settings show it.
        alike: the same with the errors alone that the strips do not share; None where they share none.
        way: usual direction with more of the condition: 1 up, -1 down, 0 not known.
        change: the number at the last setting that shows it against the first; None without a trend.
    """

    key: NumberKey
    label: str
    scale: Scale
    numbers: tuple[ComparableNumber | None, ...]
    own: tuple[ComparableNumber | None, ...]
    trend: Trend | None
    alike: Trend | None
    way: int
    change: NumberDifference | None

    @property
    def shows(self) -> tuple[bool, ...]:
        """True for each strip that shows the number."""
        return tuple(is_shown(n) for n in self.numbers)


@dataclass(frozen=True, eq=False)
class WantedSetting:
    """A wanted number and the setting that it needs.

    Attributes:
        number: the number's series.
        wanted: the wanted value, in the number's own unit.
        setting: the setting, with all errors.
        alike: the setting if the wanted value was measured as the strips were, so that what they share does not count;
            None where they share nothing.
    """

    number: NumberSeries
    wanted: float
    setting: Setting
    alike: Setting | None


@dataclass(frozen=True, eq=False)
class StripSeries:
    """Strips in the order of a condition's settings.

    Attributes:
        condition: the condition that was varied.
        analyses: the strips.
        settings: of each strip, ascending, (n,).
        channel: the channel whose numbers are followed.
        numbers: by key, in the order of `FOLLOWED`.
        wanted: the wanted numbers with the settings that they need.
        left_out: titles of the strips whose records do not state the condition.
        also_varied: other conditions that differ between the strips.
        scatter: the stated scatter from strip to strip.
        shared: names of the sources of error that all strips share.
    """

    condition: Condition
    analyses: tuple[Analysis, ...]
    settings: FloatArray
    channel: Channel
    numbers: Mapping[NumberKey, NumberSeries]
    wanted: tuple[WantedSetting, ...]
    left_out: tuple[str, ...]
    also_varied: tuple[str, ...]
    scatter: Repeatability
    shared: tuple[str, ...]

    @property
    def different(self) -> FloatArray:
        """The different settings, ascending."""
        return np.unique(self.settings)

    def scale_of(self, number: NumberSeries) -> SettingScale:
        """Return the settings between which a number's trend is drawn."""
        return _scale(self.condition, self.settings[np.array(number.shows)])


def strip_series(
    analyses: Sequence[Analysis],
    by: str,
    wanted: Mapping[str, float] | None = None,
    channel: Channel | None = None,
    scatter: Repeatability | None = None,
) -> StripSeries:
    """Follow the numbers of strips against a condition that their records state.

    Args:
        analyses: strips of one kind and one kind of density, made with the same choices and with draws.
        by: key of the condition.
        wanted: values for which the setting is sought, by number: "ei", "gamma", or "gamma.red" for one channel.
        channel: the channel whose numbers are followed; the one nearest to the eye if None.
        scatter: scatter of the process from strip to strip where it is known.

    Raises:
        StripError: strips cannot stand in one series, no two settings differ, or a name is not known.
    """
    stated = [analysis for analysis in analyses if by in analysis.strip.conditions]
    _check(analyses, stated, by)
    ordered = tuple(sorted(stated, key=lambda a: a.strip.conditions[by]))
    settings = np.array([a.strip.conditions[by] for a in ordered])
    condition = Condition(by, ordered[0].strip.kind)
    if condition.by_ratio and not settings[0] > 0.0:
        raise StripError(f"{by} is {settings[0]:g}", where=ordered[0].strip.title, needed="more than 0")
    shared = set.intersection(*(set(a.channels) for a in ordered))
    if not shared or (channel is not None and channel not in shared):
        raise StripError(f"not every strip has {'one channel' if channel is None else channel}", needed="one channel")
    follow = _FollowedNumbers(condition, ordered, settings, channel or eye_channel(shared), scatter or Repeatability())
    numbers = {key: follow.series(key) for key in follow.followed()}
    found = []
    for name, value in (wanted or {}).items():
        key = follow.key_of(name)
        numbers.setdefault(key, follow.series(key))
        found.append(follow.wanted(numbers[key], value))
    varied = conditions_of([a.strip.conditions for a in ordered])
    return StripSeries(
        condition,
        ordered,
        settings,
        follow.channel,
        numbers,
        tuple(found),
        tuple(a.strip.title for a in analyses if a not in stated),
        tuple(key for key, values in varied.items() if len(values) > 1 and key != by),
        follow.scatter,
        tuple(source.name for source in follow.shared),
    )


def _check(analyses: Sequence[Analysis], stated: Sequence[Analysis], by: str) -> None:
    """Refuse strips that cannot stand in one series.

    Raises:
        StripError: strips cannot be compared, there are no draws, or no two settings of the condition differ.
    """
    for other in analyses[1:]:
        refuse_incomparable(analyses[0], other)
    known = conditions_of([a.strip.conditions for a in analyses])
    if not stated:
        raise StripError(
            f"no strip states '{by}'" if known else "no strip states a condition",
            where="by",
            needed="a number under [conditions] in every record, such as first_developer_minutes = 7.0",
            hint=nearest(by, known) if known else "",
            settings=("by",),
        )
    if len(known[by]) < 2:
        only = f"{len(stated)} strip states it" if len(stated) == 1 else f"it is {known[by][0]:g} on every strip"
        others = [key for key, values in known.items() if len(values) > 1]
        raise StripError(
            f"nothing varies: {only}",
            where="by",
            needed="two different settings, better five",
            hint=f"follow {' or '.join(others)}, which varies" if others else "",
            settings=("by",),
        )
    fewest = min(a.draws for a in stated)
    if fewest < _FEWEST_DRAWS:
        raise StripError(
            f"the strips were analysed with {fewest} draws of their errors, too few for the band of a trend",
            needed=f"at least {_FEWEST_DRAWS}",
            hint="ask for a thousand",
            settings=("draws=1000",),
        )


class _FollowedNumbers:
    """The numbers of the strips of one series."""

    def __init__(
        self,
        condition: Condition,
        analyses: tuple[Analysis, ...],
        settings: FloatArray,
        channel: Channel,
        scatter: Repeatability,
    ) -> None:
        self.condition, self.analyses, self.settings = condition, analyses, settings
        self.channel, self.scatter = channel, scatter
        self.found = [comparable_numbers(analysis) for analysis in analyses]
        self.shared = shared_sources(analyses)
        self.alone = [comparable_numbers(self._alone(analysis)) for analysis in analyses] if self.shared else []
        self.same_light = len({a.strip.log_h_unit for a in analyses}) == 1
        # An exposure that another strip shares repeats less well than its rows, which hold the shared error, tell.
        self.again = np.array(
            [exposed_again(a) if any(a is not b and _one_light(a, b) for b in analyses) else 0.0 for a in analyses]
        )

    def followed(self) -> list[NumberKey]:
        """Return the keys of the numbers that are followed."""
        of_all = {key: number for found in self.found for key, number in found.items()}
        wanted = ((name, of) for name in FOLLOWED for of in (None, self.channel))
        return [key for key in wanted if key in of_all and (self.same_light or not of_all[key].exposed)]

    def key_of(self, name: str) -> NumberKey:
        """Return the key of a number by the name that a person gives it: "ei", "gamma", "gamma.red", "red.gamma".

        Raises:
            StripError: the strips have no such number; names the nearest.
        """
        keys = {(key[0] if key[1] is None else f"{key[0]}.{key[1]}"): key for found in self.found for key in found}
        keys |= {key[0]: key for found in self.found for key in found if key[1] == self.channel}
        known = {word.casefold(): key for word, key in keys.items()}
        known |= {f"{key[1]}.{key[0]}".casefold(): key for key in keys.values() if key[1] is not None}
        if name.casefold() not in known:
            raise StripError(
                f"'{name}' is not a number of these strips",
                where="wanted",
                hint=nearest(name, keys),
                settings=("wanted",),
            )
        return known[name.casefold()]

    def series(self, key: NumberKey) -> NumberSeries:
        """Return one number of all strips with its trend."""
        numbers = tuple(found.get(key) for found in self.found)
        one = next(number for number in numbers if number is not None)
        way = self.condition.way(key[0])
        trend = self._trend(key, numbers, numbers, way)
        alone = tuple(found.get(key) for found in self.alone)
        alike = self._trend(key, numbers, alone, way) if alone and trend is not None else None
        change = None if trend is None else _change(trend, numbers)
        return NumberSeries(key, one.label, one.scale, numbers, alone, trend, alike, way, change)

    def _trend(self, key: NumberKey, numbers: _Numbers, errors: _Numbers, way: int) -> Trend | None:
        """Return the trend of a number; None where fewer than two settings show it.

        Args:
            key: of the number.
            numbers: the number on each strip.
            errors: the number on each strip with the errors that are to count.
            way: usual direction.
        """
        shows = [i for i, n in enumerate(numbers) if is_shown(n)]
        rows = [n.value.rows for i, n in enumerate(errors) if i in shows and n is not None and is_shown(n)]
        if np.unique(self.settings[shows]).size < 2 or len(rows) < len(shows):
            return None
        one = next(n for n in numbers if n is not None)
        scale = _scale(self.condition, self.settings[shows])
        bounds = [
            (float(scale.place(self.settings[i])), n.value.bound[0], n.value.bound[1])
            for i, n in enumerate(numbers)
            if n is not None and n.value.value is None and n.value.bound is not None
        ]
        own = self.again[shows] if one.exposed else np.zeros(len(shows))
        # What all strips gain alike belongs to what they share: it does not count for a value measured alike.
        whole = errors is numbers
        on = StripNumbers(scale.place(self.settings[shows]), _together(rows), own, whole, bounds)
        matters, seed = Tolerances().of(one.scale), self.analyses[0].choices.seed
        return fit_trend(on, one.scale, matters, self.scatter.of(one.scale), way, seed, key[0], key[1] or "")

    def _alone(self, analysis: Analysis) -> Analysis:
        """Return the analysis of a strip with the sources of error alone that not all strips share."""
        shared = {source.key for source in self.shared}
        own = [source.key for source in analysis.sources if source.key not in shared]
        return analyse_alone(analysis.strip, own, analysis.choices)

    def wanted(self, number: NumberSeries, wanted: float) -> WantedSetting:
        """Return the setting at which a number has the wanted value.

        Raises:
            StripError: the value cannot be that of such a number.
        """
        if number.key[1] is None and not wanted > 0.0:
            raise StripError(
                f"{number.label} cannot be {wanted:g}", where="wanted", needed="more than 0", settings=("wanted",)
            )
        if number.trend is None:
            return WantedSetting(number, wanted, Setting(None, None, None, "fewer than two settings show it"), None)
        on = float(on_scale(number.key, np.asarray(wanted)))
        scale = _scale(self.condition, self.settings[np.array(number.shows)])
        passed = tuple(self._passed(number, on, scale))
        of_all, alike = (
            None if trend is None else setting_for(trend, on, scale, number.way, passed)
            for trend in (number.trend, number.alike)
        )
        assert of_all is not None
        return WantedSetting(number, wanted, of_all, alike)

    def _passed(self, number: NumberSeries, wanted: float, scale: SettingScale) -> list[float]:
        """Return settings beyond the trend at which a bound shows that the wanted value is passed already."""
        found = []
        for setting, n in zip(self.settings, number.numbers, strict=True):
            beyond = int(setting > scale.last) - int(setting < scale.first)
            if n is None or n.value.bound is None or not beyond * number.way:
                continue
            side, end = n.value.bound
            if (end >= wanted and side == ">") if beyond * number.way > 0 else (end <= wanted and side == "<"):
                found.append(float(setting))
        return found


def _scale(condition: Condition, settings: FloatArray) -> SettingScale:
    """Return the axis of a trend between the first and the last of some settings."""
    return SettingScale(float(settings.min()), float(settings.max()), condition.by_ratio)


def _one_light(one: Analysis, other: Analysis) -> bool:
    """Return True if two strips share the error of their exposure."""
    return exposures_apart(one, other) <= SHARED


def _change(trend: Trend, numbers: _Numbers) -> NumberDifference:
    """Return the change of a number from the first strip that shows it to the last."""
    shown = [n for n in numbers if n is not None and is_shown(n)]
    tolerance = Tolerances().of(shown[0].scale)
    return NumberDifference(shown[0], shown[-1], trend.change, tolerance, verdict_on(trend.change, tolerance))


def is_shown(number: ComparableNumber | None) -> bool:
    """Return True if a strip shows a number, in enough of its rows."""
    if number is None or number.value.value is None or number.value.rows is None:
        return False
    return bool(np.isnan(number.value.rows).mean() <= _MOST_LOST)


def _together(every: Sequence[FloatArray | None]) -> FloatArray:
    """Return the rows that all strips have, a column for each strip, (r, n).

    A row in which a strip lacks the number takes the strip's number from a row that has it.
    """
    columns = [rows for rows in every if rows is not None]
    together = np.stack([rows[: min(len(c) for c in columns)] for rows in columns], axis=1)
    for column in together.T:
        lost = np.flatnonzero(~np.isfinite(column))
        known = np.flatnonzero(np.isfinite(column))
        column[lost] = column[known[1 + lost % (len(known) - 1)]]
    return together
