"""The settings of each strip or frame of a plan, in words."""

from __future__ import annotations

from curves.sensitometry.core.units import nominal_speed
from curves.sensitometry.planning.ways import FirstPlan, PlannedStrip
from curves.views.words.wrapping import wrapped

_NAME, _SETTING = 12, 24


def settings(plan: FirstPlan) -> list[str]:
    """Return a line for each strip: what to set, and what it covers."""
    if plan.way == "frames":
        return _frame_settings(plan)
    lines = [f"{'':<{_NAME}}{'set':<{_SETTING}}{'lux-seconds':>11}{'log H':>18}{'alone':>9}"]
    for number, strip in enumerate(plan.strips, start=1):
        covers = f"{strip.ends[0]:.2f} to {strip.ends[1]:.2f}"
        chance = f"{100.0 * (strip.alone.value or 0.0):.0f} %"
        line = f"  {f'strip {number}':<{_NAME - 2}}{setting(plan, strip):<{_SETTING}}"
        lines.append(f"{line}{strip.lux_seconds:>11.3g}{covers:>18}{chance:>9}")
    if plan.way == "camera":
        lines += wrapped(
            f"Set the meter to EI {plan.ei:g} and read step {plan.metered_step}; the record's offset_stops says what"
            " each strip got beyond the metered exposure. Lux-seconds are those of the metered step."
        )
    return lines


def _frame_settings(plan: FirstPlan) -> list[str]:
    """Return a line for each frame: stops from the metered exposure, the index that this rates, and the setting."""
    lines = wrapped(f"Set the meter to EI {plan.ei:g} and read the grey card.")
    lines.append(f"{'':<{_NAME}}{'stops':>7}{'rated EI':>11}   set")
    for number, frame in enumerate(plan.strips, start=1):
        assert frame.ei is not None
        assert frame.offset_stops is not None
        rated = f"{nominal_speed(frame.ei):g}"
        name = f"frame {number}"
        line = f"  {name:<{_NAME - 2}}{frame.offset_stops:>+7.1f}{rated:>11}   {setting(plan, frame)}"
        lines.append(line.rstrip())
    return lines


def setting(plan: FirstPlan, strip: PlannedStrip) -> str:
    """Return the setting of a strip: time, aperture, filter; or stops from the metered exposure."""
    if strip.time is not None:
        filtered = f", filter {strip.filter_density:.1f}" if strip.filter_density else ""
        aperture = f"f/{strip.aperture.engraved} " if strip.aperture is not None else ""
        return f"{aperture}{strip.time.engraved} s{filtered}"
    if strip.offset_stops is None:
        return f"{strip.lux_seconds * 30.0:.3g} lux for 1/30 s"
    if plan.way == "frames":
        return ""
    return "as metered" if strip.offset_stops == 0.0 else f"{strip.offset_stops:+.1f} stops from metered"


def needs(plan: FirstPlan) -> str:
    """Return in words what a way of exposing needs."""
    most, least = plan.strips[0], plan.strips[-1]
    if plan.way == "contact":
        span = f"{least.lux_seconds:.2g} to {most.lux_seconds:.2g}" if most is not least else f"{most.lux_seconds:.2g}"
        return f"{span} lux-seconds on the wedge, lux meter, shutter"
    if plan.way == "camera":
        return f"meter at EI {plan.ei:g} on step {plan.metered_step}, light behind the wedge"
    assert most.ei is not None
    assert least.ei is not None
    return f"grey card, rated EI {nominal_speed(most.ei):g} to {nominal_speed(least.ei):g}, no wedge"
