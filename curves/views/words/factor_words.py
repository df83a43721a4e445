"""Filter-factor arithmetic both ways: a factor, stops or a density, each said as the other two."""

from __future__ import annotations

import re
import textwrap

from curves.sensitometry.filters.densities import (
    density_of_factor,
    density_of_stops,
    factor_of_density,
    stops_of_density,
)

WIDTH = 79
_ASKED = re.compile(r"^\s*(?:(?P<word>factor|density)\s+)?(?P<number>\d*\.?\d+)\s*(?P<stops>stops?)?\s*$", re.I)


def factor_words(text: str) -> str | None:
    """Return "factor 4", "2 stops" or "density 0.6" as all three, or None if the text is none of these.

    Args:
        text: what was asked.
    """
    match = _ASKED.match(text)
    if match is None or bool(match["word"]) == bool(match["stops"]):
        return None
    number = float(match["number"])
    if match["stops"]:
        density = density_of_stops(number)
    elif (match["word"] or "").lower() == "density":
        density = number
    elif number > 0.0:
        density = density_of_factor(number)
    else:
        return None
    factor, stops = factor_of_density(density), stops_of_density(density)
    said = (
        f"Give {factor:.3g} times the exposure, or {stops:.2f} stops more; or divide the index on a meter that does not"
        f" see the filter by {factor:.3g}."
    )
    return "\n".join(
        [
            f"factor {factor:.3g} = {stops:.2f} stops = density {density:.2f}",
            *textwrap.wrap(said, WIDTH, initial_indent="  ", subsequent_indent="  "),
            "  factor = 2^stops = 10^density; stops = density / 0.30103",
        ]
    )
