"""The shift model keeps the physics: what filters can do to a film, and what they cannot."""

from functools import cache

import numpy as np
import pytest

from curves import Choices, analyse, load_strip
from curves.errors import StripError
from curves.sensitometry.core.units import LAYERS, STOP, FloatArray
from curves.sensitometry.filters.behind import BareStrip, Match
from curves.sensitometry.filters.cast import TONES
from curves.sensitometry.filters.densities import cc_densities
from curves.sensitometry.filters.prediction import Prediction, ideal_pack, predict
from tests.simulate import FOLDER
from tests.views import sample

CHOICES = Choices(draws=200, most_draws=0)


@cache
def bare(match: Match = "net", name: str = "heron-reversal") -> BareStrip:
    return BareStrip.of(analyse(load_strip(FOLDER / f"{name}.toml"), CHOICES), CHOICES, match)


def behind(*densities: FloatArray, match: Match = "net", name: str = "heron-reversal") -> Prediction:
    strip = bare(match, name)
    return predict(strip, np.broadcast_to(np.sum(densities, axis=0), (strip.rows, 3)))


def casts(prediction: Prediction) -> list[float]:
    return [prediction.casts[t].layers[c].value or 0.0 for t in TONES for c in LAYERS]


@pytest.mark.parametrize("name", ["heron-reversal", "heron-negative"])
@pytest.mark.parametrize("match", ["net", "absolute"])
@pytest.mark.parametrize("density", [0.1, 0.3, 0.45])
def test_grey_density_costs_exposure_and_leaves_casts_untouched(name: str, match: Match, density: float) -> None:
    nothing, grey = (behind(np.full(3, d), match=match, name=name) for d in (0.0, density))
    assert grey.cost.value == pytest.approx(density / STOP, abs=1e-3)
    assert grey.cost.high == pytest.approx(density / STOP, abs=5e-3)
    assert grey.ei.value == pytest.approx((nothing.ei.value or 0.0) * 10.0**-density, rel=1e-3)
    if match == "net" or not grey.uncovered:
        assert casts(grey) == pytest.approx(casts(nothing), abs=2e-3)


def test_filters_commute() -> None:
    one, other = cc_densities(20, "magenta"), np.array([0.05, 0.2, 0.4])
    assert casts(behind(one, other)) == casts(behind(other, one))


@pytest.mark.parametrize(("colour", "complement"), [("magenta", "green"), ("cyan", "red"), ("yellow", "blue")])
def test_a_filter_and_its_complement_make_grey(colour: str, complement: str) -> None:
    both = behind(cc_densities(20, colour), cc_densities(20, complement))
    assert casts(both) == pytest.approx(casts(behind(np.zeros(3))), abs=2e-3)
    assert both.cost.value == pytest.approx(0.20 / STOP, abs=1e-3)


def test_without_a_filter_the_index_is_the_one_of_the_strip() -> None:
    analysis = analyse(load_strip(FOLDER / "heron-reversal.toml"), CHOICES)
    assert behind(np.zeros(3)).ei.value == pytest.approx(analysis.working_ei.recommended.value, rel=1e-3)
    assert behind(np.zeros(3)).cost.value == 0.0


def test_a_colour_negative_is_placed_by_the_layer_that_starts_last() -> None:
    slow = np.array([0.0, 0.0, 0.0])
    starts = [float(c.grid[0]) for c in bare(name="heron-negative").layers]
    assert len(starts) == 3
    # Holding back the layer that starts last costs exactly its density; holding back another less.
    costs = [behind(slow + 0.3 * np.eye(3)[i], name="heron-negative").cost.value or 0.0 for i in range(3)]
    assert max(costs) == pytest.approx(0.3 / STOP, abs=1e-6)
    assert min(costs) < 0.3 / STOP - 0.05


def test_a_filter_makes_its_layer_denser_on_a_slide() -> None:
    # From the model: less exposure of the green layer leaves it denser, so grey turns magenta.
    before, after = behind(np.zeros(3)), behind(cc_densities(30, "magenta"))
    assert (after.casts["grey"].layers["green"].value or 0.0) > (before.casts["grey"].layers["green"].value or 0.0)


@pytest.mark.parametrize("match", ["net", "absolute"])
def test_the_ideal_pack_balances_grey_and_holds_no_grey(match: Match) -> None:
    pack = ideal_pack(bare(match))
    assert pack.left is not None
    assert pack.left.casts["grey"].amount.value == pytest.approx(0.0, abs=0.01)
    assert min(q.value or 0.0 for q in pack.cc.values()) == 0.0
    assert all((q.value or 0.0) >= 0.0 for q in pack.cc.values())
    # What is left at white and shadow is crossover: layers of different shape.
    assert (pack.left.casts["shadow"].amount.value or 0.0) > 0.02


def test_the_ideal_pack_is_the_distance_of_the_layers() -> None:
    # The demo film's blue layer is the slowest, its red the fastest: so much cyan, less magenta, no yellow.
    cc = ideal_pack(bare("net")).cc
    assert (cc["cyan"].value or 0.0) > (cc["magenta"].value or 0.0) > (cc["yellow"].value or 0.0) == 0.0
    for q in cc.values():
        assert q.low is not None
        assert q.high is not None
        assert q.low <= (q.value or 0.0) <= q.high


def test_a_tone_that_falls_off_the_strip_has_no_cast_but_a_reason() -> None:
    # The blue layer is moved up by 1.2: its shadow lies below the strip's first step.
    lost = behind(np.array([0.0, 0.0, 1.2]))
    assert lost.uncovered == ("shadow in blue",)
    assert lost.casts["shadow"].words == "not known: shadow falls off the strip in blue"
    assert lost.cast_left.value is None
    assert lost.casts["grey"].amount.value is not None


def test_a_filter_that_moves_the_scene_off_the_strip_gets_no_index() -> None:
    lost = behind(np.array([2.0, 0.0, 0.0]))
    assert lost.ei.value is None
    assert "the strip is too short" in (lost.ei.why or "")
    assert lost.casts["white"].amount.value is None


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "wren-reversal",
            "Wren 25, reversal: red and green and blue density was not read; needed: red, green and blue: a filter is"
            " chosen by what it does to each layer.",
        ),
        (
            "heron-short",
            "Heron 80, reversal, wedge ended before the highlights cleared: the strip names no working index, so the"
            " scene has no place on its curves; needed: a strip on which T and S, or the speed point, can be"
            " found.\nTry: ask for the strip's working index alone, which says what to expose next.",
        ),
    ],
)
def test_a_strip_that_cannot_tell_is_refused_in_words(name: str, said: str) -> None:
    with pytest.raises(StripError) as caught:
        bare(name=name)
    assert str(caught.value) == said


def test_the_same_seed_gives_the_same_prediction() -> None:
    strips = [BareStrip.of(sample.colour_reversal(), Choices(draws=200, most_draws=0), "net") for _ in range(2)]
    one, other = (predict(s, np.broadcast_to(cc_densities(20, "cyan"), (s.rows, 3))) for s in strips)
    assert one.casts == other.casts
    assert one.ei == other.ei
