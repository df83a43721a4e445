"""Invented film, exposed and read: strips whose truth is known. ``python -m tests.simulate`` writes ``wedge_data/``.

The physical model, which shares no code with the package: a layer holds two emulsions, a fast and a slow one, and the
share of its grains that an exposure makes developable is a normal distribution function of log H for each. A negative
layer grows density with that share; a reversal layer loses it. Below lies the support (base) with what fog or masking
dye the process leaves (veil), above a ceiling of dye. The eye's density is that of a mixture of the three layers'
transmittances. Readings scatter normally and are rounded to 0.01.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

Array = NDArray[np.float64]
FOLDER = Path(__file__).parent.parent / "wedge_data"
EYE = {"red": 0.30, "green": 0.66, "blue": 0.04}
STOP = math.log10(2.0)
METERED = 1.0
"""Mid-grey exposure at the film plane of a meter set to index 1: 10 lux-seconds [log10 lux-seconds]."""

INVENTED = "Invented: film, process and readings come from a simulation. A small film club's test strip."


@dataclass(frozen=True)
class Emulsion:
    """Share of the layer's grains, and mean and spread of the log exposure that makes them developable [log10]."""

    share: float
    centre: float
    spread: float

    def developable(self, log_h: Array) -> Array:
        """Return the share of the layer that exposure ``log_h`` [log10] makes developable."""
        z = (log_h - self.centre) / (self.spread * math.sqrt(2.0))
        return np.asarray(self.share * 0.5 * (1.0 + erf(z)))


@dataclass(frozen=True)
class Layer:
    """One layer: densities of support, of what the process leaves on it, and of its dye ceiling [density]."""

    base: float
    veil: float
    ceiling: float
    emulsions: tuple[Emulsion, ...]

    def density(self, log_h: Array, kind: str) -> Array:
        """Return the layer's density at ``log_h``."""
        exposed = sum((e.developable(log_h) for e in self.emulsions), np.zeros_like(log_h))
        dye = exposed if kind == "negative" else 1.0 - exposed
        return self.base + self.veil + (self.ceiling - self.base - self.veil) * dye


@dataclass(frozen=True)
class Film:
    """An invented film in a process: its layers by channel, or one layer that the eye sees ("visual")."""

    kind: str
    layers: Mapping[str, Layer]

    def density(self, channel: str, log_h: Array) -> Array:
        """Return what a perfect instrument reads in ``channel``."""
        if channel in self.layers:
            return self.layers[channel].density(log_h, self.kind)
        return _eye([self.layers[c].density(log_h, self.kind) for c in EYE])

    def patch(self, name: str, channel: str) -> float:
        """Return the true density of the "base", "unexposed" or "fully_exposed" patch in ``channel``."""
        if name == "base":
            if channel in self.layers:
                return self.layers[channel].base
            return float(_eye([np.array(self.layers[c].base) for c in EYE]))
        return float(self.density(channel, np.array([-9.0 if name == "unexposed" else 9.0]))[0])


def _eye(densities: list[Array]) -> Array:
    """Return the density that the eye sees through three layers."""
    return np.asarray(-np.log10(sum(w * 10.0**-d for w, d in zip(EYE.values(), densities, strict=True))))


def emulsions(centre: float, apart: float, spread: float) -> tuple[Emulsion, ...]:
    """Return a fast and a slow emulsion about ``centre``, ``apart`` in log H."""
    return (
        Emulsion(0.55, centre - 0.45 * apart, spread),
        Emulsion(0.45, centre + 0.55 * apart, 0.9 * spread),
    )


@dataclass(frozen=True)
class Scenario:
    """A test strip of the club: film, exposure and reading.

    Attributes:
        name, title, film_name, process, date: what the record says.
        film: what was exposed.
        density: kind of density.
        channels: those that were read.
        exposure: the record's [exposure] table.
        column: what the readings are listed by, "step" or "ei".
        positions: the numbers in that column.
        log_h: true log H of each row [log10 lux-seconds].
        wedge: the record's [wedge] table, as text; empty for frames.
        patches: which patches were read.
        noise: standard deviation of a reading [density].
    """

    name: str
    title: str
    film_name: str
    process: str
    date: str
    film: Film
    density: str
    channels: tuple[str, ...]
    exposure: Mapping[str, str | float]
    positions: Array
    log_h: Array
    column: str = "step"
    wedge: str = ""
    patches: tuple[str, ...] = ()
    noise: float = 0.012
    seed: int = field(default=1)

    @property
    def grey(self) -> float:
        """Log H that the analysis counts from [log10 lux-seconds]: metered mid-grey, or zero for a contact exposure."""
        return METERED - math.log10(float(self.exposure["ei"])) if "ei" in self.exposure else 0.0

    def readings(self, seed: int) -> dict[str, Array]:
        """Return one set of readings by channel, scattered and rounded to 0.01 [density]."""
        rng = np.random.default_rng((self.seed, seed))
        return {c: self._read(self.film.density(c, self.log_h), rng) for c in self.channels}

    def patch_readings(self, seed: int) -> dict[str, dict[str, float]]:
        """Return one reading of each patch by channel [density]."""
        rng = np.random.default_rng((self.seed, seed, 1))
        return {
            name: {c: float(self._read(np.array(self.film.patch(name, c)), rng)) for c in self.channels}
            for name in self.patches
        }

    def _read(self, density: Array, rng: np.random.Generator) -> Array:
        return np.round(density + self.noise * rng.standard_normal(density.shape), 2)


def truth(film: Film, channel: str) -> dict[str, float]:
    """Return the true values of a channel: densities, points [log10 lux-seconds], gamma, and the index of each tone.

    Computed on a fine grid from the definitions alone.
    """
    x = np.linspace(-4.5, 4.5, 90001)
    d = film.density(channel, x)
    found = {"dmin": float(d.min()), "dmax": float(d.max()), "base": film.patch("base", channel)}
    sign = 1.0 if film.kind == "negative" else -1.0

    def at(density: float) -> float:
        return float(np.interp(sign * density, sign * d, x))

    # The gradient averaged over 0.60 log H: 3000 grid points either way.
    gradient = sign * (d[6000:] - d[:-6000]) / 0.60
    straight = np.flatnonzero(gradient >= 0.9 * gradient.max())
    longest = max(np.split(straight, np.flatnonzero(np.diff(straight) > 1) + 1), key=len)
    found["gamma"] = float(gradient[longest].mean())
    if film.kind == "negative":
        found["speed"] = at(found["dmin"] + 0.10)
        found["ei speed point"] = 10.0**METERED * 0.08 / 10.0 ** found["speed"]
        return found
    found["T"] = at(found["dmin"] + 0.20)
    toward_shadow = x < found["T"] - 0.05
    chord = (d[toward_shadow] - found["dmin"] - 0.20) / (found["T"] - x[toward_shadow])
    touch = int(chord.argmax())
    found["S"] = at(min(found["dmin"] + 2.00, float(d[toward_shadow][touch])))
    found["M"] = 0.5 * (found["T"] + found["S"])
    cleared, shadow = at(found["dmin"] + 0.04), at(found["dmin"] + 0.90 * (found["dmax"] - found["dmin"]))
    for name, log_h, tone in (
        ("highlight", found["T"], 0.70),
        ("middle", found["M"], 0.0),
        ("shadow", shadow, -0.90),
        ("cleared", cleared, 0.70),
    ):
        found[f"ei {name}"] = 10.0 ** (METERED - log_h + tone)
    return found


def wedge_21() -> Array:
    """Return the densities of the club's calibrated wedge: 21 steps near 0.15, each a little off."""
    rng = np.random.default_rng(417)
    return np.asarray(np.round(0.05 + 0.15 * np.arange(21) + 0.008 * rng.standard_normal(21), 3))


NOMINAL: Array = 0.05 + 0.15 * np.arange(21.0)
NOMINAL_TEXT = "steps = 21\nincrement = 0.15\nfirst = 0.05\nuncertainty = 0.02\n"
STEPS = np.arange(1.0, 22.0)

HERON_AS_SLIDE = Film(
    "reversal",
    {
        "red": Layer(0.17, 0.14, 2.62, emulsions(-0.30, 0.80, 0.53)),
        "green": Layer(0.24, 0.24, 2.84, emulsions(-0.18, 0.80, 0.53)),
        "blue": Layer(0.33, 0.38, 2.96, emulsions(-0.06, 0.76, 0.52)),
    },
)
HERON_NEGATIVE = Film(
    "negative",
    {
        "red": Layer(0.17, 0.08, 2.15, emulsions(-0.10, 1.50, 0.85)),
        "green": Layer(0.55, 0.08, 2.60, emulsions(-0.04, 1.50, 0.85)),
        "blue": Layer(0.84, 0.09, 2.95, emulsions(-0.14, 1.50, 0.85)),
    },
)
WREN_AS_SLIDE = Film("reversal", {"visual": Layer(0.04, 0.04, 3.05, emulsions(-0.60, 0.70, 0.51))})


def _contact(lux: float, wedge: Array) -> tuple[dict[str, str | float], Array]:
    table: dict[str, str | float] = {
        "method": "contact", "lux": lux, "seconds": 0.02, "uncertainty_stops": 0.1, "light": "daylight 5500 K",
    }  # fmt: skip
    return table, np.asarray(np.log10(0.02 * lux) - wedge)


def scenarios() -> dict[str, Scenario]:
    """Return the club's strips by name."""
    slide_process = "colour reversal, first developer 7 min at 38 C"
    full, full_log_h = _contact(2000.0, NOMINAL)
    short, short_log_h = _contact(150.0, NOMINAL)
    wren, wren_log_h = _contact(500.0, wedge_21())
    # A back-lit wedge in the camera: the meter read step 9, and stray light adds to every step.
    light = 10.0 ** (NOMINAL[8] - NOMINAL)
    camera_log_h = np.log10(light + 0.0005 * light.max()) + METERED - math.log10(80.0)
    # Whole stops about the index 50; 12, 6 and 0.8 are the names that dials give to 12.5, 6.25 and 0.78.
    bracket = np.array([200.0, 100.0, 50.0, 25.0, 12.0, 6.0, 3.0, 1.5, 0.8])
    bracket_log_h = STOP * np.arange(-2.0, 7.0) + METERED - math.log10(50.0)
    strips = [
        Scenario(
            "heron-reversal", "Heron 80, reversal, first developer 7:00", "Heron 80", slide_process, "2026-03-14",
            HERON_AS_SLIDE, "status A", ("red", "green", "blue", "visual"), full, STEPS, full_log_h,
            wedge=NOMINAL_TEXT, patches=("base", "unexposed", "fully_exposed"), seed=1,
        ),
        Scenario(
            "heron-negative", "Heron 80, negative, its own process", "Heron 80", "colour negative, 3:15 at 38 C",
            "2026-03-07", HERON_NEGATIVE, "status M", ("red", "green", "blue"),
            {"method": "camera", "ei": 80, "metered_step": 9, "offset_stops": 0.0, "flare": 0.0005,
             "uncertainty_stops": 0.17},
            STEPS, camera_log_h, wedge=NOMINAL_TEXT, patches=("base", "unexposed"), seed=2,
        ),
        Scenario(
            "wren-reversal", "Wren 25, reversal", "Wren 25", "black-and-white reversal, first developer 9 min at 20 C",
            "2026-02-21", WREN_AS_SLIDE, "visual", ("visual",), wren, STEPS, wren_log_h,
            wedge='table = "wedge-21.csv"\n', patches=("base", "unexposed", "fully_exposed"), seed=3,
        ),
        Scenario(
            "heron-frames", "Heron 80, reversal, grey card bracketed in whole stops", "Heron 80", slide_process,
            "2026-01-31", HERON_AS_SLIDE, "status A", ("red", "green", "blue"),
            {"method": "frames", "ei": 50, "uncertainty_stops": 0.17},
            bracket, bracket_log_h, column="ei",
            patches=("base", "fully_exposed"), seed=4,
        ),
        Scenario(
            "heron-short", "Heron 80, reversal, wedge ended before the highlights cleared", "Heron 80", slide_process,
            "2026-02-07", HERON_AS_SLIDE, "status A", ("red", "green", "blue", "visual"), short, STEPS, short_log_h,
            wedge=NOMINAL_TEXT, patches=("base",), seed=5,
        ),
    ]  # fmt: skip
    return {s.name: s for s in strips}


def record_text(scenario: Scenario, seed: int = 0) -> str:
    """Return the strip record of a scenario as TOML text."""
    lines = [
        f"# {INVENTED}",
        f'title = "{scenario.title}"',
        f'film = "{scenario.film_name}"',
        f'process = "{scenario.process}"',
        f"date = {scenario.date}",
        f'kind = "{scenario.film.kind}"',
        f'density = "{scenario.density}"',
        f'readings = "{scenario.name}.csv"',
        f'notes = "{INVENTED}"',
    ]
    if scenario.wedge:
        lines += ["", "[wedge]", scenario.wedge.strip()]
    lines += ["", "[exposure]"]
    lines += [f'{k} = "{v}"' if isinstance(v, str) else f"{k} = {v}" for k, v in scenario.exposure.items()]
    if scenario.patches:
        lines += ["", "[patches]"]
        for name, by_channel in scenario.patch_readings(seed).items():
            inside = ", ".join(f"{c} = {v:.2f}" for c, v in by_channel.items())
            lines.append(f"{name} = {{ {inside} }}")
    lines += ["", "[reader]", f"repeatability = {scenario.noise}", ""]
    return "\n".join(lines)


def readings_text(scenario: Scenario, seed: int = 0) -> str:
    """Return the readings of a scenario as CSV text."""
    readings = scenario.readings(seed)
    lines = [",".join([scenario.column, *readings])]
    for i, position in enumerate(scenario.positions):
        lines.append(",".join([f"{position:g}", *(f"{values[i]:.2f}" for values in readings.values())]))
    return "\n".join(lines) + "\n"


def wedge_text() -> str:
    """Return the calibrated wedge as CSV text."""
    rows = [f"{i},{d:.3f},0.005" for i, d in enumerate(wedge_21(), start=1)]
    return "\n".join(["step,density,uncertainty", *rows]) + "\n"


def exchange_text() -> str:
    """Return a second reading of the first strip as exchange text (ISO 28178), as another laboratory might send it."""
    readings = scenarios()["heron-reversal"].readings(1)
    rows = [f"{i + 1} {' '.join(f'{values[i]:.2f}' for values in readings.values())}" for i in range(len(STEPS))]
    return "\n".join(
        [
            "CGATS.17",
            f"# {INVENTED}",
            "# Read through status A filters.",
            'DESCRIPTOR "Heron 80, reversal, read by a second laboratory"',
            'CREATED "2026-03-16"',
            "NUMBER_OF_FIELDS 5",
            "BEGIN_DATA_FORMAT",
            "SAMPLE_ID D_RED D_GREEN D_BLUE D_VIS",
            "END_DATA_FORMAT",
            f"NUMBER_OF_SETS {len(rows)}",
            "BEGIN_DATA",
            *rows,
            "END_DATA",
            "",
        ]
    )


def demo_files() -> dict[str, str]:
    """Return the text of every generated file of ``wedge_data/`` by name."""
    from tests.control_demo import files as control_files
    from tests.filter_demo import files as filter_files
    from tests.series_demo import files as series_files

    files = {"wedge-21.csv": wedge_text(), "heron-exchange.txt": exchange_text()}
    files |= {**filter_files(), **control_files(), **series_files()}
    for name, scenario in scenarios().items():
        files[f"{name}.toml"] = record_text(scenario)
        files[f"{name}.csv"] = readings_text(scenario)
    return files


def main() -> None:
    """Write the demo strips."""
    for name, text in demo_files().items():
        (FOLDER / name).parent.mkdir(exist_ok=True)
        (FOLDER / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
