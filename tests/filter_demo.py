"""The club's drawer of filters, and its strip exposed through the best stack: invented, from `tests.spectral`.

``python -m tests.simulate`` writes these files with the other demo data.
"""

from __future__ import annotations

from dataclasses import replace

from tests import spectral
from tests.simulate import HERON_AS_SLIDE, INVENTED, Scenario, readings_text, record_text, scenarios

STACK = ("pale blue 40 mired", "cyan CC05")
"""What `curves filters` finds best for the demo strip: a test holds it to that."""

HEADER = "name,red,green,blue,visual,source,count,cc,colour,mired,factor"

HERON = spectral.SpectralFilm(HERON_AS_SLIDE, spectral.sensitivities())

_READ = {
    "cyan CC20": spectral.cc(20.0, "cyan"),
    "magenta CC10": spectral.cc(10.0, "magenta"),
    "magenta CC40": spectral.cc(40.0, "magenta"),
    "pale blue 40 mired": spectral.conversion(-40.0),
}
_GLASS = {**_READ, "cyan CC05": spectral.cc(5.0, "cyan")}


def drawer_text() -> str:
    """Return the drawer as CSV text: some filters read on a densitometer, some known by what is written on them."""
    rows = [f"# {INVENTED.replace('test strip', 'filters')}", HEADER]
    for name, glass in _READ.items():
        densities = [*glass.densitometer().values(), glass.to(spectral.METER)]
        rows.append(",".join([name, *(f"{d:.2f}" for d in densities), "densitometer,,,,,"]))
    rows += [
        "orange conversion 131 mired,,,,,,,,,131,",
        "pale orange 35 mired,,,,,,,,,35,",
        "blue conversion 81 mired,,,,,,,,,-81,",
        "cyan CC05,,,,,,2,5,cyan,,",
        "yellow CC20,,,,,,,20,yellow,,",
        "red CC30,,,,,,,30,red,,",
        "old grey,,,,,,,,,,4",
    ]
    return "\n".join(rows) + "\n"


def filtered() -> Scenario:
    """Return the club's strip exposed through its best stack."""
    bare = scenarios()["heron-reversal"]
    return replace(
        bare,
        name="heron-filtered",
        title="Heron 80, reversal, through " + " + ".join(STACK),
        date="2026-03-21",
        film=HERON.behind(spectral.stacked([_GLASS[name] for name in STACK])),
        seed=6,
    )


def files() -> dict[str, str]:
    """Return the text of the drawer and the strip by name of file."""
    through = filtered()
    used = "".join(f'\n[[filter]]\nname = "{name}"\nmetered = "without"\n' for name in STACK)
    return {
        "drawer.csv": drawer_text(),
        "heron-filtered.toml": record_text(through) + used,
        "heron-filtered.csv": readings_text(through),
    }
