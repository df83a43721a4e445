"""A program of somebody else that uses the package; `.ci/run` checks its types from outside and runs it."""

import curves

wedge = curves.Wedge.nominal(11, 0.30)
densities = [0.09, 0.12, 0.23, 0.50, 0.94, 1.48, 2.04, 2.51, 2.80, 2.96, 3.03]
light = curves.Contact(lux=500, seconds=0.02)
strip = curves.Strip.from_readings(densities, title="Wren 25", kind="reversal", exposure=light, wedge=wedge)
found: curves.Analysis = curves.analyse(strip)
gamma: float | None = found.channels["visual"].measures["gamma"].value
print(gamma, curves.load_strip("wedge_data/heron-reversal.toml").title)  # noqa: T201
