"""The index by eye in the terminal: of a bracket whose frames were judged and not read."""

from __future__ import annotations

from curves.sensitometry.uncertainty.results import Analysis
from curves.views.words import digits
from curves.views.words.answers import frames_words, side_words, sure_words
from curves.views.words.budget import rows as budget_rows
from curves.views.words.meters import meter_words
from curves.views.words.wrapping import listed, row, wrapped


def by_eye_text(analysis: Analysis, *, full: bool) -> str:
    """Return the index that judgements alone give, how sure it is, and what to do next.

    Args:
        analysis: results of a bracket without densities.
        full: True to give the rule of the judgements and every source of error.
    """
    ei = analysis.working_ei
    told = ei.by_eye
    assert told is not None, "a bracket without densities was judged"
    lines = [*wrapped(analysis.strip.title), ""]
    if ei.nominal is None:
        lines += row("Set", f"No index can be named yet. It lies {side_words(ei)}.")
        lines += row("Why", f"{(ei.recommended.why or '').capitalize()}.")
    else:
        before = digits.value_and_interval(ei.recommended, 1)
        lines += row("Set", f"{meter_words(analysis)} Before rounding {before}.")
    lines += row("Judged", f"{frames_words(told)}; no density was read.")
    if (sure := sure_words(ei)) is not None:
        lines += row("Sure", f"{sure}.")
    if full:
        lines += ["", *wrapped(ei.reason)]
        if ei.budget is not None:
            lines += ["", "Sources of error:", *budget_rows(ei.budget)]
    lines += listed("Look at:", (notice.message for notice in analysis.warnings))
    lines += listed("Next:", ei.advice)
    return "\n".join(lines) + "\n"
