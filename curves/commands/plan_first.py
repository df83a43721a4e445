"""The plan before the first strip: from a film's box speed, a light and a wedge."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from curves.commands.help_groups import EXPOSURE, LIGHT, OUTPUT
from curves.commands.options import KIND, WEDGE, option_of, seconds

if TYPE_CHECKING:
    from curves.sensitometry.core.units import DensityKind
    from curves.sensitometry.planning.camera import Dial
    from curves.sensitometry.planning.light import Illuminance
    from curves.sensitometry.planning.population import FilmGuess, Maker
    from curves.sensitometry.planning.ways import FirstPlan, Way
    from curves.sensitometry.strip.wedge import Wedge


def _of_exposure(text: str, **others: Any) -> Any:
    """Return an option about wedge, camera and meter."""
    return typer.Option(help=text, rich_help_panel=EXPOSURE, **others)


def _of_light(text: str, **others: Any) -> Any:
    """Return an option about the light."""
    return typer.Option(help=text, rich_help_panel=LIGHT, **others)


_READING = "EV at ISO 100, or aperture, time and index such as 'f/8 1/60 80'"


@dataclass(frozen=True)
class FilmOptions:
    """The options that describe a film, a light and a wedge before the first strip."""

    box: Annotated[
        float | None, typer.Option(metavar="SPEED", help="Box speed of the film, or a guess of its speed.")
    ] = None
    off: Annotated[
        float | None, typer.Option(metavar="STOPS", help="How far that may be wrong, either way; 1 if not given.")
    ] = None
    kind: Annotated[
        Literal["negative", "reversal"] | None,
        typer.Option(help=f"{KIND[:1].upper()}{KIND[1:-1]} after the process."),
    ] = None
    made_as: Annotated[
        Literal["transparency", "colour negative", "black-and-white negative"] | None,
        typer.Option(help="What the film was made as; if not given, what the process makes of it."),
    ] = None
    density: Annotated[
        Literal["status A", "status M", "visual", "scan"] | None, typer.Option(help="Kind of density to be read.")
    ] = None
    chance: Annotated[
        float | None,
        typer.Option(metavar="SHARE", help="Chance of holding both ends of the curve that is asked for; 0.9."),
    ] = None
    method: Annotated[
        Literal["contact", "camera", "frames"] | None,
        _of_exposure("Way to plan in full: contact, a camera, or a bracket of frames; contact if not given."),
    ] = None
    wedge: Annotated[str | None, _of_exposure(WEDGE[:1].upper() + WEDGE[1:], metavar="NxD[@FIRST]")] = None
    times: Annotated[
        str | None, _of_exposure("Times that the shutter has; 1/500-1/2 if not given.", metavar="FROM-TO")
    ] = None
    apertures: Annotated[
        str | None, _of_exposure("Apertures that the lens has; 2.8-16 if not given.", metavar="FROM-TO")
    ] = None
    clicks: Annotated[
        Literal["whole", "half", "third"], _of_exposure("Part of a stop to which times and apertures can be set.")
    ] = "whole"
    metered_step: Annotated[
        int | None, _of_exposure("With a camera: step that the meter will read; the middle one if not given.")
    ] = None
    meter_constant: Annotated[
        float | None,
        _of_exposure("Constant K of the meter (ISO 2720); the middle of 12.5 and 14 if not given.", metavar="K"),
    ] = None
    schwarzschild: Annotated[
        float | None, _of_exposure("Exponent of the film's law for times of a second or more.", metavar="P")
    ] = None
    lux: Annotated[float | None, _of_light("Light at the wedge's place, in lux.")] = None
    incident: Annotated[
        str | None, _of_light(f"Reading of an incident meter at the wedge's place: {_READING}.", metavar="READING")
    ] = None
    reflected: Annotated[
        str | None,
        _of_light(
            "Reading off a grey card at the wedge's place; with a camera, off the metered step; with frames, off the"
            " card that is photographed.",
            metavar="READING",
        ),
    ] = None
    card: Annotated[float | None, _of_light("With --reflected: share of light that the card returns; 0.18.")] = None
    light_of: Annotated[
        Path | None, _of_light("Record of an earlier strip, exposed in contact under this light.", metavar="STRIP")
    ] = None
    read_at: Annotated[
        float | None, _of_light("Distance from lamp or lens at which the light was read.", metavar="CM")
    ] = None
    distance: Annotated[
        float | None, _of_light("Distance from lamp or lens at which the wedge will lie.", metavar="CM")
    ] = None
    film: Annotated[str, typer.Option(help="With --write: the film.", rich_help_panel=OUTPUT)] = ""
    process: Annotated[str, typer.Option(help="With --write: the process.", rich_help_panel=OUTPUT)] = ""
    write: Annotated[
        Path | None,
        typer.Option(
            metavar="NAME",
            help="Write the record of each planned strip, for `enter`; with --after, of the strip that tells most.",
            rich_help_panel=OUTPUT,
        ),
    ] = None
    seed: Annotated[int, typer.Option(min=0, help="Seed of the simulated films.", rich_help_panel=OUTPUT)] = 0


def plan_first(wanted: FilmOptions, *, as_json: bool) -> None:
    """Print the first strips of a film, and write their records."""
    from curves.files.plans.plan_json import first_plan_json
    from curves.views.plans.first_strip import first_plan_text, first_records_text

    check_film(wanted)
    _check_described(wanted)
    guess = _guess(wanted)
    wedge, way = _wedge(wanted), wanted.method or "contact"
    plans = {w: _planned(w, wanted, guess, wedge) for w in _ways_within_reach(wedge)}
    if way not in plans:
        raise missing("wedge", "the wedge at hand, such as 21x0.15; or a bracket of a grey card, which needs none")
    written = [] if wanted.write is None else _written(wanted.write, plans[way], wanted)
    if as_json:
        print(first_plan_json(plans[way], plans), end="")
        return
    print(
        first_plan_text(
            plans[way], plans, assumed=[name for name in ("off", "made_as") if getattr(wanted, name) is None]
        ),
        end="",
    )
    if written:
        enter = f"curves enter {shlex.quote(str(written[0].with_suffix('')))}"
        print(first_records_text(list(map(str, written)), enter), end="")


def _check_described(wanted: FilmOptions) -> None:
    """Refuse a plan of which several facts are not given, all of them at once.

    Raises:
        RecordError: names them, with an example.
    """
    from curves.errors import RecordError

    facts = {"box=80": wanted.box, "kind=reversal": wanted.kind, "wedge=21x0.15": wanted.wedge}
    if wanted.method == "frames":
        del facts["wedge=21x0.15"]
    lacks = [fact for fact, given in facts.items() if given is None]
    if len(lacks) > 1:
        named = [_CALLED[fact.partition("=")[0]] for fact in lacks]
        raise RecordError(
            f"{', '.join(named[:-1])} and {named[-1]} are not given",
            needed="the film's box speed or a guess, its kind after the process, and the wedge at hand",
            settings=(" & ".join(lacks), "after=STRIP", "bracket"),
        )


def _written(name: Path, plan: FirstPlan, wanted: FilmOptions) -> list[Path]:
    """Write the records of the planned strips, and return their paths."""
    from curves.files.plans.planned_records import KnownBefore, write_planned

    return write_planned(
        name,
        plan,
        KnownBefore(
            _density(wanted, plan.guess.made_as),
            wanted.wedge,
            wanted.film,
            wanted.process,
            wanted.meter_constant,
            wanted.schwarzschild,
        ),
    )


_CALLED = {"box": "the box speed", "kind": "the kind of film", "wedge": "the wedge"}
"""What a setting of a plan is called."""

_OF_CONTACT = ("lux", "incident", "light_of", "read_at", "distance", "card")
"""Settings that say something about the light of a contact exposure alone."""


def check_film(wanted: FilmOptions) -> None:
    """Refuse numbers out of range, and settings that the way of exposing does not take.

    Raises:
        RecordError: names the option.
    """
    from curves.errors import RecordError
    from curves.files.base.fields import check_number
    from curves.sensitometry.core.values import METER_CONSTANT, POSITIVE
    from curves.sensitometry.planning.first_strip import CHANCE
    from curves.sensitometry.planning.light import REFLECTANCE
    from curves.sensitometry.planning.population import OFF
    from curves.sensitometry.strip.reciprocity import EXPONENT

    bounds = {
        "box": POSITIVE, "off": OFF, "chance": CHANCE, "lux": POSITIVE, "card": REFLECTANCE, "read_at": POSITIVE,
        "distance": POSITIVE, "meter_constant": METER_CONSTANT, "schwarzschild": EXPONENT,
    }  # fmt: skip
    for name, within in bounds.items():
        value = getattr(wanted, name)
        if value is not None:
            check_number(value, option_of(name).partition(" ")[0], within)
    given = [name for name in _OF_CONTACT if getattr(wanted, name) is not None]
    if given and wanted.method in ("camera", "frames"):
        raise RecordError(
            f"{option_of(given[0])} describes the light of a contact exposure",
            where=f"--method {wanted.method}",
            needed="the meter's reading of the metered step or of the card",
            settings=("reflected",),
        )
    if wanted.card is not None and wanted.reflected is None:
        raise RecordError("a card is read by a meter", where="--card", needed="its reading", settings=("reflected",))


def _ways_within_reach(wedge: Wedge | None) -> tuple[Way, ...]:
    """Return the ways of exposing that can be planned."""
    return ("contact", "camera", "frames") if wedge is not None else ("frames",)


def _planned(way: Way, wanted: FilmOptions, guess: FilmGuess, wedge: Wedge | None) -> FirstPlan:
    """Return the plan by one way."""
    from curves.sensitometry.planning.first_strip import WANTED
    from curves.sensitometry.planning.ways import by_camera, by_contact, by_frames

    chance = WANTED if wanted.chance is None else wanted.chance
    dial, constant = dial_of(wanted), wanted.meter_constant
    reading = None if wanted.reflected is None else reading_of(wanted.reflected, "reflected")
    if way == "frames":
        return by_frames(guess, chance, wanted.seed, constant, reading if wanted.method == way else None, dial)
    assert wedge is not None
    if way == "camera":
        seen = reading if wanted.method == way else None
        return by_camera(guess, wedge, chance, wanted.seed, wanted.metered_step, constant, seen, dial)
    light = _light(wanted) if wanted.method in (None, way) else None
    return by_contact(guess, wedge, chance, wanted.seed, light, dial)


def _guess(wanted: FilmOptions) -> FilmGuess:
    """Return the guess of the film that the options make."""
    from curves.sensitometry.planning.population import ASSUMED_OFF, FilmGuess

    if wanted.kind is None:
        raise missing("kind", "reversal for a transparency, negative for a negative")
    if wanted.box is None:
        raise missing("box", "the film's box speed, such as 80, or a guess")
    own: dict[str, Maker] = {"reversal": "transparency", "negative": "black-and-white negative"}
    made_as = wanted.made_as or own[wanted.kind]
    off = ASSUMED_OFF if wanted.off is None else wanted.off
    return FilmGuess(wanted.kind, made_as, wanted.box, off, colour=_density(wanted, made_as) != "visual")


def _density(wanted: FilmOptions, made_as: Maker) -> DensityKind:
    """Return the kind of density that will be read: as given, or the usual one."""
    if wanted.density is not None:
        return wanted.density
    if made_as == "black-and-white negative":
        return "visual"
    return "status A" if wanted.kind == "reversal" else "status M"


def _wedge(wanted: FilmOptions) -> Wedge | None:
    from curves.files.strips.wedges import wedge_named

    return None if wanted.wedge is None else wedge_named(wanted.wedge, Path())


def _light(wanted: FilmOptions) -> Illuminance | None:
    """Return the light on the wedge; None where nothing states it.

    Raises:
        RecordError: two lights are given, one distance without the other, or distances without a reading.
    """
    from curves.errors import RecordError
    from curves.sensitometry.planning.light import (
        GREY_CARD,
        Illuminance,
        at_distance,
        by_card,
        by_incident_meter,
    )
    from curves.sensitometry.strip.metering import USUAL_CONSTANT

    given = [n for n in ("lux", "incident", "reflected", "light_of") if getattr(wanted, n) is not None]
    if len(given) > 1:
        raise RecordError(
            f"the light is given {len(given)} times", where="the light", needed="one of them", settings=tuple(given)
        )
    if (wanted.read_at is None) != (wanted.distance is None):
        raise RecordError(
            "one distance says nothing without the other",
            where="the light",
            needed="the distance at which the light was read, and the distance of the wedge",
            settings=("read_at", "distance"),
        )
    if not given and wanted.read_at is not None:
        raise RecordError(
            "two distances say nothing without a reading of the light",
            where="the light",
            needed="the light that was read at the first of them",
            settings=("lux", "incident", "reflected", "light_of"),
        )
    if not given:
        return None
    if wanted.lux is not None:
        light = Illuminance(wanted.lux)
    elif wanted.incident is not None:
        light = by_incident_meter(reading_of(wanted.incident, "incident"))
    elif wanted.reflected is not None:
        constant = USUAL_CONSTANT if wanted.meter_constant is None else wanted.meter_constant
        card = GREY_CARD if wanted.card is None else wanted.card
        light = by_card(reading_of(wanted.reflected, "reflected"), card, constant)
    else:
        assert wanted.light_of is not None
        light = _light_of(wanted.light_of)
    if wanted.read_at is None or wanted.distance is None:
        return light
    return at_distance(light, wanted.read_at, wanted.distance)


def _light_of(record: Path) -> Illuminance:
    """Return the light that an earlier strip was exposed by in contact."""
    from curves.errors import RecordError
    from curves.files.strips.record import read_setup
    from curves.sensitometry.planning.light import Illuminance
    from curves.sensitometry.strip.exposure import Contact
    from curves.sensitometry.uncertainty.sources import ASSUMED_LIGHT

    exposure = read_setup(record).exposure
    if not isinstance(exposure, Contact) or exposure.lux is None:
        raise RecordError(
            "the strip was not exposed in contact by a light of known lux",
            where=record.name,
            needed='a record with method = "contact" and lux',
        )
    u = ASSUMED_LIGHT if exposure.uncertainty_stops is None else exposure.uncertainty_stops
    return Illuminance(exposure.lux, u, f"as {record.name} states")


def dial_of(wanted: FilmOptions) -> Dial:
    """Return the settings that shutter and lens have."""
    from curves.sensitometry.planning.camera import dial
    from curves.sensitometry.strip.reciprocity import Schwarzschild

    apertures = _range(wanted.apertures or "2.8-16", "apertures", "2.8-16")
    times = _range(wanted.times or "1/500-1/2", "times", "1/500-1/2")
    law = None if wanted.schwarzschild is None else Schwarzschild(wanted.schwarzschild)
    return dial(wanted.clicks, apertures, times, law)


def _range(text: str, name: str, example: str) -> tuple[float, float]:
    """Return the two ends of a range of apertures or of times."""
    from curves.errors import RecordError

    try:
        first, last = (seconds(part.strip().lower().removeprefix("f/")) for part in text.split("-"))
    except (ValueError, typer.BadParameter) as error:
        raise RecordError(
            f"'{text}' is not a range", where=name, needed=f"two ends, such as {example}", settings=(name,)
        ) from error
    return first, last


def reading_of(text: str, name: str) -> float:
    """Return the exposure value of a meter's reading [EV at 100]."""
    from curves.errors import RecordError
    from curves.sensitometry.planning.light import exposure_value

    try:
        parts = re.split(r"[\s,;]+", text.strip().lower().removeprefix("f/"))
        if len(parts) == 3:
            return exposure_value(float(parts[0]), seconds(parts[1]), float(parts[2]))
        return float(text.replace(",", "."))
    except (ValueError, typer.BadParameter) as error:
        raise RecordError(
            f"'{text}' is not a meter's reading", where=name, needed=_READING, settings=(name,)
        ) from error


def missing(name: str, needed: str) -> Exception:
    """Return the refusal of a plan for which a setting is not given."""
    from curves.errors import RecordError

    return RecordError(f"{_CALLED[name]} is not given", where=name, needed=needed, settings=(name,))
