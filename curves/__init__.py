"""From the densities of an exposed step wedge to curves, speed points and a working exposure index.

The library's face, each name loaded when it is first used. Nothing third-party is loaded by ``import curves``.

    load_strip(path)                      a strip record -> Strip
    Strip.from_readings(readings, ...)    lists of densities -> Strip
    analyse(strip)                        Strip -> Analysis: curves, measures, points, speeds, the working index
    analyse_for_index(strip)              the same of a bracket that was only judged by eye: its index
    fit_curve(log_h, density, kind=...)   one channel -> Curve
    compare(strip, other, ...)            strips -> a pandas table of the differences of all their numbers
    series(strips, by)                    strips that differ in one condition -> a pandas table of numbers and trends
    settings_for(strips, by, wanted)      the same -> a pandas table of the settings that wanted numbers need
    join(strip, other, ...)               strips exposed differently -> JoinedStrip: one strip, and their overlap
    together(strip, other, ...)           strips of one film -> CommonIndex: one index, and whether they agree
    control(strips, reference)            control strips -> a pandas table of their charts
    difference(one, other)                two numbers -> their difference, free of the errors that they share
    measures_frame, points_frame, steps_frame, curve_frame(analysis)    pandas tables
    figure(analysis)                      a plotly figure
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from curves.errors import CurvesError, GrainError, OutputError, RecordError, StripError
    from curves.files.results.comparison import compare
    from curves.files.results.control import control
    from curves.files.results.frames import curve_frame, measures_frame, points_frame, steps_frame
    from curves.files.results.series import series, settings_for
    from curves.files.strips.record import load_strip
    from curves.sensitometry.analysis.analyse import analyse, analyse_for_index
    from curves.sensitometry.combining.joining import JoinedStrip, join
    from curves.sensitometry.combining.together import CommonIndex, together
    from curves.sensitometry.comparison.differences import Tolerances
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.core.quantity import Quantity
    from curves.sensitometry.core.reader_units import ReaderScale
    from curves.sensitometry.curve.fit import Curve, fit_curve
    from curves.sensitometry.series.trend import Repeatability
    from curves.sensitometry.strip.exposure import Camera, Contact, Eye, Frames, GivenExposure
    from curves.sensitometry.strip.metering import FilterUsed, GreyFrame
    from curves.sensitometry.strip.reciprocity import Schwarzschild, TableOfTimes
    from curves.sensitometry.strip.strip import Patches, Strip
    from curves.sensitometry.strip.wedge import Pieces, Wedge
    from curves.sensitometry.uncertainty.intervals import difference, difference_in_stops
    from curves.sensitometry.uncertainty.results import Analysis, ChannelFinding, Point, Speed, WorkingEI
    from curves.views.page.notebook import figure

__version__ = "0.1.0"
__all__ = [
    "Analysis",
    "Camera",
    "ChannelFinding",
    "Choices",
    "CommonIndex",
    "Contact",
    "Curve",
    "CurvesError",
    "Eye",
    "FilterUsed",
    "Frames",
    "GivenExposure",
    "GrainError",
    "GreyFrame",
    "JoinedStrip",
    "OutputError",
    "Patches",
    "Pieces",
    "Point",
    "Quantity",
    "ReaderScale",
    "RecordError",
    "Repeatability",
    "Schwarzschild",
    "Speed",
    "Strip",
    "StripError",
    "TableOfTimes",
    "Tolerances",
    "Wedge",
    "WorkingEI",
    "__version__",
    "analyse",
    "analyse_for_index",
    "compare",
    "control",
    "curve_frame",
    "difference",
    "difference_in_stops",
    "figure",
    "fit_curve",
    "join",
    "load_strip",
    "measures_frame",
    "points_frame",
    "series",
    "settings_for",
    "steps_frame",
    "together",
]

_NAMES = {
    "errors": "CurvesError GrainError OutputError RecordError StripError",
    "files.results.comparison": "compare",
    "files.results.control": "control",
    "files.results.frames": "curve_frame measures_frame points_frame steps_frame",
    "files.results.series": "series settings_for",
    "files.strips.record": "load_strip",
    "sensitometry.analysis.analyse": "analyse analyse_for_index",
    "sensitometry.combining.joining": "JoinedStrip join",
    "sensitometry.combining.together": "CommonIndex together",
    "sensitometry.comparison.differences": "Tolerances",
    "sensitometry.core.choices": "Choices",
    "sensitometry.core.quantity": "Quantity",
    "sensitometry.core.reader_units": "ReaderScale",
    "sensitometry.curve.fit": "Curve fit_curve",
    "sensitometry.series.trend": "Repeatability",
    "sensitometry.strip.exposure": "Camera Contact Eye Frames GivenExposure",
    "sensitometry.strip.reciprocity": "Schwarzschild TableOfTimes",
    "sensitometry.strip.metering": "FilterUsed GreyFrame",
    "sensitometry.strip.strip": "Patches Strip",
    "sensitometry.strip.wedge": "Pieces Wedge",
    "sensitometry.uncertainty.intervals": "difference difference_in_stops",
    "sensitometry.uncertainty.results": "Analysis ChannelFinding Point Speed WorkingEI",
    "views.page.notebook": "figure",
}
_HOME = {name: f"curves.{home}" for home, names in _NAMES.items() for name in names.split()}


if not TYPE_CHECKING:  # a checker of types must not take a name that is not there for one that is

    def __getattr__(name: str) -> Any:
        if name not in _HOME:
            raise AttributeError(f"module 'curves' has no attribute {name!r}")
        import importlib

        if _HOME[name] != "curves.errors":
            importlib.import_module("curves.views.page.notebook").attach()
        globals()[name] = getattr(importlib.import_module(_HOME[name]), name)
        return globals()[name]


def __dir__() -> list[str]:
    return sorted(__all__)
