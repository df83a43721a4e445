"""Cautions about heat, the sun and chemistry, and the pieces of film to keep beside a strip."""

from __future__ import annotations

from collections.abc import Iterator

from curves.sensitometry.core.units import Kind
from curves.views.words.wrapping import wrapped

PATCHES = {
    "reversal": (
        ("base", "film through fixer and wash alone: what no process can clear beyond"),
        ("unexposed", "film that got no light, through the whole process: Dmax"),
        ("fully exposed", "film held to room light, through the whole process: Dmin"),
    ),
    "negative": (
        ("base", "film through fixer and wash alone: the support without fog"),
        ("unexposed", "film that got no light, through the whole process: base and fog, Dmin"),
        ("fully exposed", "film held to room light, through the whole process: Dmax"),
    ),
}
"""The three pieces to keep beside a strip, and what each settles, by kind."""

HEAT = (
    "Lamps, flashes and enlargers get hot and are on the mains: unplug them before a lamp is changed, and leave a"
    " housing its air."
)
SUN = (
    "Never look at the sun through a photographic filter, a wedge or a lens, nor through a finder without a solar"
    " filter in front of the lens: what is dark to the eye may still pass the heat."
)
CHEMISTRY = (
    "Processing chemistry can burn, sensitise and poison: gloves, eye protection and ventilation; the maker's safety"
    " data sheet; local rules for disposal. Whoever is not sure defers to licensed practice."
)


def cautions() -> Iterator[str]:
    """Yield the cautions of a plan: heat, the sun, chemistry; each a sentence or two."""
    yield HEAT
    yield SUN
    yield CHEMISTRY


def patch_lines(kind: Kind) -> list[str]:
    """Return a heading and a line for each piece of film to keep beside a strip."""
    lines = ["Keep beside the wedge, a few centimetres of film:"]
    for name, what in PATCHES[kind]:
        lines += wrapped(f"{name:<15}{what}", indent=2, hanging=17)
    return lines
