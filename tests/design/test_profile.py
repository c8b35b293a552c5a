"""Sixty jobs do not repeat the shop's machine, pace and prices: one file holds them."""

from pathlib import Path

import pytest
from quilts import SQUARES

from stitchpath import StitchpathError, load_design, make_plan
from stitchpath.cli.commands import compare as comparing
from stitchpath.cli.commands.asked import asked_design
from stitchpath.design.profile import added_by, usual_profile, with_profile

SHOP = """
[machine]
kind = "frame"
throat = "18 in"
[pace]
advance = 200
[stitching]
per_inch = 12
[charges]
currency = "EUR"
hour = 40
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A profile and a design beside it."""
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "top.toml").write_text(SQUARES)
    return tmp_path


def test_what_the_design_does_not_say_the_profile_says(shop):
    design = load_design(shop / "top.toml", profile=shop / "shop.toml")
    assert design.machine.kind == "frame"
    assert design.machine.throat is not None
    assert design.machine.throat.width == pytest.approx(18 * 25.4)
    assert (design.pace.advance, design.stitching.per_inch) == (200, 12)
    assert design.charges is not None
    assert (design.charges.currency, design.charges.hour) == ("EUR", 40)
    assert design.batting.margin == pytest.approx(4 * 25.4)  # as in any frame


def test_what_the_design_says_wins(shop):
    more = "[machine]\ndepth = 14\n[charges]\nsquare_inch = 0.03\n[pace]\nadvance = 100\n"
    (shop / "top.toml").write_text(SQUARES + more)
    design = load_design(shop / "top.toml", profile=shop / "shop.toml")
    assert (design.machine.kind, design.machine.throat) == ("frame", None)
    assert design.machine.depth == pytest.approx(14 * 25.4)
    assert design.pace.advance == 100
    assert design.charges is not None
    assert (design.charges.hour, design.charges.square_inch) == (None, 0.03)
    (shop / "top.toml").write_text(SQUARES + '[machine]\nkind = "domestic"\n')
    at_home = load_design(shop / "top.toml", profile=shop / "shop.toml")
    assert (at_home.machine.throat, at_home.pace.advance) == (None, None)
    assert at_home.stitching.per_inch == 12


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[machine]\nkind = 'frame'\nthroat = 18\n", "machine.throat.* without its unit"),
        ("[machine]\nkinds = 'frame'\n", "unknown key .kinds. in machine"),
        ("[blocks]\n", "blocks"),
        ("[charges]\nhour = -1\n", "charges.hour"),
        ("[machine\n", "found no TOML"),
    ],
)
def test_a_slip_in_the_profile_is_told_with_its_file(shop, text, said):
    (shop / "shop.toml").write_text(text)
    with pytest.raises(StitchpathError, match=rf"^.*shop\.toml: .*{said}"):
        load_design(shop / "top.toml", profile=shop / "shop.toml")


def test_the_users_own_profile_is_taken_where_none_is_named(shop, monkeypatch):
    """By the XDG Base Directory Specification, 0.8."""
    monkeypatch.setenv("HOME", str(shop))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    assert usual_profile() is None
    for where, setting in ((".config", None), ("own", str(shop / "own")), (".config", "relative")):
        folder = shop / where / "stitchpath"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "profile.toml").write_text(SHOP)
        if setting is not None:
            monkeypatch.setenv("XDG_CONFIG_HOME", setting)
        assert usual_profile() == folder / "profile.toml"
    design = asked_design(shop / "top.toml", size=None, unit=None, outside=False)
    assert design.machine.kind == "frame"
    assert load_design(shop / "top.toml").machine.kind == "domestic"  # only the commands look there


def test_a_drawing_by_itself_is_planned_on_the_shops_machine_and_the_profile_is_named(shop, capsys):
    (shop / "top.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" '
        'viewBox="0 0 300 200">'
        '<rect width="300" height="100" fill="#dc6f50"/>'
        '<rect y="100" width="300" height="100" fill="#2f6f9f"/></svg>'
    )
    named = {"size": None, "unit": None, "outside": False, "profile": shop / "shop.toml"}
    assert asked_design(shop / "top.svg", **named).machine.kind == "frame"
    assert f"with the profile {shop / 'shop.toml'}" in capsys.readouterr().out


def test_what_is_compared_is_planned_on_the_shops_machine(shop, monkeypatch, capsys):
    compared = []
    monkeypatch.setattr(
        comparing, "compare", lambda design, **_: (compared.append(design) or [], [])
    )
    monkeypatch.setattr(comparing, "_propose", lambda *_: None)
    comparing.run(shop / "top.toml", 1.0, None, None, outside=False, profile=shop / "shop.toml")
    assert [design.machine.kind for design in compared] == ["frame"]
    assert f"with the profile {shop / 'shop.toml'}" in capsys.readouterr().out


def test_what_a_profile_adds_is_what_the_design_does_not_say():
    shop = {"machine": {"kind": "frame", "throat": "18 in"}, "charges": {"hour": 30}}
    assert added_by(None, {}) == {}
    assert added_by(shop, {}) == shop
    assert added_by(shop, {"machine": {"depth": "14 in"}, "charges": {"hour": 20}}) == {
        "machine": {"kind": "frame"}, "charges": {}
    }  # fmt: skip
    assert added_by(shop, {"machine": {"kind": "domestic"}})["machine"] == {}


def test_what_a_design_charges_takes_the_place_of_the_same_thing_charged_otherwise():
    """Else the customer pays for her thread twice, by the metre and flat."""
    shop = {"charges": {"thread": 0.02, "batting": 12, "hour": 30, "tax": 8}}
    own = {"charges": {"thread_flat": 8, "batting_length": 14, "square_inch": 0.02}}
    assert with_profile(own, shop)["charges"] == {**own["charges"], "tax": 8}


def test_a_speed_that_a_design_says_for_one_kind_leaves_those_of_the_profile():
    shop = {"pace": {"speed": {"ditch": "30 in", "fill": "90 in"}, "load": 3000}}
    whole = with_profile({"pace": {"speed": {"fill": "60 in"}}}, shop)
    assert whole["pace"] == {"speed": {"ditch": "30 in", "fill": "60 in"}, "load": 3000}


def test_a_shop_that_prices_one_kind_of_work_is_asked_for_the_others(shop):
    """Else an edge-to-edge job is billed at the least charge, and no one sees why."""
    (shop / "shop.toml").write_text("[charges]\nsquare_inch = { ditch = 0.04 }\nleast = 40\n")
    with pytest.raises(StitchpathError, match=r'charges.square_inch: found no price for "custom"'):
        load_design(shop / "top.toml", profile=shop / "shop.toml")


def test_loading_is_charged_in_a_frame_only(shop):
    (shop / "shop.toml").write_text(SHOP + "loading = 25\n")
    (shop / "home.toml").write_text(SQUARES + '[machine]\nkind = "domestic"\n')
    for name, charged in (("top", True), ("home", False)):
        bill = make_plan(load_design(shop / f"{name}.toml", profile=shop / "shop.toml")).needs.bill
        assert ("loading" in {line.what for line in bill.lines}) is charged
