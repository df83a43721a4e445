"""The choices that an analysis rests on: the scene's tones, the meter that the index is for, the number of draws."""

from __future__ import annotations

from dataclasses import dataclass

from curves.errors import StripError
from curves.sensitometry.core.values import METER_CONSTANT, POSITIVE, Bounds, check_fields, short_repr, store, whole

DRAWS = 1000
MOST_DRAWS = 4 * DRAWS
_TONE = Bounds(above=-5.0, below=5.0)
"""How far a scene tone may lie from mid-grey: no scene is longer [log10]."""
_DENSITY = Bounds(least=0.0)


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
        at: an exposure index of one's own, at which the scene is to be placed too [unitless].

    Raises:
        StripError: a number is out of range, or white does not lie above shadow.
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
    at: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(
            self, meter_constant=METER_CONSTANT, scene_seconds=POSITIVE, at=POSITIVE, white=_TONE, shadow=_TONE
        )
        check_fields(self, detail_ends=POSITIVE, texture_ends=Bounds(above=0.0, below=1.0))
        check_fields(self, clear_dmin=_DENSITY, dull_dmin=Bounds(above=self.clear_dmin))
        for name in ("draws", "most_draws", "seed"):
            store(self, name, whole(getattr(self, name), f"Choices, {name}", least=0))
        if not self.white > self.shadow:
            raise StripError(
                f"white at {self.white:g} is not above shadow at {self.shadow:g}",
                where="Choices, white and shadow",
                needed="white > shadow",
            )
