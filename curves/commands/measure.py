"""``curves measure``: the numbers in the terminal."""

from __future__ import annotations

from curves.commands import options


def measure(
    strips: options.Strips,
    kind: options.Kind = None,
    wedge: options.WedgeText = None,
    ei: options.EI = None,
    lux: options.Lux = None,
    seconds: options.Seconds = None,
    density: options.Density = None,
    white: options.White = 0.70,
    shadow: options.Shadow = -0.90,
    metered_exposure: options.MeteredExposure = 10.0,
    seed: options.Seed = 0,
    as_json: options.Json = False,
) -> None:
    """Print every number found on strips.

    Example: curves measure wedge_data/heron-reversal.toml

    Example: curves measure readings.csv --kind reversal --wedge 21x0.15 --lux 25 --seconds 0.02
    """
    rests_on = options.choices(white, shadow, metered_exposure, seed)
    found = options.analyses(strips, rests_on, kind=kind, wedge=wedge, ei=ei, lux=lux, seconds=seconds, density=density)
    if as_json:
        from curves.files.results import as_json as json_of

        print(json_of(found), end="")
    else:
        from curves.views.text import measures_text

        print("\n\n".join(measures_text(analysis) for analysis in found), end="")
