import numpy as np
import pytest
from hypothesis import given, settings
from quilts import SQUARES, drawn, layouts, top

from stitchpath.base.errors import StitchpathError
from stitchpath.design.model import Fabric
from stitchpath.top.build import darkness

LEFT = ("left", "sand", "points = [[0,0],[4,0],[4,10],[0,10]]")
RIGHT = ("right", "sea", "points = [[4,0],[10,0],[10,10],[4,10]]")
T_TOP = ("top", "sand", "points = [[0,0],[10,0],[10,5],[0,5]]")
T_LEFT = ("low left", "sea", "points = [[0,5],[4,5],[4,10],[0,10]]")
T_RIGHT = ("low right", "coral", "points = [[4,5],[10,5],[10,10],[4,10]]")


def test_nobody_has_to_draw_a_seam():
    seams = top(SQUARES).seams
    assert len(seams) == 4
    assert all(np.hypot(*np.ptp(s.points, axis=0)) == pytest.approx(76.2) for s in seams)


def test_a_seam_that_ends_on_another_parts_it():
    seams = top(drawn(T_TOP, T_LEFT, T_RIGHT)).seams
    ends = sorted((*s.points[0], *s.points[-1]) for s in seams)
    assert ends == [(0, 50, 40, 50), (40, 50, 40, 100), (40, 50, 100, 50)]


def test_a_curved_seam_is_one_seam_within_a_twentieth_of_a_millimetre():
    quarter = ("quarter", "sea", 'path = "M 0 0 L 7 0 A 7 7 0 0 1 0 7 Z"')
    rest = ("rest", "sand", 'path = "M 7 0 L 10 0 L 10 10 L 0 10 L 0 7 A 7 7 0 0 0 7 0 Z"')
    (seam,) = top(drawn(quarter, rest)).seams
    middles = (seam.points[1:] + seam.points[:-1]) / 2
    assert np.abs(np.hypot(*seam.points.T) - 70).max() < 0.002
    assert np.abs(np.hypot(*middles.T) - 70).max() < 0.05


def test_a_patch_inside_another_has_a_closed_seam():
    ring = "M 0 0 L 10 0 L 10 10 L 0 10 Z M 3 5 A 2 2 0 0 1 7 5 A 2 2 0 0 1 3 5 Z"
    outer = ("ground", "sand", f'path = "{ring}"')
    disc = ("disc", "sea", 'path = "M 3 5 A 2 2 0 0 1 7 5 A 2 2 0 0 1 3 5 Z"')
    (seam,) = top(drawn(outer, disc)).seams
    assert (seam.points[0] == seam.points[-1]).all()


@pytest.mark.parametrize(
    ("patches", "said"),
    [
        ((LEFT,), "no patch covers"),
        ((LEFT, RIGHT, ("twice", "sea", "points = [[3,1],[5,1],[5,2],[3,2]]")), "overlap"),
        ((LEFT, ("right", "sea", "points = [[4,0],[11,0],[11,10],[4,10]]")), "leaves the block"),
        ((LEFT, ("right", "sea", "points = [[4.002,0],[10,0],[10,10],[4.002,10]]")), "no patch"),
        ((("line", "sea", "points = [[0,0],[4,4]]"),), "no simple area"),
        ((("bow", "sea", "points = [[0,0],[10,10],[10,0],[0,10]]"),), "no simple area"),
        ((LEFT, ("left", *RIGHT[1:])), "two patches named"),
    ],
)
def test_patches_that_do_not_fill_a_block_are_refused_with_the_place(patches, said):
    with pytest.raises(StitchpathError, match=r"blocks\.own") as error:
        top(drawn(*patches))
    assert said in str(error.value)
    assert "expected" in str(error.value)


def test_patches_that_fit_to_a_hundredth_of_a_millimetre_are_one_seam():
    (seam,) = top(
        drawn(LEFT, ("right", "sea", "points = [[4.0005,0],[10,0],[10,10],[4.0005,10]]"))
    ).seams
    assert seam.points[:, 0] == pytest.approx(40, abs=0.01)


def test_allowances_go_to_the_darker_fabric():
    (seam,) = top(drawn(LEFT, RIGHT)).seams
    darker = seam.left if seam.high < 0 else seam.right
    assert top(drawn(LEFT, RIGHT)).patches[darker].fabric == "sea"


def test_a_rule_for_the_block_goes_before_the_default_and_one_seam_before_both():
    def high(rest):
        made = top(drawn(LEFT, RIGHT, rest=rest))
        (seam,) = made.seams
        side = {-1: seam.left, 1: seam.right}.get(seam.high)
        return "open" if side is None else made.patches[side].fabric

    one = '[press]\nseams = [{ between = ["own.left", "A1.right"], press = "%s" }]'
    assert high('[press]\ndefault = "toward sand"') == "sand"
    assert high('[press]\ndefault = "open"') == "open"
    assert high(one % "toward sand") == "sand"
    assert high(one % "open") == "open"


MOTIF = (
    ("left", "sand", "points = [[0,0],[3,0],[3,10],[0,10]]"),
    ("middle", "coral", "points = [[3,0],[6,0],[6,10],[3,10]]"),
    ("right", "sea", "points = [[6,0],[10,0],[10,10],[6,10]]"),
)


@pytest.mark.parametrize(
    ("rule", "high"),
    [
        ('{ toward = ["sand", "coral"] }', ["left", "middle"]),  # the motif stands forward ...
        ('{ toward = ["coral", "sand"] }', ["middle", "middle"]),  # ... the first named foremost
        ('"toward coral"', ["middle", "middle"]),
        ('"feature"', ["left", "middle"]),
    ],
)
def test_allowances_go_toward_the_several_fabrics_of_a_motif(rule, high):
    lines = '[lines]\nfeature = ["sand", "coral"]\n'
    made = top(drawn(*MOTIF, rest=f"[press]\ndefault = {rule}\n{lines}"))
    seams = sorted(made.seams, key=lambda seam: seam.points[0, 0])
    found = [made.patches[seam.left if seam.high < 0 else seam.right].name for seam in seams]
    assert found == high


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("{ toward = [] }", "press.default"),
        ('{ toward = ["coal"] }', "unknown fabric 'coal', the nearest fabric is 'coral'"),
        ('"feature"', "lines.feature: found no fabric"),
        ("3", "press.default: found 3, expected"),
        ('"toward"', "press.default: found 'toward', expected"),
    ],
)
def test_a_press_rule_that_says_nothing_is_told_in_one_sentence(rule, said):
    with pytest.raises(StitchpathError) as error:
        top(drawn(*MOTIF, rest=f"[press]\ndefault = {rule}\n"))
    assert said in str(error.value)


def test_dark_follows_the_lightness_of_the_eye():
    # CIE 1976 L* of sRGB: white 100, black 0, mid grey #777777 50.0 (published conversion tables,
    # from memory).
    assert darkness(Fabric(colour="white")) == pytest.approx(0, abs=1e-6)
    assert darkness(Fabric(colour="black")) == pytest.approx(1)
    assert darkness(Fabric(colour="#777777")) == pytest.approx(0.5, abs=0.002)
    assert darkness(Fabric(colour="white", dark=0.8)) == 0.8


@pytest.mark.parametrize(
    ("laid", "bounds"),
    [
        ("90", (0, 0, 100, 40)),
        ("180", (60, 0, 100, 100)),
        ("270", (0, 60, 100, 100)),
        ("m", (60, 0, 100, 100)),
    ],
)
def test_a_turned_or_mirrored_block_has_its_left_patch_where_she_sees_it(laid, bounds):
    made = top(drawn(LEFT, RIGHT, layout=f'rows = ["own:{laid}"]'))
    left = next(p for p in made.patches if p.name == "left")
    assert left.polygon.bounds == pytest.approx(bounds)


def test_rows_are_lettered_and_columns_numbered():
    made = top(SQUARES.replace('["squares"]', '["squares*2", "squares*2"]'))
    assert [b.place.name for b in made.blocks] == ["A1", "A2", "B1", "B2"]


@pytest.mark.parametrize("corners", ["butted", "squares", "mitred"])
def test_sashing_and_borders_add_up_to_the_finished_size(corners):
    sash = 'sashing = { width = 1, fabric = "sea", cornerstone = "coral", around = true }\n'
    made = top(
        SQUARES.replace('["squares"]', '["squares*3", "squares*3"]')
        + sash
        + f'[[layout.borders]]\nwidth = 2\nfabric = "sand"\ncorners = "{corners}"\n'
    )
    assert made.width == pytest.approx((3 * 6 + 4 + 4) * 25.4)
    assert made.height == pytest.approx((2 * 6 + 3 + 4) * 25.4)
    assert sum(p.part == "cornerstone" for p in made.patches) == 12


@pytest.mark.parametrize(("sash", "pitch"), [(None, 6), (1, 7)])
def test_on_point_the_setting_triangles_close_the_rectangle(sash, pitch):
    rows = 'rows = ["squares*2", "squares", "squares*2"]\non_point = true\nsetting = "coral"\n'
    text = SQUARES.replace('rows = ["squares"]\n', rows)
    if sash:
        text += f'sashing = {{ width = {sash}, fabric = "sea", cornerstone = "coral" }}\n'
    made = top(text)
    assert made.width == pytest.approx(2 * pitch * 2**0.5 * 25.4, abs=0.01)
    assert made.height == pytest.approx(2 * pitch * 2**0.5 * 25.4, abs=0.01)
    settings_ = [p.polygon.area for p in made.patches if p.part == "setting"]
    assert len(settings_) == 8
    big, small = max(settings_), min(settings_)
    assert big > 1.9 * small


def test_blocks_placed_freely_may_make_a_top_that_is_no_rectangle():
    text = SQUARES.replace('rows = ["squares"]\n', "")
    spots = [(0, 0), (6, 0), (6, 6)]
    text += "".join(f'[[layout.place]]\nblock = "squares"\nx = {x}\ny = {y}\n' for x, y in spots)
    made = top(text)
    assert made.outline.area == pytest.approx(3 * 36 * 25.4**2)
    assert len(made.outline.exterior.coords) > 5


@pytest.mark.parametrize(
    ("spots", "said"),
    [
        ([(0, 0), (3, 3)], "overlap at"),
        ([(0, 0), (8, 0)], "stands alone"),
        ([(6, 0), (0, 6), (12, 6), (6, 12)], "only at a corner"),
    ],
)
def test_blocks_that_do_not_make_one_top_are_refused(spots, said):
    text = SQUARES.replace('rows = ["squares"]\n', "")
    text += "".join(f'[[layout.place]]\nblock = "squares"\nx = {x}\ny = {y}\n' for x, y in spots)
    with pytest.raises(StitchpathError, match=said):
        top(text)


def test_a_piece_that_leaves_the_top_is_refused_by_name():
    piece = (
        '[[applique]]\nname = "starfish"\noutline = "M 0 0 L 1 0 L 0 1 Z"\nsize = 4\n'
        'fabric = "coral"\nat = [5, 5]\n'
    )
    with pytest.raises(StitchpathError, match=r'"starfish".*leaves the top'):
        top(SQUARES + piece)


@settings(deadline=None, max_examples=25)
@given(layouts())
def test_the_patches_of_any_layout_fill_the_top(text):
    made = top(text)
    assert sum(p.polygon.area for p in made.patches) == pytest.approx(made.outline.area)
    inner = sum(2 * np.hypot(*np.diff(s.points, axis=0).T).sum() for s in made.seams)
    around = sum(p.polygon.length for p in made.patches)
    # a seam lies on a grid of 1 µm, as the ends of its patches' edges need not
    assert inner + made.outline.length == pytest.approx(around, abs=0.002 * len(made.seams) + 1e-6)


POINT = SQUARES.replace("size = 6", "size = 150").replace(
    'name = "Squares"', 'name = "P"\nunit = "mm"'
)
POINT = POINT.replace(
    'rows = ["squares"]',
    f'rows = {["squares*5", "squares*4"] * 4 + ["squares*5"]}\non_point = true\nsetting = "sand"\n'
    'sashing = { width = 76.2, fabric = "sea", cornerstone = "coral" }\n'
    '[[layout.borders]]\nwidth = 40\nfabric = "sea"\n',
)


def test_a_large_top_on_point_with_wide_sashing_gets_its_border():
    # rounding to 1 µm along many slanted edges comes to 2 mm², none of it wide enough to be seen
    made = top(POINT)
    assert len([patch for patch in made.patches if patch.part == "border"]) == 4


def test_blocks_that_fill_no_rectangle_are_told_of_with_the_place_that_is_bare():
    border = '[[layout.borders]]\nwidth = 20\nfabric = "sea"'
    place = "place = [{ block = 'own', x = 50, y = 0 }, { block = 'own', x = 0, y = 100 }"
    place += ", { block = 'own', x = 100, y = 100 }]\n"
    with pytest.raises(StitchpathError) as error:
        top(drawn(LEFT, RIGHT, layout=place + border))
    assert str(error.value) == (
        "layout.borders: found blocks that do not fill a rectangle: nothing lies at 0 mm across, "
        "0 mm down from the corner of the blocks, 50 mm by 100 mm, and at 1 more place; expected "
        "one to put borders round"
    )
