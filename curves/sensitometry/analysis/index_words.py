"""The reasons for the index of a reversal strip, and the advice, in a photographer's words.

Every sentence follows from a number of the answer; none is said where its number says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from curves.sensitometry.core.units import two_digits
from curves.sensitometry.uncertainty.results import BaseState, Basis, Shortfall, WorkingEI

HARDLY = "hardly an image"
"""The beginning of the reason for no index where the film's range is too short."""

TELLING = 1.0 / 3.0
"""How far apart highlight and middle lie before both are named, a step of the dial: our own choice [stops]."""

_NO_STOPS = 0.05
"""What rounds to 0.0 in words [stops]."""

_LIMITS: dict[Basis, str] = {
    "grey": "mid-grey just keeps its place as a grey",
    "cleared": "white just keeps its detail",
    "shadow": "the shadow just keeps its texture",
}
"""What an index that lies at a limit of the usable range just keeps."""

_COSTLY_VEIL = 0.10
"""A veil above this is worth a sentence of advice: our own choice [density]."""


@dataclass(frozen=True)
class Background:
    """The numbers that the words need beside the answer.

    Attributes:
        mixed: the index of the mix of highlight and middle alone [unitless]; None where it is not known.
        mixed_net: net density on which that lays mid-grey [density]; None where it is not known.
        latitude: how much more than the scene the film holds [stops]; None where it is not known.
        dmins: the least and the greatest that Dmin can be, where it is not known [density].
        dmin_indexes: the indexes that go with them [unitless].
        inside: False where no step of the dial lies within the range.
        hardly_an_image: True if the film's range is too short for an index.
    """

    mixed: float | None
    mixed_net: float | None
    latitude: float | None
    dmins: tuple[float, float] | None
    dmin_indexes: tuple[float, float] | None
    inside: bool
    hardly_an_image: bool


def explained(ei: WorkingEI, background: Background) -> WorkingEI:
    """Return the answer with its reason and its advice."""
    return replace(ei, reason=" ".join(_reasons(ei, background)), advice=tuple(_advice(ei, background)))


def _reasons(ei: WorkingEI, background: Background) -> Iterator[str]:
    assert ei.base is not None
    if background.hardly_an_image:
        yield f"This is {ei.recommended.why}. No index is named for a picture that has no scale."
        return
    yield _clears(ei.base)
    if ei.recommended.value is None:
        yield "This strip does not show where the scene belongs."
        if ei.shortfall is not None:
            yield _too_long(ei, ei.shortfall)
        return
    if background.dmins is not None and background.dmin_indexes is not None:
        yield _either_dmin(background.dmins, background.dmin_indexes)
    yield from _decided(ei, background)
    yield from _both(ei)
    if ei.shortfall is not None and _told(ei.shortfall):
        yield _too_long(ei, ei.shortfall)
    elif ei.hardly_a_range:
        yield "The film hardly has a range: the scene just fills it."
    elif not background.inside:
        yield "No step of the dial lies within the usable range; the nearest is named."


def _clears(base: BaseState) -> str:
    """Return a sentence on whether the film clears."""
    dmin = base.dmin.value
    if dmin is None:
        return "Whether the film clears is not known, because the strip ends before it does."
    light = f"{base.white_percent:.0f} % of the light"
    if base.held_by is None and base.clears:
        return f"The film clears: its clearest part has density {dmin:.2f}, so whites can be judged."
    if base.clears:
        text = f"The film nearly clears: its clearest part has density {dmin:.2f} and passes {light}."
    else:
        text = (
            f"The film does not clear: its clearest part still has density {dmin:.2f} and passes {light}. White is not"
            " white, and highlights clip before the film looks clear."
        )
    return " ".join([text, *_held(base)])


def _held(base: BaseState) -> Iterator[str]:
    """Yield a sentence on the density that holds the white back."""
    if base.held_by == "base":
        yield f"The base itself has {base.base.value:.2f} of that: a grey base is not a veil, and no process clears it."
    elif base.held_by == "mask":
        yield "What is left has the colour of a mask, which belongs to the film: it is not fog."
    elif base.held_by == "fog":
        yield f"Fog, {base.veil.value:.2f} above the base, holds the white back."


def _decided(ei: WorkingEI, background: Background) -> Iterator[str]:
    """Yield the sentences on the part of the rule that decided."""
    share, alone = ei.highlight_share, background.mixed
    clear = ei.base is not None and ei.base.clears is not False
    if background.latitude is not None and background.latitude <= -_NO_STOPS and clear:
        count = "cannot be judged" if share == 0.0 else "count for less"
        yield f"The film holds {-background.latitude:.1f} stops less than the scene, so whites {count}."
    if ei.basis == "highlight":
        yield "Scene white is laid on T, where highlights have their last full tone."
    elif ei.basis == "middle":
        yield "Mid-grey belongs in the middle of the curve."
    elif ei.basis == "mixed" and share is not None:
        yield (
            f"The index lies between what the highlights and what the middle of the curve ask for; the highlights count"
            f" for {100 * share:.0f} %."
        )
    elif alone is not None and ei.basis in ("cleared", "shadow", "grey"):
        yield _moved(ei, alone, background.mixed_net)


def _either_dmin(dmins: tuple[float, float], indexes: tuple[float, float]) -> str:
    """Return a sentence on the index with the least and with the greatest Dmin that is possible."""
    (least, most), (lower, upper) = dmins, (two_digits(index) for index in indexes)
    between = f"Dmin lies between {least:.2f} and {most:.2f}"
    if lower == upper:
        return f"{between}: with either the index is {lower}."
    return (
        f"{between}: with the one the index is {lower}, with the other {upper}. The index named is the middle of what"
        " is possible, and its interval holds all of it."
    )


def _moved(ei: WorkingEI, alone: float, net: float | None) -> str:
    """Return the reason for an index other than that of highlight and middle alone."""
    assert ei.recommended.value is not None
    if two_digits(alone) == two_digits(ei.recommended.value):
        return f"Highlight and middle together ask for {two_digits(alone)}, at which {_LIMITS[ei.basis]}."
    lower = alone < ei.recommended.value
    first = f"Highlight and middle alone would give {two_digits(alone)}"
    if ei.basis == "grey":
        how, state = ("thin", "lowest") if lower else ("dense", "highest")
        at = "" if net is None else f", at net density {net:.2f}"
        return f"{first}, where mid-grey is too {how} for a grey{at}: the {state} index that keeps it is taken instead."
    if ei.basis == "cleared":
        lost = "scene white has already lost its detail" if lower else "the textured shadow has lost more than it need"
        return f"{first}, where {lost}: the index at which white just keeps its detail is taken instead."
    lost = "scene white has lost more than it need" if lower else "the textured shadow has already lost its texture"
    return f"{first}, where {lost}: the index at which the shadow just keeps its texture is taken instead."


def _both(ei: WorkingEI) -> Iterator[str]:
    """Yield both indexes where highlight and middle differ by more than a step of the dial."""
    one, other = (ei.criteria[name].ei.value for name in ("highlight", "middle"))
    if one is not None and other is not None and abs(math.log2(one / other)) > TELLING:
        yield f"The highlights alone ask for {two_digits(one)}, the middle of the curve for {two_digits(other)}."


def loss_words(ei: WorkingEI) -> str | None:
    """Return in a sentence what a scene that is longer than the film loses; None where the film holds the scene."""
    return None if ei.shortfall is None or not _told(ei.shortfall) else _too_long(ei, ei.shortfall)


def _told(short: Shortfall) -> bool:
    """Return True if a shortfall is more than the rounding of its words."""
    return short.stops.value is None or short.stops.value >= _NO_STOPS


def _too_long(ei: WorkingEI, short: Shortfall) -> str:
    """Return the losses of a scene that is longer than the film, in a sentence."""
    hardly = "The film hardly has a range: the scene is" if ei.hardly_a_range else "The scene is"
    longer = f"{hardly} {stops_longer(short)} longer than this film"
    (low, high), (first, second) = short.keeps, short.lost
    if low is None or high is None or first is None or second is None:
        return f"{longer}."
    # Rounded so that the two add up.
    n, first = round(short.stops.value or 0.0, 1), round(first, 1)
    losses = " and ".join(
        f"{what} {how} by {by:.1f} stops" if by >= _NO_STOPS else f"{what} has {max(-by, 0.0):.1f} to spare"
        for what, how, by in zip(short.ends, _lost(short), (first, n - first), strict=True)
    )
    if two_digits(low) == two_digits(high):
        return f"{longer}: at EI {ei.nominal:g} {losses}."
    keeps = " and ".join(f"{two_digits(k)} keeps {what}" for k, what in zip((low, high), short.ends, strict=True))
    return f"{longer}: at EI {ei.nominal:g} {losses}; {keeps}."


def stops_longer(short: Shortfall) -> str:
    """Return the stops by which a scene is longer than the film, in words."""
    stops = short.stops
    if stops.value is not None:
        return f"{stops.value:.1f} stops"
    return f"at least {max(stops.bound[1], 0.0):.1f} stops" if stops.bound else "some stops"


def _lost(short: Shortfall) -> tuple[str, str]:
    """Return the words for the loss of each end: of the tone at the thin end, and of the one at the dense end."""
    thin, dense = short.ends
    return (
        "is lost" if thin != "mid-grey" else "is too thin",
        "is lost" if dense != "mid-grey" else "is too dense",
    )


def _advice(ei: WorkingEI, background: Background) -> Iterator[str]:
    """Yield the advice, each a sentence."""
    base = ei.base
    assert base is not None
    if background.hardly_an_image:
        yield "Look at process and exposure: a film that was developed right has a longer range."
        return
    lost = [q.why for q in (ei.recommended, *ei.range) if q.value is None and q.why]
    if lost:
        yield f"The strip did not reach far enough: {lost[0]}."
    if ei.shortfall is not None and _told(ei.shortfall):
        yield f"Light the scene so that it is {stops_longer(ei.shortfall)} shorter, or give up one end of it."
    if base.base.value is None:
        yield "Read the density of the bare base too: it tells how much of Dmin is fog that could be removed."
    veil = base.veil.value
    if veil is not None and veil > _COSTLY_VEIL and base.held_by != "mask" and base.veil_stops is not None:
        yield (
            f"The veil of {veil:.2f} above the base costs {base.veil_stops:.1f} stops of light on the screen: find what"
            " leaves it before trusting highlights."
        )
    if ei.other_middle is not None and ei.other_middle.ei.value is not None:
        yield "Read the layers apart, or look for fog: two shoulders are seldom one film as it was meant."
