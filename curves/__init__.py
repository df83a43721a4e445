"""From the densities of an exposed step wedge to curves, speed points and a working exposure index.

The library's face, loaded when first used:

    load_strip(path)                      a strip record -> Strip
    analyse(strip)                        Strip -> Analysis
    fit_curve(log_h, density, kind=...)   one channel -> Curve
    Choices(...)                          where scene tones lie, for analyse
    steps_frame, curve_frame(analysis)    pandas tables
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from curves.files.results.frames import curve_frame, steps_frame
    from curves.files.strips.record import load_strip
    from curves.sensitometry.analysis.analyse import analyse
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.curve.fit import fit_curve

__version__ = "0.1.0"
__all__ = ["Choices", "__version__", "analyse", "curve_frame", "fit_curve", "load_strip", "steps_frame"]

_HOME = {
    "Choices": "curves.sensitometry.core.choices",
    "curve_frame": "curves.files.results.frames",
    "steps_frame": "curves.files.results.frames",
    "analyse": "curves.sensitometry.analysis.analyse",
    "fit_curve": "curves.sensitometry.curve.fit",
    "load_strip": "curves.files.strips.record",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'curves' has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
