"""Notices about results: each has a code for machines and a sentence for people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from curves.sensitometry.checks.kept_plan import plan_notices
from curves.sensitometry.core.units import Channel, two_digits
from curves.sensitometry.measures import points
from curves.sensitometry.scan.density_map import SUSPECT
from curves.sensitometry.strip.origin import ScanOrigin
from curves.sensitometry.strip.reciprocity import FAR, daylight_seconds
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.visual import estimated_visual
from curves.sensitometry.uncertainty.results import ChannelFinding, Notice, WorkingEI
from curves.sensitometry.uncertainty.sources import Source

_SCATTERS = 1.5
"""Ratio of the scatter found to the scatter stated from which a notice reports it: one clean strip of 21 steps in a
hundred gets there by chance [unitless]."""

_FEW_STEPS = 8
"""Steps from which a curve is worth quoting: common practice."""

_CONTRASTY, _PRINTED = 1.0, (0.5, 0.8)
"""Gamma of a negative above which papers do not take its range, and the gamma that negatives for printing usually
have: common practice [unitless]."""

_USUAL_INDEXES = (0.1, 12_800.0)
"""Between these lie the indexes of films that are photographed with: common practice [unitless]."""


def notices(
    strip: Strip, channels: Mapping[Channel, ChannelFinding], ei: WorkingEI, sources: Iterable[Source]
) -> tuple[Notice, ...]:
    """Return every notice on one strip, gravest first."""
    found: list[Notice] = []
    for channel in channels.values():
        found += _set_aside(channel)
        found += _patches_disagree(channel)
        found += _scatters(strip, channel)
        if len(channel.steps) < _FEW_STEPS:
            found.append(
                Notice(
                    "few-steps",
                    f"{channel.channel} has only {len(channel.steps)} steps: its curve between them is a guess within"
                    " the band shown.",
                    channel.channel,
                )
            )
    if strip.kind == "negative":
        found += _contrast(channels[ei.channel])
    found += _of_the_strip(strip, channels, ei)
    found += plan_notices(strip, channels, ei.recommended)
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


def _patches_disagree(channel: ChannelFinding) -> Iterator[Notice]:
    """Report a patch that the flattened end of the strip beside it contradicts."""
    for name, extreme in (("Dmin", points.dmin(channel.ensemble)), ("Dmax", points.dmax(channel.ensemble))):
        if (conflict := extreme.conflict) is not None:
            yield Notice(
                "patch-disagrees",
                f"{channel.channel} {name}: the {conflict.patch} patch reads {conflict.read:.2f}, and the strip ends at"
                f" {conflict.fitted:.2f}, {conflict.times:.0f} times their uncertainty apart. The interval of {name}"
                " holds both: read the patch again.",
                channel.channel,
            )


def _scatters(strip: Strip, channel: ChannelFinding) -> Iterator[Notice]:
    """Report readings that scatter more than the record states."""
    times = channel.curve.scatter.times
    if strip.repeatability is not None and times > _SCATTERS:
        yield Notice(
            "scatter",
            f"{channel.channel} readings scatter {times:.1f} times what the record states"
            f" ({strip.repeatability:g}): the patches are taken to scatter as much.",
            channel.channel,
        )


def _contrast(channel: ChannelFinding) -> Iterator[Notice]:
    """Report a negative of more contrast than papers take."""
    gamma = channel.measures["gamma"]
    if gamma.value is None or gamma.value <= _CONTRASTY:
        return
    sure = gamma.low is not None and gamma.low > _CONTRASTY
    low, high = _PRINTED
    yield Notice(
        "contrast-beyond-paper",
        f"Gamma {gamma.value:.1f} is {'' if sure else 'perhaps '}contrast beyond what papers take: negatives that are"
        f" printed usually have gamma {low:g} to {high:g} (common practice). Develop for a shorter time, or give up one"
        " end of the scene in the print.",
        channel.channel,
    )


def _times(strip: Strip, ei: WorkingEI) -> Iterator[Notice]:
    """Report an index or a scene that leads to an exposure time far from the strip's own."""
    tested, index = strip.exposure.seconds, ei.recommended.value
    if tested is None or index is None:
        return
    if ei.scene is not None:
        wanted, where = ei.scene.metered, "the scene asks for"
    elif strip.exposure.ei is not None:
        wanted, where = tested * strip.exposure.ei / index, "the light of the test, at the same aperture, asks for"
    else:
        wanted, where = daylight_seconds(index), "the sun at f/8 asks for"
    if 1.0 / FAR <= wanted / tested <= FAR:
        return
    yield Notice(
        "far-from-tested-time",
        f"The strip was exposed for {tested:g} s; at EI {ei.nominal:g} {where} {two_digits(wanted)} s, more than"
        f" {FAR:g} times {'longer' if wanted > tested else 'shorter'}. At that time the film may have another speed"
        " (reciprocity): expose a strip for that time.",
    )


def _unusual_index(ei: WorkingEI) -> Iterator[Notice]:
    """Report an index that no film has that is photographed with."""
    index = ei.recommended.value
    least, most = _USUAL_INDEXES
    if index is not None and not least <= index <= most:
        yield Notice(
            "unusual-index",
            f"EI {two_digits(index)} lies beyond the indexes that films have ({least:g} to {most:,.0f}): check the"
            " light and the time of the strip's exposure, and the densities of its wedge.",
            ei.channel,
        )


def _of_the_strip(strip: Strip, channels: Mapping[Channel, ChannelFinding], ei: WorkingEI) -> Iterator[Notice]:
    yield from _visual(strip, ei)
    yield from _of_the_scan(strip, channels)
    if strip.density == "status M" and strip.kind == "reversal":
        yield Notice(
            "status-m-reversal",
            "Status M weights dyes as printing paper sees them; read film that is looked at or projected in status A.",
        )
    if strip.density == "status A" and strip.kind == "negative" and "visual" not in channels:
        yield Notice(
            "status-a-negative",
            "Status A weights dyes as a projector shows them; read a colour negative, which is printed, in status M.",
        )
    if strip.callier is not None:
        yield Notice(
            "callier",
            f"Densities were read on a specular instrument, and all are divided by the Callier factor"
            f" {strip.callier:g} of the record. One factor for every density is an approximation.",
        )
    if ei.other_middle is not None and ei.other_middle.ei.value is not None:
        yield Notice(
            "two-shoulders",
            "The line from T touches two shoulders alike: one layer or emulsion may be far faster, or the film fogged."
            f" S may be either; by the other the middle asks for EI {two_digits(ei.other_middle.ei.value)}.",
            ei.channel,
        )
    yield from _unusual_index(ei)
    yield from _times(strip, ei)
    if remark := strip.read_as.remark():
        yield Notice("converted", remark)
    for assumption in strip.assumptions:
        yield Notice("assumed", assumption)
    for used in strip.filters:
        through = used.metered == "through"
        yield Notice(
            "filter-in-place",
            f"Exposed through the filter '{used.name}', metered {'through' if through else 'without'} the filter: the"
            f" index holds with the filter in place, for a meter that {'looks' if through else 'does not look'} through"
            " it.",
        )


def _visual(strip: Strip, ei: WorkingEI) -> Iterator[Notice]:
    """Report the densities that stand for visual density where it was not read."""
    visual = estimated_visual(strip)
    if visual is not None and visual.enough:
        some = f" at the {visual.together} of {visual.steps} steps where all were read"
        yield Notice(
            "visual-estimated",
            f"Visual density was not read; it is estimated from the three layers"
            f"{'' if visual.together == visual.steps else some} (rms error 0.04 on the dyes of transparency films).",
            "visual",
        )
        return
    if visual is not None:
        yield Notice(
            "visual-left-out",
            f"Visual density is not estimated, because red, green and blue were read together at {visual.together} of"
            f" {visual.steps} steps only. Read all three at every step, or read visual density.",
        )
    if strip.kind == "reversal" and ei.channel != "visual":
        yield Notice("stand-in", f"{ei.channel} density stands in for visual density, which was not read.", ei.channel)


def _of_the_scan(strip: Strip, channels: Mapping[Channel, ChannelFinding]) -> Iterator[Notice]:
    """Report the limits of densities from a scan, and the faults of single patches."""
    if strip.match is not None:
        yield Notice(
            "scan-matched",
            f"Densities are a scan's, {strip.match.sentence}. They stand in for a densitometer's where you compare;"
            " a standard asks for a densitometer's own.",
        )
        for remark in strip.match.remarks:
            yield Notice("scan-match", remark)
        for doubt in strip.match.doubts:
            yield Notice("scan-match-doubt", doubt)
    if strip.density == "scan":
        by = "" if strip.scan is None else f", read from {strip.scan.image} by {strip.scan.calibration or 'its light'}"
        yield Notice(
            "scan-density",
            f"Densities are a scanner's own{by}: neither status A nor status M, and a camera's are neither. Use"
            " them for comparison, not for standards.",
        )
    if strip.scan is None:
        return
    densest = max(step.density for found in channels.values() for step in found.steps)
    # Patches of known density show what flare does, as a wedge does.
    if strip.match is None and not strip.scan.by_wedge and densest > SUSPECT:
        yield Notice(
            "scan-flare",
            f"Scanned without a calibration wedge: densities above about {SUSPECT:g} are suspect, because stray light"
            f" (flare) makes dense film look thinner; this strip goes up to {densest:.2f}. Scan a wedge of known"
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
    """Return the channels of each flag, by patch, code and message; None stands for all channels."""
    found: dict[tuple[int, str, str], list[Channel | None]] = {}
    for flag in scan.flags:
        found.setdefault((flag.patch, flag.code, flag.message), []).append(flag.channel)
    return found


def _assumed(sources: Iterable[Source]) -> Iterator[Notice]:
    """Report every uncertainty that the record does not give."""
    assumed = [f"{s.name} {s.u:.2g} {s.unit}" for s in sources if s.assumed and s.u is not None]
    if assumed:
        yield Notice(
            "assumed-uncertainty",
            f"Assumed, because the record gives no value (standard uncertainties, common practice):"
            f" {'; '.join(assumed)}.",
        )
