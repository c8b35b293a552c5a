"""Which seams are stitched in the ditch is what the design says, one word or several."""

import pytest
from quilts import SQUARES, design

from stitchpath.base.errors import StitchpathError
from stitchpath.lines.ditch import chosen_seams
from stitchpath.top.build import build_top

BUOY = SQUARES.replace("['sand sea', 'sea sand']", "['sand sand', 'coral sea', 'sand coral']")
TWO = BUOY.replace(
    'rows = ["squares"]',
    'rows = ["squares squares"]\n[[layout.borders]]\nwidth = 1\nfabric = "sand"\n'
    '[[layout.borders]]\nwidth = 1\nfabric = "coral"',
)


def stitched(text, lines):
    asked = design(f"{text}[lines]\n{lines}\n")
    top = build_top(asked)
    chosen = chosen_seams(top, asked.lines)
    return {
        frozenset(top.patches[i].label for i in (seam.left, seam.right))
        for seam, held in zip(top.seams, chosen, strict=True)
        if held
    }


def test_every_feature_fabric_is_stitched_all_round_where_it_meets_another_feature_too():
    found = stitched(BUOY, 'ditch = "feature"\nfeature = ["coral", "sea"]')
    assert found == {
        frozenset({"A1 r1c1", "A1 r2c1"}),
        frozenset({"A1 r1c2", "A1 r2c2"}),
        frozenset({"A1 r2c1", "A1 r2c2"}),  # both stand forward: the outline of either
        frozenset({"A1 r2c1", "A1 r3c1"}),
        frozenset({"A1 r2c2", "A1 r3c2"}),
        frozenset({"A1 r3c1", "A1 r3c2"}),
    }


def test_patches_of_one_feature_fabric_are_gone_round_as_one():
    found = stitched(BUOY, 'ditch = "feature"\nfeature = ["sand"]')
    assert frozenset({"A1 r1c1", "A1 r1c2"}) not in found


def test_several_words_stitch_what_each_of_them_stitches():
    feature = 'feature = ["sea"]\n'
    each = [
        stitched(TWO, f'{feature}ditch = "{word}"') for word in ("feature", "blocks", "borders")
    ]
    assert all(each)
    assert stitched(TWO, feature + 'ditch = ["feature", "blocks", "borders"]') == set.union(*each)
    assert stitched(TWO, feature + 'ditch = ["feature", "borders"]') == each[0] | each[2]


def test_borders_are_stitched_without_the_blocks():
    found = stitched(TWO, 'ditch = ["borders"]')
    assert frozenset({"border 1 top", "border 2 top"}) in found
    assert frozenset({"A1 r1c1", "border 1 top"}) in found
    assert frozenset({"A1 r1c2", "A2 r1c1"}) not in found


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('ditch = ["none", "blocks"]', "lines.ditch: found ['none', 'blocks'], expected"),
        ("ditch = []", "lines.ditch: found []"),
        ('ditch = ["blocks", "border"]', "lines.ditch[2]: found 'border', expected"),
        ('ditch = "border"', "lines.ditch"),
        ('ditch = ["feature"]', "lines.feature: found no fabric"),
    ],
)
def test_a_choice_that_says_nothing_is_told_in_one_sentence(lines, said):
    with pytest.raises(StitchpathError) as error:
        stitched(BUOY, lines)
    assert said in str(error.value)
    assert "expected" in str(error.value)
