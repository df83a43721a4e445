"""A new speed is one function, one row and one entry of the glossary: the diff of DEVELOPERS.md, applied and used."""

from __future__ import annotations

import re
from pathlib import Path

from curves import Choices, analyse, load_strip
from tests.additions.addition import ADDITIONS, apply, package_with, run_in
from tests.simulate import FOLDER

USE = """
from curves import Choices, analyse, load_strip
from curves.cli import main
import sys
found = analyse(load_strip(sys.argv[1]), Choices(draws=0))
print(found.speeds["grey_speed"].value.value)
from curves.views.text.strip import measures_text
print(measures_text(found))
sys.argv = ["curves", "explain", "grey speed"]
main()
"""


def test_a_new_speed_is_computed_and_explained(tmp_path: Path) -> None:
    package_with("speed.diff", tmp_path)
    negative = FOLDER / "heron-negative.toml"
    printed = run_in(tmp_path, f"import sys; sys.argv.append({str(negative)!r})\n{USE}")
    value = printed.split()[0]
    green = analyse(load_strip(negative), Choices(draws=0)).channels["green"]
    dmin = green.measures["dmin"].value
    assert dmin is not None
    net = green.curve.grid_density - dmin
    log_h = float(green.curve.grid[(net > 0.60).argmax()])
    # By the definition: 1 / Hm at Dmin + 0.60, log H from the metered mid-grey; a grid point is 0.6 % of an exposure.
    exposure = load_strip(negative).metering.exposure_at_zero * 10.0**log_h
    assert abs(float(value) * exposure - 1.0) < 0.03
    assert "Speed from where a negative is 0.60 above Dmin." in printed
    assert "no standard defines this speed" in printed


def test_rows_beside_it_do_not_disturb_the_addition(tmp_path: Path) -> None:
    package_with("speed.diff", tmp_path)
    # The same again under other names lands right beside the first, at the end of the file and of the tables.
    other = (ADDITIONS / "speed.diff").read_text(encoding="utf-8").replace("grey", "dusk")
    apply(other, tmp_path)
    printed = run_in(
        tmp_path,
        "from curves.sensitometry.measures.table import SPEEDS; from curves.views.words.terms import TERMS\n"
        "print(*(s.key for s in SPEEDS)); print([t.name for t in TERMS if t.source == 'invented'])",
    )
    assert printed.splitlines()[0] == "iso_2240 iso_5800 iso_6 dusk_speed grey_speed fractional_gradient"
    assert printed.splitlines()[1] == "['dusk speed', 'grey speed']"


def test_the_addition_is_one_function_one_row_and_one_entry() -> None:
    text = (ADDITIONS / "speed.diff").read_text(encoding="utf-8")
    assert text.count("+++ ") == 3
    assert len(re.findall(r"^\+    SpeedRule\(", text, re.M)) == len(re.findall(r"^\+    Term\(", text, re.M)) == 1
