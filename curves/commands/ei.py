"""``curves ei``: the working exposure index, in words."""

from __future__ import annotations

from curves.commands import options


def ei(
    strip: options.OneStrip,
    kind: options.Kind = None,
    wedge: options.WedgeText = None,
    test_ei: options.EI = None,
    lux: options.Lux = None,
    seconds: options.Seconds = None,
    density: options.Density = None,
    white: options.White = 0.70,
    shadow: options.Shadow = -0.90,
    metered_exposure: options.MeteredExposure = 10.0,
    seed: options.Seed = 0,
    as_json: options.Json = False,
) -> None:
    """Say what to set the meter to, how far it may be moved, and why.

    Example: curves ei wedge_data/heron-reversal.toml
    """
    rests_on = options.choices(white, shadow, metered_exposure, seed)
    found = options.analyses(
        [strip], rests_on, kind=kind, wedge=wedge, ei=test_ei, lux=lux, seconds=seconds, density=density
    )
    if as_json:
        from curves.files.results import as_json as json_of

        print(json_of(found), end="")
    else:
        from curves.views.text import ei_text

        print(ei_text(found[0], rests_on), end="")
