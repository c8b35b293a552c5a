"""Drawings read as everyone reads them: by the SVG standard, DXF through its package."""

# ruff: noqa: E501 - drawings in one line

import io
import math

import ezdxf
import numpy as np
import pytest
import shapely
import svgpathtools
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from PIL import Image
from quilts import DESIGNS
from shapely import LineString, Point, Polygon

from stitchpath import StitchpathError
from stitchpath.design.drawings.outlines import read_lines, take_outline
from stitchpath.design.drawings.pathdata import flatten, read_path_data

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100"'
SQUARE = "M10 10H90V90H10Z"


@pytest.fixture
def take(tmp_path):
    """Take the outline of an SVG, 1 unit to the mm; give it and all that was told."""

    def taken(inside, name=None, *, size=None, head=HEAD):
        file = tmp_path / "coral.svg"
        file.write_text(f"{head}>{inside}</svg>")
        found = take_outline(file, name, "applique[1]", size=size, unit="mm")
        return found.shape, " ".join(found.told)

    return taken


@pytest.fixture
def drawn(tmp_path):
    """Take the outline of a DXF that the package for it wrote."""

    def taken(make, name=None, *, size=None, units=4):
        document = ezdxf.new("R2010", units=units)
        make(document, document.modelspace())
        file = tmp_path / "coral.dxf"
        document.saveas(file)
        found = take_outline(file, name, "applique[1]", size=size, unit="mm")
        return found.shape, " ".join(found.told)

    return taken


# --- what is ink ---------------------------------------------------------------------------------

BARS = (
    "M5 45L95 45L95 55L5 55Z M31.83 8.529L76.83 86.471L68.17 91.471L23.17 13.529Z "
    "M23.17 86.471L68.17 8.529L76.83 13.529L31.83 91.471Z"
)


def test_three_bars_over_each_other_are_a_star_without_holes(take):
    shape, told = take(f'<path d="{BARS}"/>')
    bars = [
        np.array(s.replace("L", " ").split(), float).reshape(4, 2)
        for s in BARS.replace("Z", "").split("M")[1:]
    ]
    assert shape.area == pytest.approx(shapely.union_all([Polygon(bar) for bar in bars]).area)
    assert not shape.geoms[0].interiors
    assert told == "coral.svg: 1 shape in one piece, 90 mm across."


def test_the_even_odd_rule_is_followed_where_it_is_written(take):
    rings = "M10 10H90V90H10Z M30 30H70V70H30Z"
    assert take(f'<path d="{rings}"/>')[0].area == pytest.approx(6400)
    assert take(f'<path fill-rule="evenodd" d="{rings}"/>')[0].area == pytest.approx(4800)
    assert take(f'<path style="fill-rule:evenodd" d="{rings}"/>')[0].area == pytest.approx(4800)
    back = "M10 10H90V90H10Z M30 30V70H70V30Z"
    assert take(f'<path d="{back}"/>')[0].area == pytest.approx(4800)


@pytest.mark.parametrize(
    "other",
    [
        '<rect width="5" height="90" display="none"/>',
        '<rect width="5" height="90" visibility="hidden"/>',
        '<rect width="5" height="90" opacity="0"/>',
        '<rect width="5" height="90" fill="none"/>',
        '<rect width="5" height="90" fill-opacity="0"/>',
        '<rect width="5" height="90" style="fill:transparent"/>',
        '<rect width="5" height="90" fill="rgba(0,0,0,0)"/>',
        '<rect width="5" height="90" fill="url(#no)"/>',
        '<g style="display:none"><rect width="5" height="90"/></g>',
        '<g opacity="0%"><rect width="5" height="90"/></g>',
        '<clipPath id="c"><rect width="5" height="90"/></clipPath>',
        '<mask id="m"><rect width="5" height="90"/></mask>',
        '<pattern id="q"><rect width="5" height="90"/></pattern>',
        '<defs><rect width="5" height="90"/></defs>',
        '<symbol><rect width="5" height="90"/></symbol>',
        "<style>.g{display:none}</style><rect class='g' width='5' height='90'/>",
        "<style>g > .g{fill:none}</style><g><rect class='g' width='5' height='90'/></g>",
        '<rect width="0" height="90"/>',
    ],
)
def test_what_does_not_show_is_no_part_of_the_piece(take, other):
    shape, _ = take(other + '<circle cx="50" cy="50" r="40"/>')
    assert shape.area == pytest.approx(math.pi * 1600, rel=1e-3)


def test_what_shows_again_within_what_is_hidden_is_taken(take):
    inside = '<rect width="50" height="50" visibility="visible"/>'
    assert take(f'<g visibility="hidden">{inside}</g>')[0].area == pytest.approx(2500)


@pytest.mark.parametrize(
    ("css", "area"),
    [
        ("#a{fill:none}.b{fill:red}", 0),  # an id weighs more than a class (CSS, section 6.4.3)
        (".b{fill:red!important}#a{fill:none}", 1),
        ("rect{fill:none}.b{fill:red}", 1),
        (".b{fill:red}rect{fill:none}", 1),
        (".b{fill:red}.c{fill:none}", 0),  # of equal weight the later one
        ("g .b{fill:none}.b{fill:red}", 0),
        ("svg > .b{fill:none}", 1),  # no child of svg
        ("[width='5']{fill:none}", 0),
        ("[width='6']{fill:none}", 1),
        ("@media print{rect{fill:none}}", 1),
        ("@media screen{rect{fill:none}}", 0),
        (".b:hover{fill:none}", 1),
    ],
)
def test_style_sheets_weigh_as_in_a_browser(take, css, area):
    rect = '<rect id="a" class="b c" width="5" height="5"/>'
    other = '<circle cx="50" cy="50" r="20" style="fill:red!important"/>'
    shape, _ = take(f"<style>{css}</style><g>{rect}</g>{other}")
    assert shape.area == pytest.approx(25 * area + math.pi * 400, rel=1e-3)


def test_a_clip_path_cuts_the_piece_and_a_mask_is_told(take):
    clip = '<clipPath id="c"><circle cx="50" cy="50" r="40"/></clipPath>'
    shape, _ = take(f'{clip}<rect width="50" height="100" clip-path="url(#c)"/>')
    assert shape.area == pytest.approx(math.pi * 800, rel=1e-3)
    _, told = take(f'<mask id="m"/><path mask="url(#m)" d="{SQUARE}"/>')
    assert "passed over: a mask" in told


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ('filter="url(#f)"', "a filter"),
        ('style="marker-end:url(#f)"', "a marker"),
        ('marker="url(#f)"', "a marker"),
    ],
)
def test_what_is_not_followed_of_a_shape_is_told(take, asked, told):
    assert f"passed over: {told}" in take(f'<path {asked} d="{SQUARE}"/>')[1]
    assert "passed over" not in take(f'<path filter="none" d="{SQUARE}"/>')[1]


# --- as Chromium paints it -----------------------------------------------------------------------

PAINTED = {
    "smooth curves after others": '<path d="M10 50T50 10S90 90 90 50Z"/>',
    "arcs with flags run together": '<path d="M20 50a30 20 30 1140 5a9 14 -20 01-20 10Z"/>',
    "relative everything": '<path d="m10 10 30 5q10 20 20-5t15 20c5 5 5 20-10 30s-30 5-40-10v-9h-9z"/>',
    "a stroke with round ends": '<path d="M20 20L70 30L30 70" fill="none" stroke="black" stroke-width="9" stroke-linecap="round" stroke-linejoin="round"/>',
    "a stroke with square ends and a mitre": '<path d="M20 20L70 30L30 70" fill="none" stroke="black" stroke-width="9" stroke-linecap="square"/>',
    "a mitre cut off": '<path d="M20 20L70 24L20 28" fill="none" stroke="black" stroke-width="6"/>',
    "a bevelled ring": '<rect x="20" y="30" width="40" height="30" fill="none" stroke="red" stroke-width="8" stroke-linejoin="bevel"/>',
    "a rectangle with round corners": '<rect x="10" y="20" width="70" height="40" rx="15"/>',
    "transforms in one another": '<g transform="translate(9,25) rotate(20 50 50) scale(.8 .5)"><rect transform="skewX(15) translate(9,9)" width="50" height="80"/></g>',
    "a transform by style": '<style>.t{transform:translate(5px,10px) scale(1,.5)}</style><circle class="t" cx="50" cy="50" r="40"/>',
    "copies": '<defs><g id="u"><circle r="9"/><rect x="5" width="20" height="6"/></g></defs><use href="#u" x="20" y="30"/><use href="#u" transform="translate(60 60) rotate(45)"/>',
    "a symbol in its view": '<symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="7"/></symbol><use href="#s" x="10" y="20" width="40" height="30"/>',
    "a view within": '<svg x="20" y="10" width="50" height="70" viewBox="0 0 10 10" preserveAspectRatio="xMinYMax slice"><circle cx="5" cy="6" r="5"/></svg>',
    "a view stretched": '<svg x="20" y="10" width="50" height="70" viewBox="0 0 10 10" preserveAspectRatio="none"><circle cx="5" cy="5" r="5"/></svg>',
    "clips that clip": '<clipPath id="a"><rect width="60" height="60"/></clipPath><clipPath id="b" clip-path="url(#a)"><circle cx="50" cy="50" r="30"/></clipPath><rect width="100" height="100" clip-path="url(#b)"/>',
    "a clip by the box": '<clipPath id="a" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".5"/></clipPath><rect x="10" y="20" width="60" height="30" clip-path="url(#a)"/>',
    "a clip by the even-odd rule": '<clipPath id="a"><path clip-rule="evenodd" d="M10 10H90V90H10ZM30 30H70V70H30Z"/></clipPath><rect y="5" width="50" height="90" clip-path="url(#a)"/>',
    "percentages and units": '<rect x="10%" y="1cm" width="0.5in" height="20%"/>',
    "a polygon that crosses itself": '<polygon points="50,5 79,95 3,39 97,39 21,95"/>',
    "the same by the even-odd rule": '<polygon fill-rule="evenodd" points="50,5 79,95 3,39 97,39 21,95"/>',
    "a switch": '<switch><rect width="30" height="30"/><circle r="90"/></switch>',
    "no corner closed": '<path d="M10 10L80 20L40 90"/>',
}


@pytest.fixture(scope="module")
def painted(real_browser):
    """What Chromium paints of each: covered area, px², and the box of it."""
    found = {}
    page = real_browser.new_page(viewport={"width": 500, "height": 500}, device_scale_factor=2)
    for name, inside in PAINTED.items():
        style = "<style>body{margin:0}svg{display:block}</style>"
        page.set_content(f"{style}{HEAD}>{inside}</svg>")
        shot = Image.open(io.BytesIO(page.screenshot(omit_background=True)))
        ink = np.asarray(shot)[..., 3] / 255
        rows, columns = (np.flatnonzero(ink.max(axis=k) > 0.5) for k in (1, 0))
        bounds = columns[0], rows[0], columns[-1] + 1, rows[-1] + 1
        found[name] = ink.sum() / 4, np.array(bounds) / 2
    return found


@pytest.mark.parametrize("name", PAINTED)
def test_a_piece_is_what_a_browser_paints(take, painted, name):
    shape, _ = take(PAINTED[name])
    area, bounds = painted[name]
    mm = 25.4 / 96
    assert shape.area / mm**2 == pytest.approx(area, rel=3e-3)
    assert np.abs(np.array(shape.bounds) / mm - bounds).max() < 1.0


# --- path data -----------------------------------------------------------------------------------

NUMBER = st.integers(-500, 500).map(lambda k: k / 10)
COMMANDS = st.one_of(
    st.tuples(st.sampled_from("MmLlTt"), st.tuples(NUMBER, NUMBER)),
    st.tuples(st.sampled_from("HhVv"), st.tuples(NUMBER)),
    st.tuples(st.sampled_from("CcSsQq"), st.tuples(*[NUMBER] * 6)),
    st.tuples(
        st.sampled_from("Aa"),
        st.tuples(
            st.integers(1, 60), st.integers(1, 60), st.integers(-180, 180),
            st.integers(0, 1), st.integers(0, 1), NUMBER, NUMBER,
        ),
    ),
    st.just(("Z", ())),
)  # fmt: skip


def _data(commands):
    """Write commands; S and Q take the first four numbers."""
    words, last = ["M 3 4"], ""
    for letter, numbers in commands:
        if letter in "Ss" and last in "TtQq":
            letter = "L"  # noqa: PLW2901 - the reference reads S after these wrongly
        if letter in "Tt" and last in "CcSs":
            letter = "L"  # noqa: PLW2901
        count = {"S": 4, "Q": 4, "L": 2}.get(letter.upper(), len(numbers))
        words.append(letter + " ".join(map(str, numbers[:count])))
        last = letter
    return " ".join(words)


@given(st.lists(COMMANDS, min_size=1, max_size=8))
@settings(max_examples=150, deadline=None)
def test_path_data_is_read_as_an_outside_reader_reads_it(commands):
    data = _data(commands)
    try:
        reference = svgpathtools.parse_path(data)
    except AssertionError:  # it asks arcs to lead somewhere
        reject()
    strands, wrong = read_path_data(data)
    assert wrong == ""
    lines = [flatten(strand, 1e-3) for strand in strands]
    lines = [line for line in lines if len(line) > 1]
    if not lines or not len(reference):
        return
    spots = [
        segment.point(t)
        for segment in reference
        if segment.start != segment.end
        for t in (0.0, 0.3, 0.5, 0.9, 1.0)
    ]
    if not spots:
        return
    ours = shapely.union_all([LineString(line) for line in lines])
    away = shapely.distance([Point(s.real, s.imag) for s in spots], ours)
    assert away.max() < 2e-3


def test_a_smooth_curve_after_one_of_another_kind_begins_straight():
    # SVG 2, 9.3.6: S after anything but C and S has its first control where the pen is
    (strand,), _ = read_path_data("M0 0T10 0S20 10 30 0")
    assert strand.curves[1].points.tolist() == [[10, 0], [10, 0], [20, 10], [30, 0]]


@pytest.mark.parametrize("tolerance", [1.0, 0.01])
def test_curves_keep_within_their_tolerance(tolerance):
    for data, radius in (("M50 0A50 50 0 0 1 -50 0", 50), ("M9 0A9 9 0 1 1 0 -9", 9)):
        (strand,), _ = read_path_data(data)
        line = flatten(strand, tolerance)
        middles = (line[1:] + line[:-1]) / 2
        assert np.abs(np.hypot(*line.T) - radius).max() < 1e-9
        assert radius - np.hypot(*middles.T).min() <= tolerance


# --- what is taken, and what is told -------------------------------------------------------------


def test_six_shapes_are_one_piece_where_they_touch_and_it_is_said(take):
    rects = "".join(f'<rect x="{10 * k}" y="9" width="11" height="20"/>' for k in range(6))
    shape, told = take(rects, size=177.8)
    assert told == "coral.svg: 6 shapes in one piece, 178 mm across."
    assert len(shape.geoms) == 1
    apart = '<rect width="9" height="9"/><rect x="20" width="9" height="9"/>'
    shape, told = take(apart)
    assert "2 shapes in 2 pieces" in told
    assert shape.bounds == pytest.approx((0, 0, 29, 9))


GROUPS = (
    '<g id="fish"><rect id="body" width="20" height="20"/><rect x="20" width="10" height="10"/></g>'
    '<rect id="weed" x="60" width="5" height="50"/>'
)


def test_a_group_a_shape_or_all_is_taken_by_its_id(take):
    assert take(GROUPS, "fish")[0].area == pytest.approx(500)
    assert take(GROUPS, "body")[0].area == pytest.approx(400)
    assert take(GROUPS, "all")[0].area == pytest.approx(750)
    assert take(GROUPS)[0].area == pytest.approx(750)


def test_an_id_that_is_not_there_lists_those_that_are(take):
    with pytest.raises(StitchpathError, match=r"body.*fish.*weed"):
        take(GROUPS, "zzz")
    with pytest.raises(StitchpathError, match=r"the nearest id is 'fish'"):
        take(GROUPS, "fisch")
    with pytest.raises(StitchpathError, match=r"'w' does not show, for it is not displayed"):
        take('<rect id="w" display="none" width="9" height="9"/><circle r="9"/>', "w")


def test_a_background_as_large_as_the_page_is_passed_over_and_told(take):
    circle = '<circle cx="50" cy="50" r="30"/>'
    shape, told = take(f'<rect width="100" height="100" fill="#fff"/>{circle}')
    assert shape.area == pytest.approx(math.pi * 900, rel=1e-3)
    assert "a background as large as the page left out" in told
    shape, told = take(f'<rect width="100" height="96" fill="#fff"/>{circle}')
    assert shape.area == pytest.approx(9600)
    assert "another colour on top of others" in told  # it may be meant as a hole
    assert take('<rect width="100" height="100"/>')[0].area == pytest.approx(10_000)


def test_what_lies_off_the_page_is_left_out_and_told(take):
    shape, told = take('<rect width="50" height="50"/><rect x="120" width="50" height="50"/>')
    assert shape.area == pytest.approx(2500)
    assert "1 shape off the page left out" in told
    shape, told = take('<rect width="120" height="50"/>')
    assert shape.area == pytest.approx(6000)
    assert "1 shape beyond the edge of the page taken whole" in told


def test_score_lines_are_passed_over_and_told(take):
    lines = (
        '<path d="M20 50H80M50 20V80" fill="none" stroke="red"/><line x2="9" y2="9" stroke="red"/>'
    )
    shape, told = take(f'<path d="{SQUARE}"/>{lines}')
    assert shape.area == pytest.approx(6400)
    assert "2 thin lines passed over, as for scoring" in told


def test_a_drawing_of_thick_strokes_is_taken_by_their_outline(take):
    stroke = '<path d="M10 50H90" fill="none" stroke="black" stroke-width="{}"/>'
    shape, told = take(stroke.format(10))
    assert shape.area == pytest.approx(800)
    assert "1 stroke taken by the outline of what is drawn" in told
    assert take(stroke.format(1.7))[0].area == pytest.approx(136)
    with pytest.raises(StitchpathError, match="1 open line and no area"):
        take(stroke.format(1.5))  # under a fiftieth of its 80 mm


def test_thin_closed_lines_are_cut_lines_a_line_within_a_line_a_hole(take):
    rings = f'<path d="{SQUARE}"/><circle cx="50" cy="50" r="20"/>'
    shape, _ = take(f'<g fill="none" stroke="red" stroke-width=".1">{rings}</g>')
    assert shape.area == pytest.approx(6400 - math.pi * 400, rel=1e-3)


def test_ends_of_cut_lines_that_nearly_meet_are_joined(take):
    def lines(gap):
        data = f"M10 10H90M{90 + gap} 10V90M90 90H10M10 90V{10 + gap}"
        return f'<path d="{data}" fill="none" stroke="red" stroke-width=".1"/>'

    assert take(lines(0.05))[0].area == pytest.approx(6400, rel=1e-2)
    with pytest.raises(StitchpathError, match="4 open lines and no area"):
        take(lines(0.3))
    shape, told = take(lines(0) + '<path d="M20 20L80 80" fill="none" stroke="red"/>')
    assert shape.area == pytest.approx(6400)
    assert "1 open line passed over" in told


STAR = [
    (50, 5),
    (57.5, 37),
    (89, 27.5),
    (65, 50),
    (89, 72.5),
    (57.5, 63),
    (50, 95),
    (42.5, 63),
    (11, 72.5),
    (35, 50),
    (11, 27.5),
    (42.5, 37),
]


def test_a_cut_line_a_millimetre_beside_itself_is_one_at_twice_its_size_too(take):
    tip = np.array(STAR)
    near = tip + (50 - tip) * 0.02
    data = " ".join("M" + "L".join(f"{x} {y}" for x, y in p.tolist()) + "Z" for p in (tip, near))
    for size in (None, 156):
        assert "drawn twice" in take(f'<path d="{data}"/>', size=size)[1]


@pytest.mark.parametrize("rule", ["nonzero", "evenodd"])
@pytest.mark.parametrize(("inset", "twice"), [(0.0, True), (1.0, True), (2.5, False)])
def test_a_cut_line_drawn_twice_is_taken_once_and_told(take, rule, inset, twice):
    outer = Polygon(STAR)
    inner = outer.buffer(-inset, join_style="mitre") if inset else outer
    data = " ".join(
        "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in shapely.get_coordinates(p)[:-1]) + "Z"
        for p in (outer, inner)
    )
    if inset == 1.0:  # a mitre at a sharp tip moves far: an offset as drawing programs make it
        tip = np.array(STAR)
        near = tip + (50 - tip) * 0.02
        data = " ".join(
            "M" + "L".join(f"{x} {y}" for x, y in p.tolist()) + "Z" for p in (tip, near)
        )
    shape, told = take(f'<path fill-rule="{rule}" d="{data}"/>')
    assert ("drawn twice" in told) == twice
    if twice:
        assert shape.area == pytest.approx(outer.area, rel=1e-3)


def test_specks_and_pinholes_are_left_out_in_one_sentence(take):
    dots = "".join(f"M{20 + 5 * k} 30v1.2h1.2v-1.2z" for k in range(9))  # the other way round
    specks = "".join(f"M{5 * k} 95h1.2v1.2h-1.2z" for k in range(9))
    shape, told = take(f'<path d="{SQUARE}{dots}{specks}"/>')
    assert shape.area == pytest.approx(6400)
    assert told.count("left out") == 1
    assert "9 specks and 9 pinholes under 1.5 mm left out" in told
    shape, told = take(f'<path d="{SQUARE}M20 30v1.6h1.6v-1.6z"/>')
    assert shape.area == pytest.approx(6400 - 1.6**2)


@pytest.mark.parametrize("points", [4000, 4001])
def test_a_motif_is_one_line_of_no_more_points_than_rows_of_it_can_bear(tmp_path, points):
    file = tmp_path / "wave.svg"
    data = "M0 0" + "".join(f"L{k} {k % 2}" for k in range(1, points))
    file.write_text(f'{HEAD}><g display="none"><path d="M0 0h9"/></g><path d="{data}"/></svg>')
    if points == 4000:
        assert len(read_lines(file, None, "fills[1]", 1e-3)[0]) == 4000
    else:
        with pytest.raises(StitchpathError, match="a line of 4,001 points"):
            read_lines(file, None, "fills[1]", 1e-3)


def test_text_and_pictures_are_told_of(take):
    _, told = take(f'<text>shore</text><path d="{SQUARE}"/>')
    assert "1 text left out: turn text into paths" in told
    with pytest.raises(StitchpathError, match="turn text into paths in the drawing program"):
        take("<text>shore</text>")


def test_the_size_is_the_one_of_the_file_where_the_design_says_none(take):
    assert take(f'<path d="{SQUARE}"/>')[0].bounds == pytest.approx((10, 10, 90, 90))
    inches = HEAD.replace("100mm", "2in")
    assert take(f'<path d="{SQUARE}"/>', head=inches)[0].bounds[2] == pytest.approx(0.9 * 50.8)
    for head in (
        HEAD.replace("mm", ""),
        HEAD.replace("mm", "px"),
        '<svg xmlns="http://www.w3.org/2000/svg"',
    ):
        with pytest.raises(StitchpathError, match="found no size in the file, in mm or inches"):
            take(f'<path d="{SQUARE}"/>', head=head)
        assert take(f'<path d="{SQUARE}"/>', size=50, head=head)[0].area == pytest.approx(2500)


@pytest.mark.parametrize("tremble", [0.0, 0.05, 2.0])
def test_a_traced_outline_of_20000_points_is_simplified_and_keeps_its_place(take, tremble):
    angle = np.linspace(0, 2 * np.pi, 20_000, endpoint=False)
    radius = 40 + np.random.default_rng(1).normal(0, tremble, len(angle))
    at = 50 + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    shape, told = take(f'<path d="M{"L".join(f"{x:.3f} {y:.3f}" for x, y in at)}Z"/>')
    assert shapely.get_num_coordinates(shape) < 2500
    assert "the outline of 20,001 points was traced and is simplified by about" in told
    assert shape.hausdorff_distance(Point(50, 50).buffer(40, 256)) < 0.1 + tremble / 2


# --- DXF -----------------------------------------------------------------------------------------


def test_a_dxf_of_bulges_splines_and_blocks_gives_the_same_areas_as_by_hand(drawn):
    def disc(_, space):
        space.add_lwpolyline([(0, 0, 1), (80, 0, 1)], format="xyb", close=True)

    assert drawn(disc)[0].area == pytest.approx(math.pi * 1600, rel=1e-3)

    def spline(_, space):  # a closed curve through its points, against the same points
        turn = np.linspace(0, 2 * np.pi, 41)
        space.add_spline(np.column_stack([np.cos(turn), np.sin(turn), 0 * turn]) * 50)

    assert drawn(spline)[0].area == pytest.approx(math.pi * 2500, rel=1e-3)

    def blocks(document, space):
        leaf = document.blocks.new("leaf")
        leaf.add_circle((0, 0), 10)
        leaf.add_lwpolyline([(20, 0), (40, 0), (40, 10), (20, 10)], close=True)
        space.add_blockref("leaf", (5, 5), {"xscale": -2, "yscale": 1, "rotation": 90})

    shape, told = drawn(blocks)
    assert shape.area == pytest.approx(2 * (math.pi * 100 + 200), rel=1e-3)
    # turned by 90 degrees after mirroring: y of the file runs from 5 - 80 to 5 + 20, upward
    assert shape.bounds == pytest.approx((-5, -25, 15, 75), abs=0.01)
    assert told == "coral.dxf: 2 shapes in 2 pieces, 100 mm high."


def test_a_dxf_of_loose_lines_is_joined_to_the_outline_they_make(drawn):
    def lines(_, space):
        space.add_line((0, 0), (60, 0.02))
        space.add_line((60, 60), (60, 0))
        space.add_arc((30, 60), 30, 0, 180)
        space.add_line((0, 60), (0, 0))
        space.add_line((10, 10), (20, 20))

    shape, told = drawn(lines)
    assert shape.area == pytest.approx(3600 + math.pi * 450, rel=1e-3)
    assert "1 open line passed over" in told


def test_layers_of_a_dxf_are_ids_and_those_off_or_frozen_do_not_show(drawn):
    def layered(document, space):
        for name, x in (("hull", 0), ("sail", 50), ("notes", 200)):
            layer = document.layers.add(name)
            points = [(x, 0), (x + 40, 0), (x + 40, 40), (x, 40)]
            space.add_lwpolyline(points, close=True, dxfattribs={"layer": name})
        layer.off()

    assert drawn(layered)[0].bounds == pytest.approx((0, -40, 90, 0))
    assert drawn(layered, "sail")[0].area == pytest.approx(1600)
    with pytest.raises(StitchpathError, match="its layer is off or frozen"):
        drawn(layered, "notes")


@pytest.mark.parametrize(("units", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0)])
def test_the_units_of_a_dxf_are_taken(drawn, units, mm):
    def square(_, space):
        space.add_lwpolyline([(0, 0), (4, 0), (4, 4), (0, 4)], close=True)

    assert drawn(square, units=units)[0].area == pytest.approx(16 * mm**2)
    with pytest.raises(StitchpathError, match="found no size in the file"):
        drawn(square, units=0)


def test_a_filled_area_of_a_dxf_is_an_area(drawn):
    def hatch(_, space):
        area = space.add_hatch()
        area.paths.add_polyline_path([(0, 0), (40, 0), (40, 40), (0, 40)])
        area.paths.add_polyline_path([(10, 10), (20, 10), (20, 20), (10, 20)], flags=16)
        space.add_line((5, 5), (30, 30))

    shape, told = drawn(hatch)
    assert shape.area == pytest.approx(1500)
    assert "1 thin line passed over" in told


# --- where she meets it --------------------------------------------------------------------------

QUILT = """
name = "Quay"
fabrics = { sand = "#e7d5b0", coral = "#dc6f50" }
blocks.plain = { size = 10, grid = ['sand'] }
layout.rows = ["plain plain"]
[[applique]]
name = "fish"
file = "fish.svg"
on = "plain"
fabric = "coral"
"""


def test_what_was_taken_is_told_once_by_check_and_by_draw(run, tmp_path):
    (tmp_path / "fish.svg").write_text(f'{HEAD}><path d="{SQUARE}"/></svg>')
    design = tmp_path / "quay.toml"
    design.write_text(QUILT)
    said = "note: fish.svg: 1 shape in one piece, 3 1/8 in across."
    for command in (("check", design), ("draw", design, "-o", tmp_path / "quay.png")):
        code, out, _ = run(*command)
        assert code == 0
        assert out.count(said) == 1


def test_a_drawing_outside_the_folder_is_read_only_where_she_allows_it(run, tmp_path):
    (tmp_path / "quay").mkdir()
    (tmp_path / "fish.svg").write_text(f'{HEAD}><path d="{SQUARE}"/></svg>')
    design = tmp_path / "quay" / "quay.toml"
    design.write_text(QUILT.replace("fish.svg", "../fish.svg"))
    code, _, err = run("check", design)
    assert code == 1
    assert "leads out of the design's folder" in err
    assert "allow it with --outside" in err
    compared = ("compare", "--time-limit", 0.1)
    for command in (("check",), compared, ("thread",), ("draw", "-o", tmp_path / "quay.png")):
        code, _, err = run(command[0], design, "--outside", *command[1:])
        assert (code, err) == (0, "")


def test_shipped_drawings_are_as_large_as_an_outside_reader_says():
    for name in ("starfish", "life-ring"):
        paths, _ = svgpathtools.svg2paths(str(DESIGNS / f"{name}.svg"))
        boxes = np.array([path.bbox() for path in paths])
        across, high = np.ptp(boxes[:, :2]), np.ptp(boxes[:, 2:])
        found = take_outline(DESIGNS / f"{name}.svg", None, "x", size=max(across, high), unit="mm")
        left, top, right, bottom = found.shape.bounds
        assert (right - left, bottom - top) == pytest.approx((across, high), rel=1e-3)


def test_arms_of_a_dxf_laid_over_each_other_are_one_piece_and_a_ring_within_is_a_hole(drawn):
    def make(document, space):
        arm = document.blocks.new("ARM")
        arm.add_lwpolyline([(-4, -4), (60, -4), (60, 4), (-4, 4)], close=True)
        for turn in (0, 120, 240):
            space.add_blockref("ARM", (0, 0), dxfattribs={"rotation": turn})
        space.add_circle((50, 0), 2)

    shape, _ = drawn(make)
    (whole,) = shape.geoms
    (hole,) = whole.interiors
    assert Polygon(hole).area == pytest.approx(np.pi * 4, rel=0.01)
    assert whole.covers(shapely.Point(0, 0))


def test_a_ring_within_a_hole_is_a_part_of_the_piece_again(drawn):
    def make(_, space):
        for radius in (40, 30, 20, 10):
            space.add_circle((0, 0), radius)

    shape, _ = drawn(make)
    assert shape.area == pytest.approx(np.pi * (1600 - 900 + 400 - 100), rel=0.01)
