"""The engine stands alone: no window, no files, no coordinate systems until they are needed."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("PySide6", "geopandas", "pandas", "pyogrio", "ezdxf", "pint", "pyproj", "pygeomag")


def run(code: str) -> str:
    """What a fresh interpreter prints for the code; fails with its traceback."""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_importing_the_package_pulls_in_nothing_heavy():
    code = f"import sys, layoutdesk; print(sorted({{m.split('.')[0] for m in sys.modules}} & set({HEAVY!r})))"
    assert run(code) == "[]"


def test_rows_are_laid_without_qt_and_without_files():
    """Every heavy package is made to fail on import, as where it is not installed."""
    code = f"""
import sys
for name in {HEAVY!r}:
    sys.modules[name] = None
import layoutdesk, shapely
pole = layoutdesk.Exclusion(shapely.Point(12, 80), 5)
block = layoutdesk.Block("B1", shapely.box(0, 0, 24, 166))
plan = layoutdesk.lay_rows(block, layoutdesk.RowRules(first_row_m="best", side_margin_m=1.2), [pole])
print(plan.n_rows, plan.vines.xy_m.shape[1], len(plan.findings))
"""
    assert run(code).split()[:2] == ["10", "2"]


@pytest.mark.parametrize(
    "module", ["formats.crs", "formats.smooth", "formats.bearings", "commandline"]
)
def test_modules_with_heavy_work_import_without_it(module):
    code = f"""
import sys
for name in {HEAVY!r}:
    sys.modules[name] = None
import layoutdesk.{module}
"""
    run(code)
