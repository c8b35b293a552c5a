"""Each format keeps a name a name, held against an outside reader of that format."""

import csv
import html.parser
import io
import json
import re

import ezdxf
import pytest
from defusedxml import ElementTree
from pygcode import Line as GCodeLine
from quilts import STARFISH, planned

from stitchpath.base.escape import (
    csv_cell,
    gcode_comment,
    gcode_comments,
    hpgl_text,
    html_text,
    json_in_html,
    plain_ascii,
    terminal,
    xml_name,
    xml_text,
)
from stitchpath.export.machine.dxf import plan_dxf
from stitchpath.export.machine.gcode import plan_gcode
from stitchpath.export.machine.hpgl import plan_hpgl
from stitchpath.export.needle_points import plan_needle_csv
from stitchpath.export.svg.map import plan_map
from stitchpath.export.svg.path import plan_plotter_svg, plan_svg
from stitchpath.told.job_rows import plan_job_csv

NAMES = [
    "<script>alert(1)</script>", "a & b", "\"quoted\" 'twice'", "]]> -->", "=1+1", "+1", "-1",
    "@A1", " =1+1", "\uff1d1",
    "(G0 X0)", ") M2 (", "; M2", "%", "50 %", 'CO"x";', "a/b\\c:d*e?f|g,h`i=j",
    "Möwe", "港", "שלום", "👩\u200d🌾", "x" * 80,
]  # fmt: skip
FILES = ["\x00", "\x1b[2J", "a\x07b", "a\u202eb", "a\u2028b", "\ufffe"]


class _Reader(html.parser.HTMLParser):
    """Collects the text of a page, and the tags in it."""

    def __init__(self):
        super().__init__()
        self.text, self.tags = "", []

    def handle_starttag(self, tag, _):
        self.tags.append(tag)

    def handle_data(self, data):
        self.text += data


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_the_same_text_in_svg_and_html(name):
    root = ElementTree.fromstring(f'<t a="{xml_text(name)}">{xml_text(name)}</t>')
    assert (root.text, root.get("a")) == (name, name)
    page = _Reader()
    page.feed(f"<p>{html_text(name)}</p>")
    page.close()
    assert (page.text, page.tags) == (name, ["p"])
    assert re.fullmatch(r"[A-Za-z0-9-]*", xml_name(name))


@pytest.mark.parametrize("name", FILES)
def test_not_even_a_file_name_makes_invalid_xml_or_reaches_the_terminal(name):
    ElementTree.fromstring(f'<t a="{xml_text(name)}">{xml_text(name)}</t>')
    assert terminal(f"a {name}\n").isprintable() or terminal(name).strip("\n").isprintable()
    assert "\x1b" not in terminal(name)
    assert "\u202e" not in terminal(name)


@pytest.mark.parametrize("name", [*NAMES, "a\u2028b"])
def test_json_in_a_page_says_the_same_and_ends_no_script(name):
    text = json_in_html({"name": name})
    assert json.loads(text) == {"name": name}
    assert not set(text) & set("<>&\u2028\u2029")


@pytest.mark.parametrize("name", NAMES)
def test_no_cell_begins_like_a_formula(name):
    cell = csv_cell(name)
    # common practice: what a spreadsheet takes for a formula begins with one of these
    assert cell.strip()[:1] not in ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
    assert cell in (name, "'" + name)
    text = io.StringIO()
    csv.writer(text).writerow([cell])
    assert next(csv.reader(io.StringIO(text.getvalue()))) == [cell]


@pytest.mark.parametrize("name", NAMES)
def test_a_comment_of_gcode_is_plain_short_and_holds_no_words(name):
    for comment in (gcode_comment(name), *gcode_comments(f"{name}: " + "the path " * 20)):
        assert comment.isascii()
        assert comment.isprintable()
        assert len(comment) <= 70
        line = GCodeLine(comment)
        assert not line.block.words
        assert str(line.comment).strip() == comment


@pytest.mark.parametrize("name", NAMES)
def test_a_comment_of_hpgl_is_plain_and_holds_no_quote_or_end(name):
    text = hpgl_text(name)
    assert text.isascii()
    assert text.isprintable()
    assert not set(text) & set('";')


def test_plain_letters_keep_what_can_be_kept():
    assert plain_ascii("Möwe à l'île “n° 5”") == 'Mowe a l\'ile "n? 5"'


@pytest.fixture(scope="module")
def plan():
    thread = "'=1+1; \"M2\" ) <b> 港 '".replace("'", '"', 0)
    text = STARFISH.replace('thread = "coral"', f"thread = {thread}")
    text = text.replace("[threads.coral]", f"[threads.{thread}]")
    name = 'Quay (east); <i> & \\"x\\" Möwe 港 ' + "long " * 8
    return planned(text.replace('name = "Starfish"', f'name = "{name}"'))


def test_every_file_of_a_plan_with_strange_names_is_sound(plan):
    for text in (plan_svg(plan), plan_map(plan), plan_plotter_svg(plan)):
        title = ElementTree.fromstring(text).find("{http://www.w3.org/2000/svg}title")
        assert title.text.startswith(plan.top.name.strip())
    for text in (plan_job_csv(plan), plan_needle_csv(plan)):
        rows = list(csv.DictReader(io.StringIO(text)))
        assert {row["thread"] for row in rows} <= {"", *(f"'{run.thread}" for run in plan.runs)}
    for line in plan_gcode(plan).splitlines():
        assert line.isascii()
        assert not line.startswith("(") or len(line) <= 70
    assert plan_hpgl(plan).isascii()
    drawing = ezdxf.read(io.StringIO(plan_dxf(plan)))
    assert not drawing.audit().errors
