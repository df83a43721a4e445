"""A series in words: the setting that a wanted number needs, the change of each number, and what to know of both."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.series.condition import Condition
from curves.sensitometry.series.setting import Setting
from curves.sensitometry.series.strips import NumberSeries, StripSeries, WantedSetting
from curves.sensitometry.series.trend import FEWEST_SETTINGS, USUAL_SCATTER
from curves.views.many.comparison import UNITS, difference_words
from curves.views.words import digits
from curves.views.words.cautions import CHEMISTRY
from curves.views.words.wrapping import listed, wrapped

_NAME, _COLUMN, _MOST_COLUMNS = 16, 6, 5

_MORE = {"°C": ("warmer", "cooler"), "°F": ("warmer", "cooler")}

_TIMES = {"s", "min", "h", "days", "weeks", "months", "years"}

_THINGS = ("wedge", "light", "reader", "meter")
"""Things that strips may share, by a word in the names of their sources of error."""

_CONTRADICTED = 2.5
"""Distance of a trend from its usual direction beyond which the words tell the reader of it [standard uncertainties]:
our own choice."""


def series_text(found: StripSeries, *, full: bool = False) -> str:
    """Return a series as text: the answer first, then a table of the numbers, then what to know of them.

    Args:
        found: the series.
        full: True for what the trade knows of the condition and what the strips share, too.
    """
    lines = []
    for wanted in found.wanted:
        first, *more = wanted_lines(wanted, found)
        lines += [*wrapped(first), *(line for text in more for line in wrapped(text, indent=2))]
    lines += [*([""] if lines else []), *wrapped(heading(found)), ""]
    columns = _columns(found)
    heads = "".join(f"{setting:>{_COLUMN}g}" for setting in columns)
    unit = f"{found.condition.unit}; change".removeprefix("; ")
    lines.append(f"{f'{found.channel} channel':<{_NAME}}{heads} {unit}")
    lines += [line for number in found.numbers.values() for line in _row(number, found, columns)]
    lines += listed("Remarks:", [*remarks(found), *(background(found) if full else []), CHEMISTRY])
    return "\n".join(lines) + "\n"


def _columns(found: StripSeries) -> list[float]:
    """Return the settings that have a column: all, or the ends and some between."""
    different = found.different
    places = np.unique(np.linspace(0, different.size - 1, min(different.size, _MOST_COLUMNS)).round().astype(int))
    return [float(setting) for setting in different[places]]


def _row(number: NumberSeries, found: StripSeries, columns: list[float]) -> list[str]:
    """Return the row of one number: its mean at each setting, and its change."""
    cells = []
    for setting in columns:
        here = [
            n.shown
            for n, at in zip(number.numbers, found.settings, strict=True)
            if at == setting and n is not None and n.shown.value is not None
        ]
        mean = float(np.mean([q.value for q in here if q.value is not None])) if here else None
        cells.append("-" if mean is None else digits.number(mean, digits.decimals(here[0])))
    name = number_words(number) if number.key[1] not in (None, found.channel) else number.label
    told = f"{name:<{_NAME}}{''.join(f'{cell:>{_COLUMN}}' for cell in cells)} {change_words(number)}"
    return wrapped(told, hanging=_NAME + _COLUMN * len(columns) + 1)


def _more_and_less(condition: Condition) -> tuple[str, str]:
    """Return the words for more and for less of a condition: "longer" and "shorter" of a time."""
    if condition.unit in _TIMES:
        return "longer", "shorter"
    return _MORE.get(condition.unit, ("more", "less"))


def heading(found: StripSeries) -> str:
    """Return the condition that was varied, its settings and the number of strips, in a sentence."""
    different, condition = found.different, found.condition
    films = sorted({a.strip.film for a in found.analyses if a.strip.film})
    film = f"{films[0]}: " if len(films) == 1 else ""
    count = len(found.analyses)
    at = f"{count} strips" if count == different.size else f"{count} strips at {different.size} settings"
    return f"{film}{condition.name} from {different[0]:g} to {condition.shown(different[-1])}, {at}."


def sentence(text: str) -> str:
    """Return a text that begins with a capital letter."""
    return text[:1].upper() + text[1:]


def number_words(number: NumberSeries) -> str:
    """Return the name of a number with its channel."""
    channel = number.key[1]
    return number.label if channel is None else f"{number.label} ({channel})"


def _setting_words(setting: Setting, found: StripSeries, number: NumberSeries) -> str:
    """Return a setting in words: "8.9 min (8.3 to 9.6)", "8.3 min or longer", "longer than 10 min"."""
    condition, (more, less) = found.condition, _more_and_less(found.condition)
    if not setting.known:
        return f"not known: {setting.why}"
    places = _decimals(setting, found)
    low = None if setting.low is None else _rounded(setting.low, places, up=False)
    high = None if setting.high is None else _rounded(setting.high, places, up=True)
    ends = f"{low} to {high}" if low and high else f"{low} or {more}" if low else f"{high} or {less}" if high else ""
    if setting.value is not None:
        value = condition.shown(setting.value, places)
        return f"{value} ({ends})" if ends else f"{value}, though every setting of the series fits"
    scale = found.scale_of(number)
    if low and high:
        return f"between {low} and {high} {condition.unit}".rstrip()
    if setting.low is not None and setting.low >= scale.last:
        return f"{more} than {condition.shown(scale.last)}"
    if setting.high is not None and setting.high <= scale.first:
        return f"{less} than {condition.shown(scale.first)}"
    return f"{low} {condition.unit} or {more}" if low else f"{high} {condition.unit} or {less}"


def wanted_lines(wanted: WantedSetting, found: StripSeries) -> Iterator[str]:
    """Yield the answer to one wanted number: the setting, and the setting for a value measured as the strips were."""
    setting, number = wanted.setting, wanted.number
    name = f"{found.condition.name} " if setting.known else ""
    yield f"{sentence(number_words(number))} {wanted.wanted:g}: {name}{_setting_words(setting, found, number)}."
    if wanted.alike is not None and wanted.alike.known and wanted.alike != setting:
        told = _setting_words(wanted.alike, found, number)
        yield f"{wanted.wanted:g} as {_shared_words(found)} it: {told}."
    if setting.why and (setting.low is not None or setting.high is not None):
        ends = _number_at_ends(number)
        yield sentence(f"{setting.why}{f'; {ends}' if ends else ''}.")


def _shared_words(found: StripSeries) -> str:
    """Return the things that all strips share, as a subject with its verb: "the same wedge, light and reader show"."""
    things = [thing for thing in _THINGS if any(thing in name for name in found.shared)]
    if not things:
        return "the same instruments show"
    *others, last = things
    return f"the same {', '.join(others)} and {last} show" if others else f"the same {last} shows"


def _number_at_ends(number: NumberSeries) -> str:
    """Return a number at the first and at the last setting that shows it: "6.8 at first, 14 at last"."""
    shown = [n for n, there in zip(number.numbers, number.shows, strict=True) if there and n is not None]
    if len(shown) < 2:
        return ""
    return f"the strips show {digits.value(shown[0].shown)} to {digits.value(shown[-1].shown)}"


def change_words(number: NumberSeries) -> str:
    """Return the change of a number from the first setting to the last: "1.0 stops faster (0.6 to 1.4)"."""
    return "not known" if number.change is None else difference_words(number.change)


def remarks(found: StripSeries) -> Iterator[str]:
    """Yield remarks on the trends, the gravest first, each a sentence or two."""
    yield from _contradictions(found)
    yield from _moves(found)
    yield from _bounds(found)
    yield from _confounded(found)
    settings = found.different.size
    if settings < FEWEST_SETTINGS:
        yield "Two settings show that a number changes, not its course between them: take three, better five."
    elif settings == FEWEST_SETTINGS:
        yield "Three settings hardly show a bend: between them the trends rest on what is usual; five are better."
    yield _scatter_words(found)


def _contradictions(found: StripSeries) -> Iterator[str]:
    """Yield the numbers that go against their usual direction."""
    for number in found.numbers.values():
        if number.trend is not None and number.trend.against > _CONTRADICTED:
            usual = "rises" if number.way > 0 else "falls"
            yield (
                f"{number_words(number)} usually {usual} with more of this condition; these strips contradict it by"
                f" {number.trend.against:.1f} standard uncertainties. Its trend is drawn as they show it: look for a"
                " strip exchanged, misread or processed otherwise."
            )


def _moves(found: StripSeries) -> Iterator[str]:
    """Yield the numbers that move though this condition usually leaves them."""
    effect = found.condition.effect
    moved = [
        n for n in found.numbers.values() if n.key[0] in effect.stays and n.change and n.change.verdict == "differs"
    ]
    if moved:
        named = "; ".join(f"{number_words(n)} {change_words(n)}" for n in moved)
        yield f"Usually unmoved, but here: {named}. {effect.if_moved}"


def _bounds(found: StripSeries) -> Iterator[str]:
    """Yield the strips that do not show a number, and whether their bounds count."""
    for number in found.numbers.values():
        lacking = [i for i, there in enumerate(number.shows) if not there]
        if not lacking:
            continue
        told = []
        for i in lacking:
            n = number.numbers[i]
            known = "not known" if n is None or n.value.value is not None else digits.value(n.shown)
            told.append(f"{known} at {found.condition.shown(found.settings[i])}")
        heeded = "" if number.trend is None or number.trend.heeded else "; the trend contradicts these bounds"
        by = "every" if any(number.shows) else "any"
        yield f"{sentence(number_words(number))} is not shown by {by} strip: {', '.join(told)}{heeded}."


def _confounded(found: StripSeries) -> Iterator[str]:
    """Yield the other differences between the strips, and the strips that were left out."""
    if found.also_varied:
        yield f"Varied too, so that its effect is in the trends: {', '.join(found.also_varied)}."
    films = sorted({a.strip.film for a in found.analyses if a.strip.film})
    if len(films) > 1:
        yield f"The strips are of different films, {', '.join(films)}: their difference is in the trends."
    if found.left_out:
        yield f"Left out, because the record does not state {found.condition.key}: {', '.join(found.left_out)}."


def _scatter_words(found: StripSeries) -> str:
    """Return the scatter from strip to strip behind the trends, scale by scale, and how it is known."""
    told = {}
    for number in found.numbers.values():
        if number.trend is None or number.scale in told:
            continue
        known, size = number.trend.scatter_from, digits.value(number.trend.scatter)
        how = {
            "stated": "stated",
            "assumed": f"assumed about {USUAL_SCATTER[number.scale]:g}",
            "strips": "as the strips show",
        }
        told[number.scale] = f"{size} {UNITS[number.scale]} ({how[known]})"
    return f"Scatter of the process from strip to strip, in every interval: {', '.join(told.values())}."


def background(found: StripSeries) -> Iterator[str]:
    """Yield the usual effect of the condition, and the errors that the strips share, each a sentence or two."""
    yield f"{found.condition.effect.says} Common practice."
    if found.shared:
        yield f"Shared by all strips, so that it moves a trend as a whole: {'; '.join(found.shared)}."


def _decimals(setting: Setting, found: StripSeries) -> int:
    """Return the decimals that an interval of settings asks for."""
    first, last = float(found.different[0]), float(found.different[-1])
    low = first if setting.low is None else setting.low
    high = last if setting.high is None else setting.high
    value = setting.value if setting.value is not None else 0.5 * (low + high)
    return digits.decimals(Quantity(value, min(low, value), max(high, value)))


def _rounded(end: float, places: int, *, up: bool) -> str:
    """Return one end of an interval of settings, rounded outwards."""
    scaled = end * 10.0**places
    outward = math.ceil(scaled - 1e-9) if up else math.floor(scaled + 1e-9)
    return digits.number(outward / 10.0**places, places)
