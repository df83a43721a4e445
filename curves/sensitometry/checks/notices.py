"""What the reader must know beside the numbers: each notice has a code for machines and a sentence for people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from curves.sensitometry.core.units import Channel, two_digits
from curves.sensitometry.curve.fit import ASSUMED_REPEATABILITY
from curves.sensitometry.scan.density_map import SUSPECT
from curves.sensitometry.strip.reciprocity import FAR, daylight_seconds
from curves.sensitometry.strip.scan_origin import ScanOrigin
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import ChannelFinding, Notice, WorkingEI
from curves.sensitometry.uncertainty.sources import Source

_AGAINST = 0.06
"""Movement against the run of the strip that is more than reading noise [density]."""

_PATCH_DISAGREES = 0.06
_FEW_STEPS = 8


def notices(
    strip: Strip, channels: Mapping[Channel, ChannelFinding], ei: WorkingEI, sources: Iterable[Source]
) -> tuple[Notice, ...]:
    """Return every notice on one strip, gravest first."""
    found: list[Notice] = []
    for channel in channels.values():
        found += _set_aside(channel)
        found += _against(strip, channel)
        found += _patches_disagree(strip, channel)
        if len(channel.steps) < _FEW_STEPS:
            found.append(
                Notice(
                    "few-steps",
                    f"{channel.channel} has only {len(channel.steps)} steps: its curve between them is a guess within"
                    " the band shown.",
                    channel.channel,
                )
            )
    found += _of_the_strip(strip, channels, ei)
    found += _assumed(sources)
    return tuple(found)


def _set_aside(channel: ChannelFinding) -> Iterator[Notice]:
    for step in channel.steps:
        if step.flag:
            yield Notice(
                "step-set-aside",
                f"{channel.channel}, {step.label}: {step.density:.2f} lies {step.flag}. Read it again.",
                channel.channel,
                step.step,
            )


def _against(strip: Strip, channel: ChannelFinding) -> Iterator[Notice]:
    """Report a run of two or more steps that moves against the direction of the strip by more than noise."""
    curve = channel.curve
    sign = 1.0 if strip.kind == "negative" else -1.0
    kept = np.array([flag is None for flag in curve.flags])
    rising = sign * curve.density[kept]
    threshold = max(_AGAINST, 5.0 * (strip.repeatability or ASSUMED_REPEATABILITY))
    behind = np.maximum.accumulate(rising) - rising > threshold
    if behind.sum() < 2:
        return
    log_h = curve.log_h[kept][behind]
    first, last = float(log_h[0]), float(log_h[-1])
    word = "falls" if strip.kind == "negative" else "rises"
    yield Notice(
        "against-direction",
        f"{channel.channel} {word} with exposure between log H {first:.2f} and {last:.2f}, beyond reading noise:"
        " readings swapped, or the film solarised. The fitted curve is level there.",
        channel.channel,
    )


def _patches_disagree(strip: Strip, channel: ChannelFinding) -> Iterator[Notice]:
    """Report a patch that the strip itself contradicts: the strip went beyond it."""
    patch = strip.patches.fully_exposed if strip.kind == "reversal" else strip.patches.unexposed
    name = "fully exposed" if strip.kind == "reversal" else "unexposed"
    lowest = float(channel.curve.grid_density.min())
    known = patch.get(channel.channel)
    if known is not None and known - lowest > _PATCH_DISAGREES:
        yield Notice(
            "patch-disagrees",
            f"{channel.channel}: the {name} patch reads {known:.2f}, but the strip itself goes down to {lowest:.2f}."
            " The patch is believed; check it.",
            channel.channel,
        )


def _times(strip: Strip, ei: WorkingEI) -> Iterator[Notice]:
    """Report an index that leads to exposure times far from the strip's own, and a scene that does."""
    tested, index = strip.exposure.seconds, ei.recommended.value
    if tested is None or index is None:
        return
    if ei.scene is not None:
        wanted, where = ei.scene.metered, "the scene asks for"
    elif strip.exposure.ei is not None:
        wanted, where = tested * strip.exposure.ei / index, "in the light and at the aperture of the test it asks for"
    else:
        wanted, where = daylight_seconds(index), "in the sun at f/8 it asks for"
    if 1.0 / FAR <= wanted / tested <= FAR:
        return
    yield Notice(
        "far-from-tested-time",
        f"The strip was exposed for {tested:g} s; at EI {ei.nominal:g} {where} {wanted:.2g} s, more than"
        f" {FAR:g} times {'longer' if wanted > tested else 'shorter'}. The film may have another speed there"
        " (reciprocity): test at that time.",
    )


def _of_the_strip(strip: Strip, channels: Mapping[Channel, ChannelFinding], ei: WorkingEI) -> Iterator[Notice]:
    visual = channels.get("visual")
    if visual is not None and visual.estimated:
        yield Notice(
            "visual-estimated",
            "Visual density was not read; it is estimated from the three layers (rms error 0.04 on the dyes of"
            " transparency films).",
            "visual",
        )
    elif strip.kind == "reversal" and ei.channel != "visual":
        yield Notice("stand-in", f"{ei.channel} density stands in for visual density, which was not read.", ei.channel)
    yield from _of_the_scan(strip, channels)
    if strip.density == "status M" and strip.kind == "reversal":
        yield Notice(
            "status-m-reversal",
            "Status M weights dyes as printing paper sees them; a picture to be looked at is read in status A.",
        )
    if strip.density == "status A" and strip.kind == "negative" and "visual" not in channels:
        yield Notice(
            "status-a-negative",
            "Status A sees dyes as a projector shows them; a colour negative, which is printed, is read in status M.",
        )
    if strip.callier is not None:
        yield Notice(
            "callier",
            f"Densities were read on a specular instrument: all of them are divided by the Callier factor"
            f" {strip.callier:g} of the record. One factor for every density is an approximation.",
        )
    if ei.other_middle is not None and ei.other_middle.ei.value is not None:
        yield Notice(
            "two-shoulders",
            "The line from T touches two shoulders alike: one layer or emulsion may be far faster, or the film fogged."
            f" S may be either; by the other the middle asks for EI {two_digits(ei.other_middle.ei.value)}.",
            ei.channel,
        )
    yield from _times(strip, ei)
    for assumption in strip.assumptions:
        yield Notice("assumed", assumption)
    for used in strip.filters:
        through = used.metered == "through"
        yield Notice(
            "filter-in-place",
            f"Exposed through the filter '{used.name}', metered {'through it' if through else 'without it'}: the"
            f" index holds with that filter in place, for a meter that {'does' if through else 'does not'} see it.",
        )


def _of_the_scan(strip: Strip, channels: Mapping[Channel, ChannelFinding]) -> Iterator[Notice]:
    """Report what densities from a scan are worth, and what is wrong with single patches."""
    if strip.density == "scan":
        by = "" if strip.scan is None else f", read from {strip.scan.image} by {strip.scan.calibration or 'its light'}"
        yield Notice("scan-density", f"Densities are a scanner's own{by}: they serve comparison, not the standards.")
    if strip.scan is None:
        return
    densest = max(step.density for found in channels.values() for step in found.steps)
    if not strip.scan.by_wedge and densest > SUSPECT:
        yield Notice(
            "scan-flare",
            f"Scanned without a calibration wedge: densities above about {SUSPECT:g} are suspect, for stray light"
            f" (flare) makes dense film look thinner, and they go up to {densest:.2f} here. Scan a wedge of known"
            " densities with the same settings.",
        )
    for doubt in strip.scan.doubts:
        yield Notice("scan-doubt", doubt)
    for (patch, code, message), of in _by_patch(strip.scan).items():
        channel = of[0] if len(of) == 1 else None
        names = [c for c in of if c is not None]
        some = f", {' and '.join(names)}" if names and len(names) < len(strip.channels) else ""
        label = strip.labels[patch - 1] + some
        yield Notice(f"scan-{code}", f"Scan, {label}: {message}.", channel, int(strip.step_of_row[patch - 1]))


def _by_patch(scan: ScanOrigin) -> dict[tuple[int, str, str], list[Channel | None]]:
    """Return the channels of which each thing is said; what is said of all of a patch's channels is said once."""
    found: dict[tuple[int, str, str], list[Channel | None]] = {}
    for flag in scan.flags:
        found.setdefault((flag.patch, flag.code, flag.message), []).append(flag.channel)
    return found


def _assumed(sources: Iterable[Source]) -> Iterator[Notice]:
    """Report every size of error that nobody gave."""
    assumed = [f"{s.name} {s.u:.2g} {s.unit}" for s in sources if s.assumed and s.u is not None]
    if assumed:
        yield Notice(
            "assumed-uncertainty",
            f"Assumed, since the record does not say (standard uncertainties, common practice): {'; '.join(assumed)}.",
        )
