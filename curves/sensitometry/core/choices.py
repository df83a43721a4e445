"""Choices that a person may make: the place of scene tones, the meter's mid-grey, the number of draws."""

from __future__ import annotations

from dataclasses import dataclass

from curves.errors import StripError
from curves.sensitometry.core.values import POSITIVE, Bounds, check_fields, short_repr, store, whole

METERED_EXPOSURE = {"ISO 12232": 10.0, "ISO 2720": 0.6516 * 12.5}
"""k of H = k / EI at the film plane, by the standard that it comes from [lux-seconds]."""


DRAWS = 1000
MOST_DRAWS = 4 * DRAWS
_TONE = Bounds(above=-5.0, below=5.0)
"""How far a scene tone may lie from mid-grey: no scene is longer [log10]."""
_DENSITY = Bounds(least=0.0)


@dataclass(frozen=True)
class Choices:
    """Choices that an analysis rests on. The scene tones are common practice.

    Attributes:
        metered_exposure: k of H = k / EI for mid-grey [lux-seconds]; ISO 12232's reference exposure by default.
        white: scene white above mid-grey, 90 % against 18 % [log10].
        shadow: textured shadow against mid-grey, three stops below it [log10].
        detail_ends: net density below which a highlight has no detail: the highlight limit of ISO 6846 [density].
        texture_ends: share of Dmax - Dmin above which a shadow has no texture: our own choice [unitless].
        clear_dmin, clear_veil: the film clears if Dmin and veil are at most this: our own choice [density].
        draws: simulated curves behind every interval, to begin with [unitless].
        most_draws: how many there may be, if the intervals have not settled by then [unitless].
        seed: their seed; the same strip and seed give the same numbers.
        scene_seconds: time that a meter set to the index asks for, if a scene is to be exposed [s].

    Raises:
        StripError: a number is out of range, or white does not lie above shadow.
    """

    metered_exposure: float = METERED_EXPOSURE["ISO 12232"]
    white: float = 0.70
    shadow: float = -0.90
    detail_ends: float = 0.04
    texture_ends: float = 0.90
    clear_dmin: float = 0.20
    clear_veil: float = 0.10
    draws: int = DRAWS
    most_draws: int = MOST_DRAWS
    seed: int = 0
    scene_seconds: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, metered_exposure=POSITIVE, scene_seconds=POSITIVE, white=_TONE, shadow=_TONE)
        check_fields(self, detail_ends=POSITIVE, texture_ends=Bounds(above=0.0, below=1.0))
        check_fields(self, clear_dmin=_DENSITY, clear_veil=_DENSITY)
        for name in ("draws", "most_draws", "seed"):
            store(self, name, whole(getattr(self, name), f"Choices, {name}", least=0))
        if not self.white > self.shadow:
            raise StripError(
                f"white at {self.white:g} is not above shadow at {self.shadow:g}",
                where="Choices, white and shadow",
                needed="white > shadow",
            )

    @property
    def metered_exposure_source(self) -> str:
        """Name of the standard that the metered exposure comes from, or "given"."""
        return next((name for name, k in METERED_EXPOSURE.items() if k == self.metered_exposure), "given")
