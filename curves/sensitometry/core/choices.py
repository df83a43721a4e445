"""The choices that an analysis rests on: the scene's tones, the meter that the index is for, the number of draws."""

from __future__ import annotations

from dataclasses import dataclass

DRAWS = 1000
MOST_DRAWS = 4 * DRAWS


@dataclass(frozen=True)
class Choices:
    """Choices that an analysis rests on. The scene tones are common practice.

    Attributes:
        meter_constant: K of the meter that the index is meant for (ISO 2720) [cd s / m2], in place of what the strip
            states; None to leave it to the strip.
        white: scene white above mid-grey, 90 % against 18 % [log10].
        shadow: textured shadow against mid-grey, three stops below it [log10].
        detail_ends: net density below which a highlight has no detail: the highlight limit of ISO 6846 [density].
        texture_ends: share of Dmax - Dmin above which a shadow has no texture: our own choice [unitless].
        clear_dmin, dull_dmin: whites can be judged fully where Dmin is at most the first, not at all from the second
            on: our own choice [density].
        draws: simulated curves behind every interval, to begin with [unitless].
        most_draws: how many there may be, if the intervals have not settled by then [unitless].
        seed: their seed; the same strip and seed give the same numbers.
        scene_seconds: time that a meter set to the index asks for, if a scene is to be exposed [s].
    """

    meter_constant: float | None = None
    white: float = 0.70
    shadow: float = -0.90
    detail_ends: float = 0.04
    texture_ends: float = 0.90
    clear_dmin: float = 0.14
    dull_dmin: float = 0.30
    draws: int = DRAWS
    most_draws: int = MOST_DRAWS
    seed: int = 0
    scene_seconds: float | None = None
