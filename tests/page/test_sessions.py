"""Whatever happens to browser or server, what she did is there, and can be undone."""

import json
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import DESIGNS, SQUARES

from stitchpath.base.errors import StitchpathError
from stitchpath.page.folder import Folder
from stitchpath.page.sessions import ChangedError, Sessions, StaleError

WIDER = [{"op": "set", "path": ["blocks", "squares", "size"], "value": 8}]
TWO = """name = "Tide"
fabrics = { sand = "#e7d5b0", sea = "#2f6f9f" }
[blocks.tide]
size = 6
grid = ['sand sea', 'sea sand']
[layout]
rows = ["tide"]
"""
WIDEST = [{"op": "set", "path": ["blocks", "squares", "size"], "value": 9}]


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "quilt.toml").write_text(SQUARES)
    return Folder(tmp_path)


@pytest.fixture
def quilt(folder):
    return Sessions(folder).open_file("quilt.toml")


def shades(*colours):
    names = ("sand", "sea")
    return [
        {"op": "set", "path": ["fabrics", name], "value": colour}
        for name, colour in zip(names, colours, strict=True)
    ]


def test_a_top_that_a_window_has_is_not_told_again_but_its_new_shades_are(folder):
    quilt = Sessions(folder).open_text(TWO)
    first = json.loads(quilt.state())
    quilt.edit(1, shades("#eeeeee", "#222222"), "shades")
    told = json.loads(quilt.state(first["tops"]))
    assert told["same"]
    assert told["top"] == {"fabrics": json.loads(quilt.state())["top"]["fabrics"]}
    assert told["top"]["fabrics"]["sea"]["colour"] == "#222222"
    quilt.edit(2, [{"op": "set", "path": ["blocks", "tide", "size"], "value": 8}], "size")
    assert json.loads(quilt.state(first["tops"]))["top"]["box"] == [0, 0, 203.2, 203.2]


@settings(deadline=None)  # a busy machine is no fault
@given(st.lists(st.sampled_from(["#000000", "#777777", "#ffffff"]), min_size=2, max_size=2))
def test_whatever_the_shades_the_top_is_as_if_it_were_opened_anew(colours):
    with tempfile.TemporaryDirectory() as place:
        sessions = Sessions(Folder(Path(place)))
        quilt = sessions.open_text(TWO)
        first = json.loads(quilt.state())
        quilt.edit(
            1, [*shades(*colours), {"op": "set", "path": ["name"], "value": "Two"}], "shades"
        )
        now = json.loads(quilt.state(first["tops"]))
        anew = json.loads(sessions.open_text(quilt.text).state())
        assert {**first["top"], **now["top"]} == anew["top"]
        assert quilt.document.top.name == "Two"


def names(folder):
    return sorted(path.name for path in folder.root.iterdir())


def test_undo_to_the_beginning_gives_the_first_file_and_redo_the_last(quilt):
    quilt.edit(1, WIDER, "wider blocks")
    quilt.edit(2, WIDEST, "the widest blocks")
    last = quilt.text
    told = json.loads(quilt.state())
    assert (told["undo"], told["redo"], told["saved"]) == ("the widest blocks", None, False)
    quilt.undo(3)
    quilt.undo(4)
    told = json.loads(quilt.state())
    assert (quilt.text, told["undo"], told["redo"]) == (SQUARES, None, "wider blocks")
    assert told["saved"]
    quilt.redo(5)
    quilt.redo(6)
    assert quilt.text == last
    quilt.redo(7)
    assert (quilt.text, quilt.rev) == (last, 7)


def test_a_change_after_undo_takes_the_place_of_what_was_undone(quilt):
    quilt.edit(1, WIDER, "wider")
    quilt.undo(2)
    quilt.edit(3, WIDEST, "widest")
    told = json.loads(quilt.state())
    assert (told["undo"], told["redo"]) == ("widest", None)


def test_undo_goes_on_after_saving(quilt, folder):
    quilt.edit(1, WIDER, "wider")
    quilt.save(None, overwrite=False)
    quilt.undo(2)
    assert (quilt.text, quilt.saved) == (SQUARES, False)
    assert (folder.root / "quilt.toml").read_text() != SQUARES
    quilt.save(None, overwrite=False)
    assert (folder.root / "quilt.toml").read_text() == SQUARES


def test_the_older_of_two_windows_changes_nothing_and_loses_nothing(folder):
    sessions = Sessions(folder)
    one, other = sessions.open_file("quilt.toml"), sessions.open_file("quilt.toml")
    assert one is other
    one.edit(1, WIDER, "wider")
    before = one.text
    for change in (lambda: one.edit(1, WIDEST, "widest"), lambda: one.undo(1), lambda: one.redo(1)):
        with pytest.raises(StaleError):
            change()
    assert (one.text, one.rev) == (before, 2)


def test_a_change_that_makes_no_quilt_changes_nothing(quilt, folder):
    bad = [{"op": "set", "path": ["blocks", "squares", "size"], "value": "wide"}]
    with pytest.raises(StitchpathError) as told:
        quilt.edit(1, [*WIDER, *bad], "nonsense")
    assert "size" in str(told.value)
    assert (quilt.text, quilt.rev, names(folder)) == (
        SQUARES, 1, [".stitchpath-recent.json", "quilt.toml"]
    )  # fmt: skip


def test_a_broken_design_opens_and_is_mended_step_by_step(folder):
    (folder.root / "broken.toml").write_text(SQUARES.replace("size = 6", "size = 'six'"))
    quilt = Sessions(folder).open_file("broken.toml")
    told = json.loads(quilt.state())
    assert told["top"] is None
    assert told["problem"]["path"] == ["blocks", "squares", "size"]
    quilt.edit(1, WIDER, "a size")
    assert json.loads(quilt.state())["problem"] is None


def test_what_was_not_saved_is_offered_and_taken_up_with_all_its_steps(quilt, folder):
    quilt.edit(1, WIDER, "wider")
    quilt.edit(2, WIDEST, "widest")
    quilt.undo(3)
    later = Sessions(folder)  # the server died
    (draft,) = later.drafts()
    assert (draft["title"], draft["file"]) == ("Squares", "quilt.toml")
    again = later.open_draft(draft["id"])
    assert (again.text, again.file, again.saved) == (quilt.text, "quilt.toml", False)
    again.redo(again.rev)
    assert json.loads(again.state())["undo"] == "widest"
    again.undo(again.rev)
    again.undo(again.rev)
    assert (again.text, again.saved) == (SQUARES, True)
    assert later.drafts() == []


def test_a_draft_that_is_open_is_opened_once(quilt, folder):
    quilt.edit(1, WIDER, "wider")
    later = Sessions(folder)
    draft = later.drafts()[0]["id"]
    assert later.open_draft(draft) is later.open_draft(draft)
    with pytest.raises(StitchpathError, match="no such draft"):
        later.open_draft("../quilt.toml")


def test_a_draft_that_two_servers_take_up_is_lost_by_neither(quilt, folder):
    quilt.edit(1, WIDER, "wider")
    again = Sessions(folder).open_draft(folder.drafts()[0].name)
    again.edit(again.rev, WIDEST, "widest")
    quilt.undo(quilt.rev)
    quilt.redo(quilt.rev)
    assert {draft.data["text"] for draft in folder.drafts()} == {again.text, quilt.text}


def test_saving_does_away_with_the_draft_and_no_other(quilt, folder):
    other = Sessions(folder).open_text(SQUARES)
    other.edit(1, WIDER, "wider")
    quilt.edit(1, WIDER, "wider")
    assert len(folder.drafts()) == 2
    quilt.save(None, overwrite=False)
    assert [draft.name for draft in folder.drafts()] == [folder.draft_name(other.id)]
    assert folder.drop_found_draft(folder.draft_name(other.id))
    assert not folder.drop_found_draft("quilt.toml")
    assert names(folder) == [".stitchpath-recent.json", "quilt.toml"]


def test_a_new_design_over_an_old_draft_leaves_the_draft(folder):
    first = Sessions(folder).open_file("quilt.toml")
    first.edit(1, WIDER, "wider")
    second = Sessions(folder).open_file("quilt.toml")
    second.edit(1, WIDEST, "widest")
    assert {draft.data["text"] for draft in folder.drafts()} == {first.text, second.text}


def test_a_draft_changed_by_hand_still_gives_its_text(quilt, folder):
    quilt.edit(1, WIDER, "wider")
    path = folder.root / folder.draft_name(quilt.id)
    kept = json.loads(path.read_text())
    for broken in ({"steps": 3}, {"at": 7}, {"at": "x"}, {"steps": [[SQUARES, "a"]], "at": 0}):
        path.write_text(json.dumps(kept | broken))
        assert Sessions(folder).open_draft(path.name).text == quilt.text
    for draft in folder.root.glob(".stitchpath-draft-*"):
        draft.write_text("no json")
    assert Sessions(folder).drafts() == []


def test_a_draft_of_a_file_that_was_changed_since_does_not_write_over_it(quilt, folder):
    quilt.edit(1, WIDER, "wider")
    by_hand = SQUARES.replace("Squares", "By hand")
    (folder.root / "quilt.toml").write_text(by_hand)
    later = Sessions(folder)
    again = later.open_draft(folder.drafts()[0].name)
    for session in (quilt, again):
        with pytest.raises(ChangedError, match="changed by hand"):
            session.save(None, overwrite=False)
    assert (folder.root / "quilt.toml").read_text() == by_hand
    again.save(None, overwrite=True)
    assert (folder.root / "quilt.toml").read_text() == again.text


def test_a_file_changed_by_hand_is_taken_over_where_nothing_is_lost(folder):
    sessions = Sessions(folder)
    quilt = sessions.open_file("quilt.toml")
    by_hand = SQUARES.replace("Squares", "By hand")
    (folder.root / "quilt.toml").write_text(by_hand)
    assert sessions.open_file("quilt.toml") is quilt
    assert (quilt.text, quilt.rev, quilt.saved) == (by_hand, 2, True)
    quilt.undo(2)
    assert quilt.text == SQUARES


def test_another_design_is_not_written_over_by_name(quilt, folder):
    (folder.root / "other.toml").write_text("# mine\n")
    with pytest.raises(ChangedError, match="another design of that name"):
        quilt.save("other.toml", overwrite=False)
    assert (folder.root / "other.toml").read_text() == "# mine\n"
    quilt.save("other", overwrite=True)
    assert (folder.root / "other.toml").read_text() == SQUARES
    assert (quilt.file, folder.recent()[0]) == ("other.toml", "other.toml")


def test_a_design_without_a_file_is_named_after_the_quilt(folder):
    quilt = Sessions(folder).open_text(SQUARES.replace("Squares", "Quay & wall: 2"))
    quilt.save(None, overwrite=False)
    assert quilt.file == "quay-wall-2.toml"


def test_a_shipped_design_takes_its_drawings_along_when_it_becomes_hers(folder):
    runner = DESIGNS / "harbour-runner.toml"
    quilt = Sessions(folder).open_text(runner.read_text(), DESIGNS)
    assert json.loads(quilt.state())["problem"] is None
    assert "starfish.svg" not in names(folder)
    quilt.edit(1, [{"op": "set", "path": ["layout", "borders", 0, "width"], "value": 3}], "border")
    assert (folder.root / "starfish.svg").read_bytes() == (DESIGNS / "starfish.svg").read_bytes()
    assert json.loads(quilt.state())["problem"] is None
    assert runner.read_text() != quilt.text


def test_a_shipped_design_does_not_take_the_place_of_a_drawing_of_hers(folder):
    (folder.root / "starfish.svg").write_text("<svg>mine</svg>")
    quilt = Sessions(folder).open_text((DESIGNS / "harbour-runner.toml").read_text(), DESIGNS)
    with pytest.raises(StitchpathError, match="found another drawing of that name"):
        quilt.save("runner.toml", overwrite=False)
    assert (folder.root / "starfish.svg").read_text() == "<svg>mine</svg>"
    assert not (folder.root / "runner.toml").exists()


def test_a_draft_that_cannot_be_kept_is_told_before_the_change_is_shown(quilt, folder, monkeypatch):
    def full(*_):
        raise StitchpathError("the disk is full")

    monkeypatch.setattr(folder, "keep_draft", full)
    with pytest.raises(StitchpathError, match="full"):
        quilt.edit(1, WIDER, "wider")
    assert (quilt.text, quilt.rev) == (SQUARES, 1)


def test_steps_in_a_draft_have_a_bound(folder, monkeypatch):
    monkeypatch.setattr("stitchpath.page.sessions._MOST_KEPT", 3 * len(SQUARES))
    quilt = Sessions(folder).open_file("quilt.toml")
    for n in range(1, 8):
        edits = [{"op": "set", "path": ["blocks", "squares", "size"], "value": 6 + n}]
        quilt.edit(n, edits, f"{n}")
    assert 3 <= len(folder.drafts()[0].data["steps"]) <= 5
    assert Sessions(folder).open_draft(folder.drafts()[0].name).text == quilt.text


# ---- folders below, and a shop's profile ----


def test_a_design_of_a_folder_below_keeps_its_drawings_wherever_it_is_saved(folder):
    below = folder.root / "older"
    below.mkdir()
    shutil.copy(DESIGNS / "starfish.svg", below)
    piece = '[[applique]]\nname = "fish"\nfile = "starfish.svg"\nsize = 3\nfabric = "coral"\n'
    (below / "wall.toml").write_text(SQUARES + piece)
    quilt = Sessions(folder).open_file("older/wall.toml")
    assert quilt.document.problem is None
    quilt.edit(1, WIDER, "wider")
    assert not (folder.root / "starfish.svg").exists()
    again = Sessions(folder).open_draft(folder.drafts()[0].name)
    assert (again.document.problem, again.file) == (None, "older/wall.toml")
    quilt.save(None, overwrite=False)
    assert (below / "wall.toml").read_text() == quilt.text
    quilt.save("wall.toml", overwrite=False)
    assert (folder.root / "starfish.svg").read_bytes() == (below / "starfish.svg").read_bytes()
    assert Sessions(folder).open_file("wall.toml").document.problem is None


def test_a_plan_is_of_another_design_where_a_drawing_or_the_profile_is_another(folder):
    shutil.copy(DESIGNS / "starfish.svg", folder.root)
    piece = '[[applique]]\nname = "fish"\nfile = "starfish.svg"\nsize = 3\nfabric = "coral"\n'
    (folder.root / "fish.toml").write_text(SQUARES + piece)
    first = Sessions(folder).open_file("fish.toml").digest
    assert Sessions(folder).open_file("fish.toml").digest == first
    shop = {"charges": {"hour": 30}}
    assert Sessions(folder, shop).open_file("fish.toml").digest != first
    with (folder.root / "starfish.svg").open("a") as drawing:
        drawing.write("<!-- drawn anew -->")
    assert Sessions(folder).open_file("fish.toml").digest != first


def test_what_the_shops_profile_adds_is_told_and_holds(folder):
    shop = {"machine": {"kind": "frame", "throat": "18 in"}, "charges": {"hour": 30, "least": 40}}
    (folder.root / "own.toml").write_text(SQUARES + "[charges]\nhour = 25\n")
    quilt = Sessions(folder, shop).open_file("own.toml")
    assert json.loads(quilt.state())["shop"] == {
        "machine": {"kind": "frame", "throat": "18 in"}, "charges": {"least": 40}
    }  # fmt: skip
    design = quilt.document.design
    assert (design.machine.kind, design.charges.hour, design.charges.least) == ("frame", 25, 40)
    quilt.edit(1, [{"op": "set", "path": ["machine", "kind"], "value": "domestic"}], "domestic")
    assert quilt.document.design.machine.kind == "domestic"
    assert json.loads(quilt.state())["shop"]["machine"] == {}
