"""Findings that are alike are one sentence, the worst come first, and check and plan agree."""

import pytest
from quilts import DESIGNS, SQUARES, design, top

from stitchpath.checks.all import check_plan
from stitchpath.checks.cures import check_loose, survey
from stitchpath.checks.seam_words import seam_words
from stitchpath.design.read import load_design
from stitchpath.plan import check_design, make_plan
from stitchpath.top.place_names import Places

STARS = """
name = "Stars"
[fabrics]
sand = "#e7d5b0"
coral = "#dc6f50"
[blocks.plain]
size = 10
grid = ['sand sand']
press = "open"
[layout]
rows = ["plain plain plain"]
[[applique]]
name = "starfish"
file = "starfish.svg"
on = "plain"
size = 7
fabric = "coral"
"""


def test_she_reads_one_line_of_three_raw_edges_that_are_alike():
    found = check_plan(survey(design(STARS)))
    (raw,) = [check.message for check in found if check.code == "raw-edge"]
    assert "of the edge of starfish on A1, A2 and A3 has no stitching" in raw
    assert "longest bit" not in raw  # that is told of one alone
    one = check_plan(survey(design(STARS.replace('on = "plain"', 'on = "A2"'))))
    (raw,) = [check.message for check in one if check.code == "raw-edge"]
    assert "of the edge of starfish on A2 has" in raw
    assert "the longest bit at " in raw


def test_a_larger_piece_frays_in_a_line_of_its_own():
    other = STARS[STARS.index("[[applique]]") :].replace("plain", "A2").replace("= 7", "= 4")
    text = STARS.replace('on = "plain"', 'on = "A1"') + other
    found = check_plan(survey(design(text)))
    assert len([check for check in found if check.code == "raw-edge"]) == 2


def test_what_may_not_last_is_read_before_what_is_good_to_know():
    found = [check.level for check in check_plan(survey(design(STARS)))]
    assert set(found) == {"warning", "note"}
    assert found == sorted(found, key=["error", "warning", "note"].index)


def test_check_and_plan_say_the_same_of_the_same_quilt():
    asked = load_design(DESIGNS / "curved-cushion.toml").held_by("2 in")
    checked = check_design(asked)
    assert {"loose-ground", "raw-edge"} <= {check.code for check in checked}
    planned = [check for check in make_plan(asked).checks if check.code != "not-proven"]
    assert tuple(planned) == checked


@pytest.mark.parametrize(("blocks", "said"), [(4, '"sand" in A4 are'), (5, "2 more are")])
def test_four_seams_pressed_open_are_named_and_more_are_counted(blocks, said):
    found = check_plan(survey(design(STARS.replace("plain plain plain", f"plain*{blocks}"))))
    (warned,) = [check.message for check in found if check.code == "open-seam"]
    assert said in warned
    assert warned.count('two patches of "sand" in') == (4 if blocks == 4 else 3)


def test_the_four_widest_kinds_of_loose_ground_are_priced():
    kinds = "".join(
        f"[blocks.{name}]\nsize = [10, {size}]\ngrid = ['sand coral']\n"
        for name, size in zip("vwxyz", (10, 9, 8, 7, 6), strict=True)
    )
    text = STARS[: STARS.index("[layout]")] + kinds
    text += '[layout]\nrows = ["z", "y", "x", "w", "v"]\n[lines]\nditch = "blocks"\n'
    text += '[batting]\ndistance = "5 in"\n'
    found = list(check_loose(survey(design(text)), lambda _: (914.4, 90.0)))
    assert [check.message.split(" in ")[2][:2] for check in found] == ["E1", "D1", "C1", "B1", "A1"]
    priced = 'stitch the seam between "coral" and "sand" in E1 (1.00 yd (0.91 m) of thread and '
    assert f"Cheapest cure: {priced}90 seconds more)." in found[0].message
    assert ["of thread" in check.message for check in found] == [True] * 4 + [False]


# ---- a seam is told as one would point at it ----

BOAT = SQUARES.replace(
    "grid = ['sand sea', 'sea sand']",
    """units = 2
patches = [
  { name = "sail", fabric = "sand", points = [[0, 0], [2, 0], [2, 1], [0, 1]] },
  { name = "hull", fabric = "sea", points = [[0, 1], [2, 1], [2, 2], [0, 2]] },
]""",
)


@pytest.mark.parametrize(
    ("text", "row", "every", "said"),
    [
        (BOAT, "squares squares", "boat", 'the seam between "sail" and "hull" in every boat'),
        (BOAT, "squares squares", "", 'the seam between "sail" and "hull" in A1'),
        (BOAT, "squares", "boat", 'the seam between "sail" and "hull" in A1'),  # the only one
        (SQUARES, "squares", "", 'the left seam between "sand" and "sea" in A1'),
        (SQUARES, "squares squares:90", "x", 'the seam between "sand" and "sea" in every x'),
    ],
)
def test_a_seam_to_stitch_as_well_is_told_by_what_she_sees_beside_it(text, row, every, said):
    laid = top(text.replace('["squares"]', f'["{row}"]'))
    places = {}
    for seam in laid.seams:
        pair = seam.left, seam.right
        if len({laid.patches[i].place for i in pair}) == 1:
            names = tuple(sorted(laid.patches[i].name for i in pair))
            places.setdefault(names, []).append(tuple(sorted(pair)))
    pairs = next(iter(places.values()))
    assert seam_words(laid, Places(laid), pairs, every)[0] == said


@pytest.mark.parametrize(("many", "more"), [(6, []), (7, ["1 more like them"])])
def test_six_seams_to_stitch_are_named_and_more_are_counted(many, more):
    laid = top(BOAT.replace('["squares"]', f'["squares*{many}"]'))
    pairs = [(s.left, s.right) for s in laid.seams
             if laid.patches[s.left].place == laid.patches[s.right].place]  # fmt: skip
    assert seam_words(laid, Places(laid), pairs)[6:] == more
