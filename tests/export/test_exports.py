from pathlib import Path

import pytest
from quilts import DESIGNS, ROOT

from stitchpath import load_design, make_plan, save_plan

EXPORTED = ["harbour-runner", "star-lap-quilt", "curved-cushion"]


@pytest.mark.parametrize("name", EXPORTED)
def test_the_exports_that_readers_see_are_what_the_tool_makes_today(name, tmp_path):
    # Remake them with: stitchpath plan designs/NAME.toml --format path,map,guide-svg
    plan = make_plan(load_design(DESIGNS / f"{name}.toml"))
    for path in save_plan(plan, tmp_path, ("svg", "map", "guide-svg")):
        shipped = Path(ROOT, "exports", path.name)
        assert shipped.read_bytes() == path.read_bytes(), f"{shipped} is stale"
