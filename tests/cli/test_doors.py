"""A command loads what it works with and no more, so that it begins at once."""

import json
import subprocess
import sys

import pytest
from quilts import ROOT

RUNNER = ROOT / "designs" / "harbour-runner.toml"
SEEN = """
import json, sys
from stitchpath.cli.main import main
try:
    main()
except SystemExit as ended:
    assert not ended.code
print("\\n" + json.dumps(sorted(sys.modules)))
"""
PAGES = {"reportlab", "stitchpath.export.guide", "stitchpath.export.job_sheet"}
PICTURES = {"matplotlib", "stitchpath.export.picture"}
DXF = {"ezdxf"}
FILLS = {"scipy.ndimage", "stitchpath.lines.fills.styles"}
MATCHING = {"pymatching", "networkx"}  # which load matplotlib
CURVES = {"scipy.interpolate", "scipy.optimize"}
BUILDERS = {"numpy.f2py.f2py2e", "numpy.testing._private.utils"}


def loaded(*words):
    made = subprocess.run(
        [sys.executable, "-c", SEEN, *map(str, words)], capture_output=True, text=True, check=True
    )
    return set(json.loads(made.stdout.splitlines()[-1]))


def test_help_comes_before_any_library_of_the_work():
    assert not loaded("--help") & {"numpy", "shapely", "pydantic", "stitchpath.plan"}


@pytest.mark.parametrize(
    ("formats", "wanted"), [("svg", set()), ("sheet", PAGES - {"stitchpath.export.guide"})]
)
def test_a_plan_waits_for_no_format_and_no_fill_she_did_not_ask_for(formats, wanted, tmp_path):
    seen = loaded("plan", RUNNER, "-o", tmp_path, "--format", formats)
    assert seen & (PAGES | PICTURES | DXF | FILLS | MATCHING | CURVES | BUILDERS) == wanted


def test_a_check_waits_for_no_format_at_all():
    seen = loaded("check", RUNNER)
    assert not seen & (PAGES | PICTURES | DXF | FILLS | {"stitchpath.export.write"})


def test_the_list_of_blocks_comes_before_any_picture():
    assert not loaded("blocks") & ({"matplotlib", "stitchpath.plan"} | PICTURES)
