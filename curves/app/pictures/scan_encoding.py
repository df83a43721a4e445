"""The encoding that a scan is read by: as a person declares it, as a calibration wedge shows it, or linear.

A declared encoding that the evidence contradicts is used all the same, and the doubt goes with the strip from then on.
Without a declaration a calibration wedge decides; without a wedge a picture that looks encoded is not read at all.
"""

from __future__ import annotations

from dataclasses import dataclass

from curves.errors import RecordError
from curves.files.scans.light import Light
from curves.files.scans.scan import Scan
from curves.files.strips.calibration import CalibrationRecord, WedgeLight
from curves.sensitometry.scan.encoding import (
    LINEAR,
    SRGB,
    Encoding,
    encoding_stated,
)
from curves.sensitometry.scan.wedge_numbers import EncodingFit, WedgeNumbers

RULES = "linear, srgb, or gamma:N, such as gamma:2.2"
"""The ways to write an encoding."""


@dataclass(frozen=True)
class EncodingChoice:
    """The encoding that a picture is read by.

    Attributes:
        encoding: the encoding.
        doubt: the evidence against it, as a clause; "" if there is none.
        note: how it was found or confirmed, a sentence; "" if nothing shows it.
    """

    encoding: Encoding
    doubt: str = ""
    note: str = ""

    @property
    def sentence(self) -> str:
        """The doubt as a sentence; "" if there is none."""
        return f"The scan is read as {self.encoding.words}, but {self.doubt}." if self.doubt else ""


def unsettled(scan: Scan, *, wedge: bool = True) -> RecordError | None:
    """Return the refusal of a picture that looks encoded without a declaration; None if it looks linear.

    Args:
        scan: the picture.
        wedge: True if a wedge could be given instead.
    """
    signs = scan.signs()
    advice = "give the rule that the scanning program states, or scan linear with 16 bits"
    if not signs:
        return None
    likely = encoding_stated(scan.facts.stated) or SRGB
    return RecordError(
        f"the picture looks encoded for display: {signs}",
        where=scan.facts.path.name,
        needed=f"the rule by which its numbers follow light ({RULES})",
        hint=advice + (", or scan a wedge of known densities with it, which shows the rule" if wedge else ""),
        settings=(f"encoding={likely.name}", *(("known",) if wedge else ())),
    )


def without_wedge(scan: Scan, declared: Encoding | None, *, wedge: bool = True) -> EncodingChoice:
    """Return the encoding of a picture that shows no calibration wedge, and read the picture by it.

    Args:
        scan: the picture.
        declared: the encoding that a person gives; None if none is given.
        wedge: True if a wedge could be given instead.

    Raises:
        RecordError: the picture looks encoded, and no encoding is given.
    """
    refusal = unsettled(scan, wedge=wedge) if declared is None else None
    if refusal is not None:
        raise refusal
    scan.read_as(declared or LINEAR)
    return EncodingChoice(scan.encoding, scan.doubt())


def by_calibration(scan: Scan, stored: CalibrationRecord) -> EncodingChoice:
    """Return the encoding of a calibration; a wedge in it that is in line outweighs what the picture states."""
    confirmed = stored.wedge is not None and not stored.doubts()
    return EncodingChoice(stored.encoding, "" if confirmed else scan.doubt())


def wedge_numbers(light: Light, wedge: WedgeLight) -> WedgeNumbers:
    """Return the numbers of a calibration wedge, from its light and that of the gate, both read as linear."""
    clear = light.dark + wedge.lit * (light.clear - light.dark)
    return WedgeNumbers(wedge.known, light.dark + wedge.apparent * (clear - light.dark), clear, light.dark)


def by_wedge(scan: Scan, numbers: WedgeNumbers, declared: Encoding | None) -> EncodingChoice:
    """Return the encoding that a calibration wedge shows, or the declared one with what the wedge says of it.

    Raises:
        RecordError: no encoding is given, the picture looks encoded, and the wedge fits no encoding.
    """
    fits = numbers.fits(*([] if declared is None else [declared]))
    possible = [fit for fit in fits if fit.possible]
    if not possible:
        return without_wedge(scan, declared)
    stated = encoding_stated(scan.facts.stated)
    liked = declared or stated
    best = next((fit for fit in possible if fit.encoding == liked), possible[0])
    if declared is not None and best.encoding != declared:
        own = next(fit for fit in fits if fit.encoding == declared)
        scan.read_as(declared)
        return EncodingChoice(declared, _against(own, best))
    scan.read_as(best.encoding)
    return EncodingChoice(best.encoding, note=_found(scan, best, possible, declared=declared is not None))


def _against(own: EncodingFit, best: EncodingFit) -> str:
    """Return the clause by which a wedge contradicts a declared encoding."""
    return (
        f"the calibration wedge contradicts it: its light changes by {own.slope:.2f} for each 1.00 of known density and"
        f" leaves the line by {own.residual:.3f}; by {best.encoding.words} the wedge has {best.slope:.2f} and"
        f" {best.residual:.3f}"
    )


def _found(scan: Scan, best: EncodingFit, possible: list[EncodingFit], *, declared: bool) -> str:
    """Return the sentence on the encoding that a wedge shows or confirms."""
    verb = "confirms the encoding" if declared else "shows the encoding"
    within = max(best.residual, 0.001)
    text = f"The calibration wedge {verb}: {best.encoding.words}, its densities in line within {within:.3f}"
    others = [fit for fit in possible if fit.encoding != best.encoding and not _alike(fit.encoding, best.encoding)]
    if others:
        text += f"; {others[0].encoding.words} fits as well ({others[0].residual:.3f})"
    contrary = scan.doubt()
    return f"{text}; although {contrary}." if contrary else f"{text}."


def _alike(one: Encoding, other: Encoding) -> bool:
    """Return True for two power laws, of which a wedge shows the exponent only roughly."""
    return min(one.exponent, other.exponent) > 1.0
