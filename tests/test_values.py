"""What one room has made no other changes: its values are frozen."""

import re

import pytest
from quilts import ROOT

HOUSE = ROOT / "stitchpath"
CLASS = re.compile(r"^@dataclass(.*)\nclass (\w+)", re.MULTILINE)
# Within one search, one page or one sheet, and given to no other room.
CHANGED = {
    "design/drawings/drawing.py": {"Drawing"},
    "design/drawings/roles.py": {"Sorted"},
    "export/guide/labels.py": {"Labels"},
    "export/guide/plates.py": {"Passes"},
    "export/guide/supplies.py": {"_Flow"},
    "export/guide/templates.py": {"_Shelves", "_Shape"},
    "export/guide/words.py": {"_Flow"},
    "export/pdf/page.py": {"Flow"},
    "export/pdf/sheet.py": {"Sheet"},
    "lines/fill_lines.py": {"Filler"},
    "lines/fills/pebbles.py": {"_Laid"},
    "network/graph.py": {"_Edges"},
    "page/app.py": {"_Page"},
    "page/jobs.py": {"Job"},
    "page/kept.py": {"KeptPlan"},
    "page/sessions.py": {"Session"},
    "route/exact/branch.py": {"_Node"},
    "route/passages/bound.py": {"_Node"},
}


@pytest.mark.parametrize("room", sorted(p.name for p in HOUSE.iterdir() if p.is_dir()))
def test_what_was_planned_and_proven_cannot_be_changed_afterwards(room):
    for path in sorted((HOUSE / room).rglob("*.py")):
        name = path.relative_to(HOUSE).as_posix()
        loose = {c for how, c in CLASS.findall(path.read_text()) if "frozen=True" not in how}
        assert loose == CHANGED.get(name, set()), name
