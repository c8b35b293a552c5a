"""What is said of a part of the top: seams round it and within, threads, pieces by themselves."""

import numpy as np
import pytest
import shapely
from quilts import DESIGNS

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import Kind
from stitchpath.document.document import Document
from stitchpath.document.seam_gestures import seam_kinds
from stitchpath.lines.ditch import chosen_seams
from stitchpath.lines.threads import thread_for
from stitchpath.plan import lines_of

RUNNER = Document.read(DESIGNS / "harbour-runner.toml")
KINDS = Kind.__args__


def members(top, part, *, such=False):
    """List patches by another way than the gesture: by where they lie."""
    blocks = {b.place.name: b.block.name for b in top.blocks}
    same = {at for at, block in blocks.items() if such and block == blocks.get(part)} | {part}
    return {
        i
        for i, p in enumerate(top.patches)
        if p.place.name in same
        or p.design_name == part
        or (p.part == "border" and p.place.name.startswith(f"{part} "))
    }


def round_of(top, mine):
    return [k for k, s in enumerate(top.seams) if (s.left in mine) != (s.right in mine)]


def high(top, k):
    seam = top.seams[k]
    return seam.left if seam.high == -1 else seam.right


@pytest.mark.parametrize("part", ["A3.hull", "A1", "border 1", "sashing A1-A2"])
@pytest.mark.parametrize("rule", ["in", "out"])
def test_what_lies_round_a_part_is_pressed_toward_it_or_away_and_nothing_else(part, rule):
    found = RUNNER.edited([{"op": "press", "round": part, "rule": rule}])
    mine = members(found.top, part)
    meant = round_of(found.top, mine)
    fabric = [p.fabric for p in found.top.patches]
    for k, (old, new) in enumerate(zip(RUNNER.top.seams, found.top.seams, strict=True)):
        if k in meant and fabric[new.left] != fabric[new.right]:
            assert (high(found.top, k) in mine) == (rule == "in")
        else:
            assert new.high == old.high
    back = found.edited([{"op": "press", "round": part, "rule": None}])
    assert [s.high for k, s in enumerate(back.top.seams) if k not in meant] == [
        s.high for k, s in enumerate(RUNNER.top.seams) if k not in meant
    ]


def test_all_such_blocks_are_pressed_away_from_with_one_of_them():
    found = RUNNER.edited([{"op": "press", "round": "A1", "such": True, "rule": "out"}])
    mine = members(found.top, "A1", such=True)
    boats = {p.place.name for p in found.top.patches if p.place.name in ("A1", "A3", "A5")}
    assert len(boats) == 3
    assert not any(high(found.top, k) in mine for k in round_of(found.top, mine))


def test_the_seams_of_one_block_are_opened_and_left_out_while_its_like_keep_theirs():
    edits = [{"op": "press", "within": "A3", "rule": "open"},
             {"op": "stitch", "within": "A3", "want": False}]  # fmt: skip
    found = RUNNER.edited(edits)
    mine = members(found.top, "A3")
    within = [k for k, s in enumerate(found.top.seams) if {s.left, s.right} <= mine]
    assert [k for k, s in enumerate(found.top.seams) if s.high == 0] == within
    was, now = (chosen_seams(each.top, each.design.lines) for each in (RUNNER, found))
    assert np.flatnonzero(was & ~now).tolist() == [k for k in within if was[k]]


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        ({"op": "press", "round": "A9", "rule": "in"}, "unknown part 'A9'"),
        ({"op": "press", "between": ["A1.hull", "A1.sea"], "rule": "in"}, "round a part"),
        ({"op": "stitch", "within": "border 1 left", "want": True}, "no seam within border 1 left"),
        ({"op": "stitch", "want": True}, "expected one of between, round and within"),
        ({"op": "thread", "kind": "ditch", "thread": "gold"}, "unknown thread 'gold'"),
    ],
)
def test_what_names_no_part_is_answered_in_one_sentence(edit, words):
    with pytest.raises(StitchpathError, match=words):
        RUNNER.edited([edit])


def test_between_two_patches_of_one_fabric_no_side_is_promised():
    plain = {"op": "set", "path": ["blocks", "plain", "grid"], "value": ["sand sand"]}
    same = RUNNER.edited([plain])
    one = same.edited([{"op": "press", "round": "A2.r1c1", "rule": "in"}])
    assert ("A2.r1c1", "A2.r1c2") not in [s.between for s in one.design.press.seams]
    like = {"op": "set", "path": ["layout", "borders", 0, "fabric"], "value": "shallows"}
    wide = RUNNER.edited([like])
    with pytest.raises(StitchpathError, match="the same fabric on both sides"):
        wide.edited([{"op": "press", "round": "border 1", "rule": "in"}])


def test_all_such_seams_of_sashing_are_those_at_the_same_patch():
    top = RUNNER.top
    names = [p.design_name for p in top.patches]
    pairs = [{names[s.left], names[s.right]} for s in top.seams]
    kinds = seam_kinds(top)
    kind = kinds[pairs.index({"A1.sea", "sashing A1-A2"})]
    like = [pair for pair, each in zip(pairs, kinds, strict=True) if each == kind]
    assert len(like) == 9
    for pair in like:
        assert {name.split(" ")[0].split(".")[-1] for name in pair} == {"sea", "sashing"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("thread", ["grey", "dark coral"])
def test_a_kind_of_line_changes_its_thread_and_no_other_kind_does(kind, thread):
    found = RUNNER.edited([{"op": "thread", "kind": kind, "thread": thread}])
    before, after = ({k: thread_for(d.design, k) for k in KINDS} for d in (RUNNER, found))
    assert after == before | {kind: thread}


def test_pieces_laid_by_one_entry_lie_where_they_lay_once_each_has_its_own():
    both = RUNNER.edited([{"op": "set", "path": ["applique", 0, "on"], "value": "plain"},
                          {"op": "drop", "path": ["applique", 1]}])  # fmt: skip
    apart = both.edited([{"op": "part", "piece": 1}])
    assert [asked.on for asked in apart.design.applique] == ["A2", "A4"]
    for old, new in zip(both.top.pieces, apart.top.pieces, strict=True):
        assert old.shape.equals(new.shape)
    again = apart.edited([{"op": "part", "piece": 1}])
    assert again.text == apart.text


def outlines(document):
    lines = lines_of(document.design)[1]
    return [line for line in lines if line.kind == "outline"], [
        line for line in lines if line.kind == "echo"
    ]


@pytest.mark.parametrize(("region", "many"), [("A3.sail", 1), ("boat.sail", 3), ("A3", 1)])
def test_a_line_lies_inside_the_edge_of_what_she_touched_and_echoes_outside(region, many):
    step = {"step": "1/8 in", "count": 1}
    found = RUNNER.edited([{"op": "edge", "region": region, "edge_line": "1/4 in", "echo": step}])
    inside, round_it = outlines(found)
    assert len(inside) == many
    mine = [p.polygon for p in found.top.patches if names_it(p, region)]
    whole = shapely.union_all(mine, grid_size=0.001)
    edge = shapely.boundary(whole)
    for line in inside:
        away = shapely.distance(edge, shapely.points(line.points))
        assert np.abs(away - 25.4 / 4).max() < 0.02
        assert whole.contains(shapely.LineString(line.points))
    assert round_it
    for line in round_it:
        assert shapely.distance(whole, shapely.LineString(line.points)) > 25.4 / 8 - 0.05
    gone = found.edited([{"op": "edge", "region": region, "edge_line": None},
                         {"op": "edge", "region": region, "echo": None}])  # fmt: skip
    assert gone.design.motifs == []
    assert outlines(gone) == ([], [])


def names_it(patch, region):
    boats = {"A1", "A3", "A5"}
    of, _, name = region.partition(".")
    return patch.place.name in (boats if of == "boat" else {of}) and name in ("", patch.name)


def test_edges_of_nothing_and_with_no_such_thread_are_refused():
    for region, words in (("A9", "unknown region"), ("rest", "a patch, a block")):
        with pytest.raises(StitchpathError, match=words):
            RUNNER.edited([{"op": "edge", "region": region, "edge_line": True}])
    with pytest.raises(StitchpathError, match="unknown thread"):
        RUNNER.edited([{"op": "edge", "region": "A1", "edge_line": True, "thread": "gold"}])
