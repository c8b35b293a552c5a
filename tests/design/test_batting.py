"""Kinds of batting and the distance each may go unquilted."""

import pytest

from stitchpath.base.errors import StitchpathError
from stitchpath.design.battings import BATTINGS, batting


def test_the_figures_are_those_that_labels_usually_say():
    # Common practice, from memory: the smallest usual label figure, in inches.
    inches = {kind.name: round(kind.distance / 25.4, 6) for kind in BATTINGS}
    assert inches == {
        "unstabilised cotton": 2,
        "needle-punched cotton": 4,
        "needle-punched cotton with scrim": 8,
        "cotton-polyester blend": 4,
        "polyester": 3,
        "wool": 3,
    }


def test_the_better_its_fibres_are_held_the_farther_apart_cotton_may_be_quilted():
    loose, punched, scrim = (
        batting(name).distance
        for name in (
            "unstabilised cotton",
            "needle-punched cotton",
            "needle-punched cotton with scrim",
        )
    )
    assert loose < punched < scrim


def test_each_note_names_the_distance_the_kind_stands_for():
    for kind in BATTINGS:
        assert f"labels say {kind.distance / 25.4:.0f} " in kind.note


def test_a_stitch_presses_every_batting_thinner_than_the_loftiest_lies():
    assert all(0 < kind.thickness < 3 for kind in BATTINGS)


@pytest.mark.parametrize("name", ["Wool", " WOOL ", "wool"])
def test_a_name_is_found_however_it_is_written(name):
    assert batting(name).name == "wool"
    assert batting("needle punched COTTON").name == "needle-punched cotton"


@pytest.mark.parametrize(
    ("name", "nearest"),
    [
        ("wol", "wool"),
        ("polyster", "polyester"),
        ("unstabilized cotton", "unstabilised cotton"),
        ("needle-punched cotton, scrim", "needle-punched cotton with scrim"),
    ],
)
def test_a_misspelt_batting_is_answered_with_the_nearest(name, nearest):
    with pytest.raises(StitchpathError) as refused:
        batting(name)
    assert f"found {name!r}" in str(refused.value)
    assert str(refused.value).endswith(f"; the nearest is {nearest!r}")


def test_a_batting_unlike_any_is_answered_with_all():
    with pytest.raises(StitchpathError, match=r"expected one of unstabilised cotton, .*, wool$"):
        batting("8 oz")
