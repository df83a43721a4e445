"""The questions, the page and the result of `curves scan`."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from curves.app.pictures.scan_encoding import RULES, unsettled
from curves.app.pictures.scan_job import PatchSearch, ScanCalibration, ScanJob, WedgePlace
from curves.app.pictures.scan_writing import MeasuredStrip, relative
from curves.commands.options import option_of
from curves.commands.record_questions import completed
from curves.commands.terminal import Interruption, Terminal
from curves.errors import RecordError, with_settings
from curves.files.entry.questions import Draft
from curves.files.results.report_files import write_files
from curves.files.scans.scan import Scan, another
from curves.files.strips.wedges import read_wedge
from curves.sensitometry.scan.encoding import SRGB, encoding_stated, parse_encoding
from curves.views.pictures.scan import PatchPicture, WedgePicture, patches_page
from curves.views.words.wrapping import wrapped


@dataclass(frozen=True, eq=False)
class ScanResult:
    """A strip that was measured on a scan or on a roll's pictures, as a person is shown it before it is written.

    Attributes:
        strip: the strip.
        look: what to look at before a number is trusted, in lines.
        content: the scan as JSON has it.
    """

    strip: MeasuredStrip
    look: str
    content: dict[str, Any]


def draft_of(record: Path, given: Mapping[str, str | None], terminal: Terminal | None) -> Draft:
    """Return the contents of a scan's record, from the options and, for the rest, from a person's answers.

    Raises:
        RecordError: an answer cannot be right, or an answer is needed without a terminal.
        Interruption: the person leaves.
    """
    draft: Draft = {"title": record.stem, "date": datetime.date.today().isoformat()}
    wedge = given["wedge"]
    if wedge is not None and Path(wedge).is_file():
        # Named from where the person stands; the record names it from where it lies.
        given = {**given, "wedge": relative(record.parent, Path(wedge))}
    if terminal is None and given["exposure.method"] is None:
        raise RecordError(
            "the exposure of the strip is not given",
            where=record.name,
            needed="--lux and --seconds for a known light, or --ei and --metered-step for a meter",
        )
    return completed("scan", record, draft, {**given, "density": "scan"}, terminal)


def with_encoding(scan: Scan, job: ScanJob, terminal: Terminal | None) -> ScanJob:
    """Return a request with its encoding: of a picture that looks encoded, the encoding in a person's answer.

    Nothing is asked where a wedge or a calibration tells the encoding, nor of a picture that looks linear.

    Raises:
        Interruption: the person leaves.
    """
    told = job.encoding or job.known or job.calibration is not None
    refusal = None if told or terminal is None else unsettled(scan)
    if refusal is None or terminal is None:
        return job
    likely = (encoding_stated(scan.facts.stated) or SRGB).name
    terminal.say("\n".join(wrapped(f"{refusal.where}: {refusal.what}. How do its numbers follow light?")))
    while True:
        answer = terminal.ask(f"Encoding ({RULES}), Enter for {likely} > ").strip()
        if answer in ("q", "quit"):
            raise Interruption
        if answer == "?":
            terminal.say("\n".join(line for text in _ON_ENCODING for line in wrapped(text, indent=2, hanging=4)))
            continue
        try:
            return replace(job, encoding=parse_encoding(answer or likely).name)
        except RecordError as error:
            terminal.say(str(error))


_ON_ENCODING = (
    "linear: twice the light gives twice the number; the scanning program calls it raw, linear or gamma 1.0.",
    "srgb: a colour profile sRGB, or a picture meant for a screen.",
    "gamma:2.2: the program states a gamma of 2.2.",
    "q leaves. A wedge of known densities in the frame (--known) shows the encoding by itself.",
)
"""What the answers mean, each a sentence."""


def method_of(given: Mapping[str, str | None], patches: Path | None) -> str | None:
    """Return the method of exposure that follows from the options; None if it is to be asked."""
    if given["exposure.lux"] is not None or given["exposure.seconds"] is not None:
        return "contact"
    if given["exposure.ei"] is not None:
        return "camera" if given["wedge"] is not None or patches is None else "frames"
    return None


def refuse_contradictions(given: Mapping[str, str | None], record: Path) -> None:
    """Refuse options that exclude each other, and a missing folder, before anything is read.

    Raises:
        RecordError: options exclude each other, or the folder is missing.
    """
    light = given["exposure.lux"] is not None or given["exposure.seconds"] is not None
    if light and given["exposure.ei"] is not None:
        raise RecordError(
            "--ei and --lux or --seconds are both given",
            where="curves scan",
            needed="--ei where a meter set the exposure, --lux and --seconds where a known light did",
        )
    if not record.parent.is_dir():
        raise RecordError("there is no such folder", where=str(record.parent), hint="make it, or name another")


def steps_asked(draft: Draft, folder: Path, steps: int | None) -> int | None:
    """Return the number of steps to find: as given, else that of the record's wedge; None if there is no wedge.

    Raises:
        RecordError: more steps are given than the wedge has.
    """
    wedge = draft.get("wedge")
    if not isinstance(wedge, Mapping):
        return steps
    there = read_wedge(folder / wedge["table"]).steps if "table" in wedge else int(wedge["steps"])
    if steps is not None and steps > there:
        raise RecordError(f"the wedge has {there} steps, not {steps}", where="--steps", needed=f"at most {there}")
    return steps or there


def page_of(folder: Path, record: Path) -> Path:
    """Return the path of the page of a scan's patches."""
    return folder / f"{record.stem}-patches.html"


def show_page(
    page: Path,
    scan: Scan,
    calibrated: ScanCalibration,
    found: PatchSearch,
    title: str,
    strip: MeasuredStrip | None = None,
    kept: str = "",
) -> None:
    """Write the page that shows every patch on the picture, or the place where a search ended.

    Args:
        page: path of the page.
        scan, calibrated, found: the picture, its calibration, and the places of the patches.
        title: title of the strip.
        strip: the measured strip; None if the patches are not certain.
        kept: name of the table of densities; empty if no table is written.

    Raises:
        OutputError: the page could not be written.
    """
    measured = None if strip is None else strip.measured
    hint = with_settings(found.hint, found.settings, option_of)
    whole, _ = scan.whole()
    calibration = calibrated.stored.calibration().for_picture(whole)
    none = np.empty((0, scan.facts.samples))
    wedge = calibrated.wedge
    shown = PatchPicture(
        title=title,
        image=scan.facts.path.name,
        picture=calibration.transmittance(whole),
        size=(scan.facts.width, scan.facts.height),
        channels=calibrated.stored.channels,
        labels=measured.areas.labels if measured is not None else (),
        corners=measured.areas.corners if measured is not None else np.empty((0, 4, 2)),
        densities=none if measured is None else measured.density,
        errors=none if measured is None else measured.error,
        flags=() if measured is None else measured.flags,
        doubt="" if measured is not None else f"The steps are not certain: {found.doubt}. To try: {hint}.",
        notes=() if strip is None else strip.notes,
        match=None if strip is None else strip.match,
        light=dict(calibrated.light.areas),
        kept=kept,
        looked=found.looked,
        wedge=None if wedge is None else _known_wedge(scan, calibrated, wedge),
        pieces=() if strip is None else strip.pieces,
    )
    write_files(page.parent, {page: patches_page(shown)})


def _known_wedge(scan: Scan, calibrated: ScanCalibration, place: WedgePlace) -> WedgePicture:
    """Return the calibration wedge for the page."""
    stored = calibrated.stored
    assert stored.wedge is not None
    corners = np.array([place.ladder.patch(step) for step in range(1, place.ladder.steps + 1)])
    if place.image is None:
        return WedgePicture(stored.wedge.known, corners, "", None, (scan.facts.width, scan.facts.height))
    with another(scan, place.image) as other:
        whole, _ = other.whole()
        picture = stored.calibration().apparent(whole)
        return WedgePicture(
            stored.wedge.known, corners, place.image.name, picture, (other.facts.width, other.facts.height)
        )


def uncertain(found: PatchSearch, image: Path, page: Path) -> RecordError:
    """Return the error that the steps are not certain, with the page that shows why."""
    return RecordError(
        f"the steps are not certain: {found.doubt}; {page} shows where the search ended",
        where=image.name,
        hint=found.hint,
        settings=found.settings,
    )
