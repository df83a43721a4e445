"""What does each way of reading a strip cost? ``python -m tests.bench.doors --strips 200``.

One simulated film a strip, read through each door with the door's real errors; counted is how often the 95 % interval
of the index holds the truth, and how wide it is. The truth comes from the definitions by other code. A strip takes
0.05 s of a core, one that is photographed 0.4 s, and one with a known wedge in the picture 0.8 s.
"""

from __future__ import annotations

import argparse
import math
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from curves.errors import CurvesError
from curves.files.strips.record import load_strip
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench import photographed as photography
from tests.bench.index_truth import truth_of
from tests.simulate import STOP, Array, Film, Layer, emulsions, wedge_21

LUX, SECONDS = 500.0, 0.02
KNOWN = np.arange(0.05, 3.1, 0.15)
"""A wedge of known densities, for the doors that read one [density]."""


@dataclass(frozen=True)
class Door:
    """One way of reading a strip.

    Attributes:
        name: the way.
        reader: the section [reader] of the record.
        shown: what the instrument shows of densities, before its own scatter is added: rounded as it rounds.
        scatter: standard deviation of one reading before rounding, from memory of such instruments [density].
        flare: standard deviation of its stray light [of the open gate's light].
        known: True if a known wedge is read on the same set-up.
        uneven: greatest change of the table's light from end to end of a strip that lies still, either way [of its
            light]; 0 if the strip is moved under the meter.
    """

    name: str
    reader: str
    shown: Callable[[Array], Array]
    scatter: float = 0.02
    flare: float = 0.001
    known: bool = False
    uneven: float = 0.0


def _tenths(density: Array) -> Array:
    return np.round(density / STOP, 1)


def _thirds(density: Array) -> Array:
    """Return the marked third of a stop, as a time: an open gate at 1/1024 second."""
    return np.asarray(2.0 ** (np.round(3 * density / STOP) / 3 - 10))


DOORS = (
    Door("densitometer", 'unit = "density"', lambda d: np.round(d, 2), 0.01, 0.0),
    Door("spot meter, tenths of a stop", 'unit = "stops"', _tenths),
    Door("the same, known wedge read too", 'unit = "stops"\nknown_wedge = "known.csv"', _tenths, known=True),
    Door("the same, meter moved on the table", 'unit = "stops"', _tenths, uneven=0.2),
    Door("spot meter, exposure values", 'unit = "ev"\nopen_gate = 14.0', lambda d: 14.0 - _tenths(d)),
    Door("camera's meter, marked times", 'unit = "seconds"\nopen_gate = 0.0009765625', _thirds),
    Door("lux meter, per cent", 'unit = "percent"', lambda d: 100.0 * 10.0**-d, 0.02),
)


def film_of(rng: np.random.Generator) -> Film:
    """Return a film in a reversal process: its base, its veil, its ceiling, its contrast and its speed are drawn."""
    base = rng.uniform(0.03, 0.12)
    layer = Layer(base, rng.uniform(0.02, 0.15), base + rng.uniform(1.8, 2.9), emulsions(
        rng.uniform(-1.1, -0.4), rng.uniform(0.3, 0.7), rng.uniform(0.3, 0.45)))  # fmt: skip
    return Film("reversal", {"visual": layer})


@dataclass(frozen=True)
class Exposed:
    """One strip before it is read, and what is true of it.

    Attributes:
        densities: of its steps, step 1 first [density].
        patches: of the unexposed and the fully exposed film [density].
        index: the index to set, by criterion.
        frame_ei: index at which one grey frame was metered on the same film.
        frame: density of that frame [density].
    """

    densities: Array
    patches: dict[str, float]
    index: dict[str, float]
    frame_ei: float
    frame: float


def exposed(seed: int) -> Exposed:
    """Return a strip exposed with errors of the light, the wedge and the meter in use."""
    rng = np.random.default_rng((7, seed))
    film = film_of(rng)
    # A light off by 0.1 stop (normal), and a meter and its constant off by up to a third and a twelfth of a stop.
    light = STOP * 0.1 * rng.standard_normal()
    constant = math.exp(rng.uniform(math.log(12.5), math.log(14.0)))
    meter = 2.0 ** rng.uniform(-1 / 3, 1 / 3)
    wedge = wedge_21()
    true_wedge = (wedge + 0.005 * rng.standard_normal(21) + 0.01 * rng.standard_normal()) * (
        1.0 + 0.003 * rng.standard_normal()
    )
    uneven = STOP * 0.05 * rng.standard_normal() * np.linspace(-1.0, 1.0, 21) * math.sqrt(3.0)
    truth = truth_of(lambda x: film.density("visual", x), constant)
    # The frame: metered with the meter in use, at an index near the true one.
    frame_ei = float(round(truth.middle * meter * 2.0 ** rng.uniform(-0.7, 0.7), 1))
    aim = STOP * (0.15 * rng.standard_normal() + rng.uniform(-1 / 3, 1 / 3))
    grey = math.log10(0.6516 * constant / frame_ei * meter) + aim
    index = {"set": truth.index, "highlight": truth.highlight, "middle": truth.middle}
    return Exposed(
        film.density("visual", np.log10(LUX * SECONDS) - true_wedge + light + uneven),
        {name: film.patch(name, "visual") for name in ("unexposed", "fully_exposed")},
        {name: value * meter for name, value in index.items()},
        frame_ei,
        float(film.density("visual", np.array([grey]))[0]),
    )


def written(door: Door, folder: Path, strip: Exposed, seed: int) -> Path:
    """Write the record of a strip that was read through a door; return it."""
    rng = np.random.default_rng((8, seed))
    flare = door.flare * abs(rng.standard_normal())
    zero, scale = 0.01 * rng.standard_normal(), 1.0 + 0.01 * rng.standard_normal()
    tilt = door.uneven * np.random.default_rng((11, seed)).uniform(-0.5, 0.5)

    def read(density: Array) -> Array:
        through = -np.log10((10.0**-density + flare) / (1.0 + flare)) * scale + zero
        through = through - np.log10(1.0 + tilt * np.linspace(-1.0, 1.0, density.size)) if density.size > 1 else through
        return door.shown(through + door.scatter * rng.standard_normal(density.shape))

    rows = "".join(f"{n},{value!r}\n" for n, value in enumerate(read(strip.densities).tolist(), start=1))
    (folder / "strip.csv").write_text("step,visual\n" + rows, encoding="utf-8")
    patches = "".join(
        f"{name} = {{ visual = {float(read(np.array(density)))!r} }}\n" for name, density in strip.patches.items()
    )
    if door.known:
        true = KNOWN + 0.01 * rng.standard_normal(KNOWN.size)
        rows = "".join(f"{d:.4f},{r!r},0.01\n" for d, r in zip(KNOWN, read(true).tolist(), strict=True))
        (folder / "known.csv").write_text("density,reading,uncertainty\n" + rows, encoding="utf-8")
    return record(folder, f'readings = "strip.csv"\n[patches]\n{patches}[reader]\n{door.reader}\n')


def wedge_table(folder: Path) -> None:
    """Write the table of the wedge that the strip was exposed through."""
    wedge = "".join(f"{step},{d:.4f},0.005\n" for step, d in enumerate(wedge_21(), start=1))
    (folder / "wedge.csv").write_text("step,density,uncertainty\n" + wedge, encoding="utf-8")


def record(folder: Path, content: str) -> Path:
    """Write a record with the strip's exposure and wedge, and what a door adds; return it."""
    wedge_table(folder)
    path = folder / "strip.toml"
    first, _, rest = content.partition("\n")
    path.write_text(
        f'kind = "reversal"\ndensity = "visual"\n{first}\n[wedge]\ntable = "wedge.csv"\ncommon = 0.01\n'
        f'scale_uncertainty = 0.003\n[exposure]\nmethod = "contact"\nlux = {LUX}\nseconds = {SECONDS}\n'
        f'uncertainty_stops = 0.1\nlight = "daylight 5500 K"\n{rest}',
        encoding="utf-8",
    )
    return path


@dataclass(frozen=True)
class Count:
    """How often intervals held the truth, and how wide they were, by criterion.

    Attributes:
        held: one truth value a strip.
        width: one width a strip [stops].
        bounds: strips without an interval.
        refused: strips that were not read.
    """

    held: dict[str, list[bool]]
    width: dict[str, list[float]]
    bounds: int = 0
    refused: int = 0


Make = Callable[[Path, Exposed, int], Path]


def counted(make: Make, strips: range, draws: int = 300) -> Count:
    """Return the count of a door over strips.

    Args:
        make: writes the record of a strip as the door reads it, in a folder.
        strips: their numbers, of which each has errors of its own.
        draws: behind each interval.
    """
    count = Count({}, {})
    for seed in strips:
        strip = exposed(seed)
        with tempfile.TemporaryDirectory() as folder:
            try:
                loaded = load_strip(make(Path(folder), strip, seed))
            except CurvesError as error:
                print(f"  strip {seed}: {error}", flush=True)
                count = replace(count, refused=count.refused + 1)
                continue
        # Every source is drawn, and no budget is made, which would take half of the time.
        ei = analyse_alone(loaded, sources_of(loaded), Choices(draws=draws, most_draws=draws, seed=seed)).working_ei
        found = {"set": ei.recommended, "highlight": ei.criteria["highlight"].ei, "middle": ei.criteria["middle"].ei}
        for name, quantity in found.items():
            if quantity.low is None or quantity.high is None:
                count = replace(count, bounds=count.bounds + (name == "set"))
                continue
            count.held.setdefault(name, []).append(bool(quantity.low <= strip.index[name] <= quantity.high))
            count.width.setdefault(name, []).append(math.log2(quantity.high / quantity.low))
    return count


def line(name: str, count: Count) -> str:
    """Return a line of the table: strips, and by criterion the share that holds, its standard error, the width."""
    cells = [
        f"{(share := np.mean(held)):6.1%} {math.sqrt(share * (1 - share) / len(held)):5.1%}"
        f" {np.median(count.width[name]):5.2f}"
        for name, held in count.held.items()
    ]
    return f"{name:34} {len(count.held['set']):5}  {'  '.join(cells)}  {count.bounds:5} {count.refused:7}"


def photographed(camera: photography.Camera, folder: Path, strip: Exposed, seed: int) -> Path:
    """Write the record of a strip that was photographed on a light table; return it."""
    wedge_table(folder)
    sections: dict[str, object] = {
        "wedge": {"table": "wedge.csv", "common": 0.01, "scale_uncertainty": 0.003},
        "exposure": {
            "method": "contact", "lux": LUX, "seconds": SECONDS, "uncertainty_stops": 0.1,
            "light": "daylight 5500 K",
        },
    }  # fmt: skip
    return photography.record(camera, folder, strip.densities, strip.patches, KNOWN, seed, sections)


def by_one_frame(folder: Path, strip: Exposed, seed: int) -> Path:
    """Write the record of a strip under a light that nobody measured, placed by one metered grey frame; return it."""
    rng = np.random.default_rng((10, seed))
    path = written(DOORS[1], folder, strip, seed)
    # The frame is read as the strip is; the shutter errs by 0.15 stop, the metering by a third.
    frame = strip.frame + 0.02 * rng.standard_normal()
    text = path.read_text(encoding="utf-8").replace(f"lux = {LUX}\nseconds = {SECONDS}\nuncertainty_stops = 0.1\n", (
        f"grey_frame = {{ ei = {strip.frame_ei!r}, visual = {float(_tenths(np.array(frame)))!r} }}\n"))  # fmt: skip
    path.write_text(text, encoding="utf-8")
    return path


def makers() -> dict[str, Make]:
    """Return what writes a strip through each door, by the door's name."""
    by_light = {door.name: partial(written, door) for door in DOORS}
    by_camera = {camera.name: partial(photographed, camera) for camera in photography.CAMERAS}
    return {**by_light, "unknown light, one grey frame": by_one_frame, **by_camera}


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--strips", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="number of the first strip")
    parser.add_argument("--door", default="", help="part of a door's name")
    asked = parser.parse_args()
    print(f"{'':34} {'n':>5}  {'index to set':>18}  {'highlight':>18}  {'middle':>18}  bound refused")
    for name, make in makers().items():
        if asked.door in name:
            print(line(name, counted(make, range(asked.first, asked.first + asked.strips))), flush=True)


if __name__ == "__main__":
    main()
