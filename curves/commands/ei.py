"""``curves ei``: the working exposure index, in words."""

from __future__ import annotations

from curves.commands.options import Json, OneStrip, Wanted, with_strip_options


@with_strip_options
def ei(strip: OneStrip, wanted: Wanted, as_json: Json = False) -> None:
    """Say what to set the meter to, how far it may be moved, and why.

    Example: curves ei wedge_data/heron-reversal.toml
    """
    found = wanted.analyses([strip])
    if as_json:
        from curves.files.results import as_json as json_of

        print(json_of(found), end="")
    else:
        from curves.views.text import ei_text

        print(ei_text(found[0], wanted.choices()), end="")
