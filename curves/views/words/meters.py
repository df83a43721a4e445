"""The meters of a strip in words: its densitometer, and either kind of meter that an index is set on.

An exposure meter looks through the filters, or does not see them.
"""

from __future__ import annotations

import math

from curves.sensitometry.core.units import nominal_speed
from curves.sensitometry.strip.metering import BUILT_CONSTANTS
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis, Basis

_BASES: dict[Basis, str] = {
    "mixed": "highlight and middle, mixed",
    "grey": "the limits of mid-grey",
    "cleared": "the end of highlight detail",
    "shadow": "the end of shadow texture",
}


def basis_name(basis: Basis) -> str:
    """Return the name of a basis, as a person would say it after "by"."""
    return _BASES.get(basis, f"the {basis}")


def match_words(strip: Strip) -> str:
    """Return the matching of a strip's densities, to stand behind their kind; empty if they were not matched."""
    match = strip.match
    if match is None:
        return ""
    residual = "" if match.residual is None else f", residual {match.residual:.3f}"
    return f" (a scan's, matched by {match.patches} patches{residual})"


def constant_words(analysis: Analysis) -> str:
    """Return the k of H = k / EI that an analysis rests on, and its source, in words."""
    k, constant = analysis.metered_exposure, analysis.strip.meter_constant
    built = " and ".join(f"{c:g}" for c in BUILT_CONSTANTS)
    source = f"K = {constant:g}" if constant is not None else f"between the meters of K = {built}"
    return f"k = {k:.3g} lux-seconds ({source})"


def two_meters(through: float | None, hand_held: float | None) -> str:
    """Return in words the index to set on a meter that looks through the filters, and on one that does not see them.

    Args:
        through, hand_held: indexes on the dial; None where there is no index.
    """
    if through is None or hand_held is None:
        return "Meter through the filters: no index. Hand-held meter: no index; the strip is too short."
    return f"Meter through the filters: set {through:g}. Hand-held meter: set {hand_held:g}."


def meter_words(analysis: Analysis) -> str:
    """Return in a sentence the index to set and the meter that it is for."""
    nominal, used = analysis.working_ei.nominal, analysis.strip.filters
    if nominal is None or not used:
        return f"{nominal:g} on any meter: no filter was used."
    through = any(f.metered == "through" for f in used)
    metered, other = ("a meter that looks through the filters", "a hand-held meter")
    if not through:
        metered, other = other, metered
    factor = _factor(analysis)
    if factor is None:
        lost = f"{nominal:g} {'divided by' if through else 'times'} the filter factor, which the record does not state"
        return f"{nominal:g} on {metered}; on {other} {lost}."
    index = analysis.working_ei.recommended.value or nominal
    return f"{nominal:g} on {metered}, {nominal_speed(index / factor if through else index * factor):g} on {other}."


def _factor(analysis: Analysis) -> float | None:
    """Return the factor of all filters that were used [unitless]; None where the record does not state one."""
    factors = [f.factor for f in analysis.strip.filters]
    return None if None in factors else math.prod(factor for factor in factors if factor is not None)


def meters_of(analysis: Analysis) -> str:
    """Return in words the index to set on either kind of meter, for a strip as it was exposed."""
    ei, nominal = analysis.working_ei.recommended.value, analysis.working_ei.nominal
    used = analysis.strip.filters
    if ei is None or nominal is None:
        return "Meter through the filters and hand-held meter: no index yet."
    if not used:
        return f"{two_meters(nominal, nominal)} No filter was used, so they agree."
    named = " + ".join(f.name for f in used)
    through = any(f.metered == "through" for f in used)
    total = _factor(analysis)
    if total is None:
        lost = " and ".join(f"'{f.name}'" for f in used if f.factor is None)
        known, other = ("Meter through the filters", "Hand-held meter")
        operation = "divided by" if through else "times"
        if not through:
            known, other = other, known
        return (
            f"{known}: set {nominal:g}. {other}: set {nominal:g} {operation} the factor that a meter takes {lost} for,"
            " which the record does not state (factor = 2.5 in [[filter]])."
        )
    pair = (nominal, nominal_speed(ei / total)) if through else (nominal_speed(ei * total), nominal)
    return f"{two_meters(*pair)} Between them lies the factor {total:.3g} of {named}."
