"""The grain of films in the terminal: how much each film has, which is finer, and how sure that is."""

from __future__ import annotations

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.grain.comparison import Comparison
from curves.sensitometry.grain.film_grain import ChannelGrain, FilmGrain, GrainPoint
from curves.views.words.digits import show
from curves.views.words.wrapping import listed, row, wrapped

DIGITS = 1
"""Most decimals of a granularity that are shown."""


def grain_text(found: Comparison) -> str:
    """Return granularity at the density asked for, the verdicts, the curve of each film, and remarks."""
    lines = [*wrapped(heading(found)), ""]
    for film in found.films:
        lines += row(film.name, at_words(film.channels["visual"].at))
    if found.verdicts:
        lines.append("")
        for verdict in found.verdicts:
            lines += wrapped(f"{verdict.sentence}.")
    for film in found.films:
        lines += ["", *_film(film)]
    lines += listed("Remarks:", grain_remarks(found))
    lines += listed("What the numbers rest on:", grain_notes(found))
    return "\n".join(lines) + "\n"


def heading(found: Comparison) -> str:
    """Return the heading: "Rms granularity through 48 um at visual density 1.00"."""
    return f"Rms granularity through {found.aperture:g} um at visual density {found.density:.2f}"


def at_words(q: Quantity) -> str:
    """Return a granularity with its interval and the patches that it comes from, or the reason there is none."""
    note = f", {q.note}" if q.note else ""
    return show(q, digits=DIGITS) + note if q.value is not None else show(q, digits=DIGITS) + (note if q.bound else "")


def noise_words(film: FilmGrain) -> str:
    """Return a clause on how the scanner's noise on a film was subtracted."""
    if film.noise_known == "nothing":
        return "the scanner's noise was not taken off: no clear frame"
    frames = "a clear frame" if film.noise_known == "clear" else "a clear and a dark frame"
    return f"the scanner's noise was taken off by {frames}"


def film_words(film: FilmGrain) -> str:
    """Return the resolution of a film's scan and how its noise was subtracted, as a clause."""
    estimated = "; visual is estimated from red, green and blue" if film.estimated else ""
    return f"{film.dpi:.0f} dpi; {noise_words(film)}{estimated}"


def grain_remarks(found: Comparison) -> list[str]:
    """Return the warnings and the patches that could not be measured, each a sentence."""
    refused = [f"{sentence}." for film in found.films for sentence in film.refused]
    return [*(f"{n.message}." for n in found.warnings), *refused]


def grain_notes(found: Comparison) -> list[str]:
    """Return the method and assumptions behind the numbers, each a sentence."""
    notes = [
        f"Granularity is 1000 times the standard deviation of density through a circle of {found.aperture:g} um. Light"
        " is averaged over the circle first, and then its density taken, as a microdensitometer does.",
        "Brackets hold 95 % intervals, from the scatter of a patch's independent readings, the noise that was"
        " subtracted, and the correction for pixels.",
        "A second-order trend is removed from each patch; dust, scratches and all places within one aperture of them"
        " are set aside.",
        "The blur of the circle by square pixels is corrected. The blur of the scanner's lens is not, and a scanner's"
        " light may be more directed than a densitometer's: compare films on one scanner.",
    ]
    known = {film.noise_known for film in found.films}
    if "clear and dark" in known:
        notes.append(
            "With a clear and a dark frame, noise is taken as a constant part and a part that grows with light."
        )
    if "clear" in known:
        notes.append(
            "With a clear frame alone, noise is taken to grow with light; intervals reach from noise that is constant"
            " in density to noise that does not depend on light."
        )
    if any(film.estimated for film in found.films):
        notes.append("Visual transmittance is mixed pixel by pixel: 0.33 red, 0.655 green, 0.015 blue.")
    if len(found.verdicts) > 1:
        notes.append(
            f"The intervals of ratios are widened so that all {len(found.verdicts)} verdicts together are right with"
            " 95 %."
        )
    return notes


def share_words(share: float) -> str:
    """Return a share as a percentage: "0 %", "under 0.1 %", "2.3 %"."""
    if share <= 0.0:
        return "0 %"
    return "under 0.1 %" if share < 0.001 else f"{100.0 * share:.1f} %"


def noise_number(point: GrainPoint) -> str:
    """Return the scanner's part of a patch's granularity, or "not known"."""
    return "not known" if point.found.noise is None else f"{point.found.noise:.1f}"


def _film(film: FilmGrain) -> list[str]:
    lines = wrapped(f"{film.name}: {film_words(film)}")
    lines.append("  channel  density  granularity           scanner   readings  set aside")
    for channel in film.channels.values():
        lines += _channel(channel)
    return lines


def _channel(channel: ChannelGrain) -> list[str]:
    lines = []
    for number, point in enumerate(channel.points):
        found, name = point.found, channel.channel if number == 0 else ""
        shown = show(Quantity(*_ends(found.rms), bound=found.rms.bound), digits=DIGITS)
        lines.append(
            f"  {name:<7}  {found.density:7.2f}  {shown:<20}  {noise_number(point):<9}"
            f" {found.apertures:8.0f}  {share_words(found.set_aside)}"
        )
    return lines


def _ends(q: Quantity) -> tuple[float | None, float | None, float | None]:
    return q.value, q.low, q.high
