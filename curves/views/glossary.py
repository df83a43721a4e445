"""Every word and number that the tool prints: what it is, how it is found here, and what it is not.

`TERMS` is the one source: `curves explain` prints it, and a test holds every key of the JSON against it.
"""

from __future__ import annotations

import difflib
import textwrap
from dataclasses import dataclass

from curves.errors import RecordError
from curves.sensitometry.measures import MEASURES

WIDTH = 79


@dataclass(frozen=True)
class Term:
    """One entry.

    Attributes:
        name: as a person writes it.
        what: what it is, in a sentence or two.
        found: how it is found here, with its formula if it has one.
        source: where the definition comes from.
        is_not: what it is often taken for.
        keys: the JSON keys that carry it.
    """

    name: str
    what: str
    found: str = ""
    source: str = ""
    is_not: str = ""
    keys: tuple[str, ...] = ()


_DETAIL = {
    "dmin": ("A measured patch first; else the fitted end where the curve has flattened (it moves less than 0.03 over"
             " the last stop); else a bound.", "own choice of the 0.03", "It is not the base: fog and dye add to it."),
    "dmax": ("As Dmin, at the other end.", "", "It is not what the film could give in another process."),
    "base": ("From the base patch: film with no image and no fog.", "", ""),
    "veil": ("Dmin - base.", "", "It is not all fog: in a colour negative a masking dye is part of it."),
    "gamma": ("Least-squares slope of the fitted curve over the longest log H interval whose gradient is at least 90 %"
              " of the greatest.", "own choice of the 90 %", "It is not the average gradient, which joins two points."),
    "average_gradient": ("(D2 - D1) / (log H2 - log H1).", "standards use 1.30 and 1.50 log H", "It is not gamma."),
    "contrast_index": ("The line passes through an origin on the base-plus-fog line; equal units on both axes. A"
                       " reversal curve is mirrored.", "handbooks of sensitometry", ""),
    "range_stops": ("From net density 0.04 (reversal) or 0.10 (negative) to 90 % of Dmax - Dmin, over 0.30103.",
                    "0.04 is the highlight limit of ISO 6846; 90 % is our own choice", "It is not the scene's range."),
}  # fmt: skip


def _measures() -> tuple[Term, ...]:
    """Return the measures of the table as terms."""
    terms = []
    for measure in MEASURES:
        found, source, is_not = _DETAIL.get(measure.key, ("", "", ""))
        terms.append(Term(measure.label, measure.what, found, source, is_not, (measure.key,)))
    return tuple(terms)


TERMS: tuple[Term, ...] = (
    Term("wedge", "A step tablet: a ladder of known densities that the film is exposed through.",
         "Nominal (steps, increment) or calibrated step by step."),
    Term("strip", "One exposed and processed wedge, or bracket, and all that is known about it.",
         keys=("strips", "title", "format")),
    Term("step", "One patch of the strip, numbered from 1 at the wedge's clear end.",
         "Rows with the same step are repeats: their mean is fitted, weighted by their number.",
         keys=("step", "steps", "label", "repeats")),
    Term("channel", "Red, green, blue or visual density.",
         "Visual density that was not read is estimated: -log10(0.33 x 10^-Dr + 0.655 x 10^-Dg + 0.015 x 10^-Db).",
         "rms error 0.04 on the dyes of five transparency films (open target data)",
         keys=("channel", "channels", "red", "green", "blue", "visual", "estimated")),
    Term("density", "log10 of one over the transmittance: 0.30 passes half the light, 1.0 a tenth, 2.0 a hundredth.",
         "As read. Status A is for pictures to be looked at, status M for negatives to be printed, visual is what the"
         " eye sees, scan is a scanner's own.", "ISO 5",
         "Densities of different kinds are not the same numbers; nothing is converted in silence.", ("density",)),
    Term("log H", "log10 of exposure: lux-seconds where the light was known, else relative to the metered mid-grey.",
         "Contact: log10(lux x seconds) - wedge density. Camera: from the metered step, with flare added. Frames:"
         " 0.30103 for each stop.", keys=("log_h", "log_h_unit")),
    Term("stop", "A doubling of exposure: 0.30103 of log H. Factor = 2^stops = 10^density."),
    Term("EI", "Exposure index: the number set on the meter.",
         "Mid-grey gets H = k / EI at the film plane; k is 10 lux-seconds by ISO 12232, 8.15 by the constants of ISO"
         " 2720. An EI from a metered strip does not depend on k.", "ISO 12232, ISO 2720",
         "It is not an ISO speed: it holds for your film, process and meter.", ("ei", "metered_exposure")),
    Term("kind", "Negative: density rises with exposure. Reversal: it falls.", keys=("kind",)),
    Term("net density", "Density above Dmin."),
    *_measures(),
    Term("straight line", "The part of the curve that gamma is the slope of.", keys=("straight_line",)),
    Term("fitted", "The curve at a step: one monotone smooth function through all steps of a channel.",
         "A cubic spline with non-negative increments; its roughness penalty has the greatest restricted likelihood.",
         keys=("fitted",)),
    Term("residual", "Reading less curve. A pattern, rather than scatter, means that the curve is wrong there.",
         keys=("residual",)),
    Term("flag", "Why a step was set aside: it lies off the curve of all other steps by more than chance gives a"
         " whole strip once in a thousand.",
         is_not="It is never dropped in silence: it stays in every table.", keys=("flag",)),
    Term("interval", "The 95 % interval of a number: low to high.",
         "From 1000 curves that the readings allow, over noise and smoothness. It carries the scatter of the readings.",
         "Monte Carlo as in JCGM 101", "It does not hold the meter, the light or the wedge yet.",
         ("value", "low", "high", "how", "note")),
    Term("bound", "A number that the strip did not reach lies below or above this; the reason says what to do.",
         is_not="It is not an estimate: nothing is extrapolated.", keys=("bound", "why")),
    Term("T", "The highlight point of a reversal curve: Dmin + 0.20.", source="ISO 2240, from memory",
         keys=("T", "points", "meaning")),
    Term("S", "The shadow point of a reversal curve: Dmin + 2.00, or where the line from T touches the shoulder,"
         " whichever has the lower density.", source="ISO 2240, from memory", keys=("S",)),
    Term("M", "Halfway between T and S in log H.", keys=("M",)),
    Term("speed point", "Where a negative has risen 0.10 above Dmin.", source="ISO 6", keys=("speed",)),
    Term("speed", "A film's speed by a standard's rule, with every reason why it may not be called the standard's.",
         "Rounded in the log: n degrees cover 10^((n-1.5)/10) to 10^((n-0.5)/10).",
         is_not="Nothing read speaks against the standard is not the same as conforming: light and processing are"
         " yours to vouch for.",
         keys=("speeds", "nominal", "degrees", "conforms", "why_not", "branch")),
    Term("ISO 2240", "Speed of a colour reversal film.", "10 / Hm, Hm = sqrt(H_T x H_S).", "ISO 2240, from memory",
         keys=("iso_2240",)),
    Term("ISO 6", "Speed of a black-and-white negative.",
         "0.8 / Hm at Dmin + 0.10, if density gains 0.80 over the 1.30 log H that follow.", "ISO 6", keys=("iso_6",)),
    Term("ISO 5800", "Speed of a colour negative.",
         "sqrt(2) / Hm, Hm = sqrt(H_green x H_slowest) at Dmin + 0.15, status M.", "ISO 5800, from memory",
         keys=("iso_5800",)),
    Term("fractional gradient", "Speed from where the toe becomes steep enough for shadows, whatever the contrast.",
         "Gradient 0.3 of the average over the next 1.50 log H; quick form 0.83 - 0.86 d + 0.24 d^2 below the 0.10"
         " point.",
         "handbooks of sensitometry; quick form from memory", keys=("fractional_gradient",)),
    Term("working EI", "What to set the meter to, and how far it may be moved.",
         "Where the film clears, white is laid on T; where it does not, mid-grey on M; a negative's from its speed"
         " point. If that lies outside the usable range, the nearest end is taken.",
         keys=("working_ei", "recommended", "basis", "reason", "advice", "criteria")),
    Term("usable range", "From the index at which scene white loses its detail to the one at which the textured shadow"
         " loses its texture.", is_not="Where the first is above the second, the scene is longer than the film holds.",
         keys=("range", "range_why", "too_long_stops")),
    Term("highlight", "The criterion that lays scene white (0.70 above mid-grey) on T.",
         "EI = EI of the test x 10^-(log H of T - 0.70).", "common practice: 90 % against 18 %", keys=("highlight",)),
    Term("middle", "The criterion that lays mid-grey on M.", keys=("middle",)),
    Term("shadow", "The criterion that lays the textured shadow (0.90 below mid-grey) where texture ends.",
         source="common practice: three stops", keys=("shadow",)),
    Term("cleared", "The criterion that lays scene white where detail ends, net density 0.04.", source="ISO 6846",
         keys=("cleared",)),
    Term("clears", "Whether the whites of a slide can be judged.",
         "Dmin at most 0.20 and veil at most 0.10. White passes 100 x 10^-Dmin per cent of an open gate.",
         "own choice; transparency films have visual Dmin 0.08 to 0.15 (open target data)",
         keys=("clears", "white_percent", "veil_stops")),
    Term("layers", "How far apart the layers lie at T and at S, and which of them clears last.",
         is_not="A filter moves a layer along log H; it cannot mend a spread that differs between T and S.",
         keys=("layers", "t_stops", "s_stops", "last_to_clear")),
    Term("warning", "Something to know beside the numbers: a code for machines, a sentence for people.",
         keys=("warnings", "code", "message")),
)  # fmt: skip


def find(name: str) -> Term:
    """Return the term called ``name``, or carrying the JSON key ``name``; case and underscores do not matter.

    Raises:
        RecordError: there is no such term; names the closest.
    """
    wanted = _plain(name)
    by_name = {_plain(term.name): term for term in TERMS}
    by_key = {_plain(key): term for term in TERMS for key in term.keys}
    if wanted in by_name:
        return by_name[wanted]
    if wanted in by_key:
        return by_key[wanted]
    close = difflib.get_close_matches(wanted, [*by_name, *by_key], n=3, cutoff=0.5)
    hint = "try " + ", ".join(close) if close else "run 'curves explain' for the list"
    raise RecordError(f"'{name}' is not in the glossary", hint=hint)


def explained(term: Term) -> str:
    """Return one term as text."""
    lines = [term.name]
    for label, text in (
        ("", term.what),
        ("here: ", term.found),
        ("source: ", term.source),
        ("mind: ", term.is_not),
        ("in JSON: ", ", ".join(term.keys)),
    ):
        if text:
            lines += textwrap.wrap(label + text, WIDTH, initial_indent="  ", subsequent_indent="    ")
    return "\n".join(lines)


def listing() -> str:
    """Return all terms, one line each."""
    width = max(len(term.name) for term in TERMS)
    room = WIDTH - width - 2
    return "\n".join(f"{term.name:<{width}}  {textwrap.shorten(term.what, room, placeholder=' ...')}" for term in TERMS)


def _plain(name: str) -> str:
    return name.lower().replace("_", " ").strip()
