"""Edits of a design's text: what is edited says so, all else is as she wrote it."""

import tomllib
from copy import deepcopy

from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import ROOT

from stitchpath.document.document import Document

TRICKY = """\
# The head of it all
name = "Quay"   # hers
unit = "cm"

  # fabrics, light to dark
[fabrics]
  sky = "#cfe3ee"    # pale
  sea = { colour = "#2f6f9f", dark = 0.7 }  # deep
  "old rust" = '#9c432b'

[blocks.plain]      # nothing in it
size = 25
grid = ['sky']

[layout]
rows = [  # two
  "plain  plain",   # first
  "plain*2",
]
sashing.width = "2 cm"
sashing.fabric = "sea"
names = { A1 = "the quay" }

# the inner one
[[layout.borders]]
width = 2   # narrow
fabric = "sea"
# the outer one

[[layout.borders]]
width = "1 1/2 in"
fabric = "sky"

# blocks again, for she added one later
[blocks.waves]
size = [25, 25]
patches = [
  { name = "up", fabric = "sky", points = [[0, 0], [25, 0], [25, 10], [0, 10]] },
  # what lies below
  { name = "down", fabric = "sea", points = [[0, 10], [25, 10], [25, 25], [0, 25]] },  # deep
]

[lines]
include = []
exclude = [["A1.r1c1", "sashing A1-A2"], ["A2.r1c1", "sashing A1-A2"]]
"""
DOTTED = """\
name = "Mole"
fabrics.sea = "teal"
fabrics.foam = "white"
blocks.a = { size = 10, grid = ['sea/foam'] }
layout.rows = ["a a:90", '''a:m a''']
route = {}
[threads."dark coral"]
colour = "#8e3320"
[threads.grey]
lines = ["ditch",
"fill"]"""
TEXTS = {
    **{
        path.stem: path.read_text("utf-8")
        for path in sorted((ROOT / "designs").glob("*.toml"))
        if path.stem != "postage-stamp-king"
    },
    "tricky": TRICKY,
    "dotted": DOTTED,
    "crlf": TRICKY.replace("\n", "\r\n"),
    "marked": "\ufeff" + DOTTED,
}


def document(text: str) -> Document:
    return Document(text, "the design", ROOT / "designs")


def every_path(data, path=()):
    pairs = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in pairs:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from every_path(value, (*path, key))


def at(data, path):
    for key in path:
        data = data[key]
    return data


SCALARS = st.one_of(
    st.booleans(),
    st.integers(-5, 10**6),
    st.floats(-1e3, 1e3).map(lambda v: round(v, 4)),
    st.text("aß'\"\\#]=[.,é\n", max_size=6),
)
VALUES = st.one_of(
    SCALARS,
    st.lists(SCALARS, max_size=3),
    st.dictionaries(st.text("ab c\"'.#", min_size=1, max_size=4), SCALARS, max_size=3),
)


def plain_change(data, edit):
    """Make an edit in plain data, the obvious way."""
    data = deepcopy(data)
    *before, last = edit["path"]
    if edit["op"] == "put":
        at(data, edit["path"]).insert(edit["at"], edit["value"])
    elif edit["op"] == "drop":
        del at(data, before)[last]
    else:
        at(data, before)[last] = edit["value"]
    return data


def said(data):
    """Leave out what is empty: an empty table says nothing, and need not be written."""
    if isinstance(data, dict):
        kept = {key: said(value) for key, value in data.items()}
        return {key: value for key, value in kept.items() if value not in ({}, [])}
    return [said(value) for value in data] if isinstance(data, list) else data


@st.composite
def edits(draw, data):
    paths = list(every_path(data))
    path = list(draw(st.sampled_from(paths)))
    found = at(data, path)
    if isinstance(found, list) and draw(st.booleans()):
        place = draw(st.integers(0, len(found)))
        tables = bool(found) and isinstance(found[0], dict)
        value = {"name": draw(SCALARS)} if tables else draw(SCALARS)
        return {"op": "put", "path": path, "at": place, "value": value}
    if isinstance(found, dict) and draw(st.booleans()):
        name = draw(st.text("xyz .", min_size=1, max_size=3))
        return {"op": "set", "path": [*path, name], "value": draw(VALUES)}
    if draw(st.booleans()):
        return {"op": "drop", "path": path}
    if isinstance(found, dict) and isinstance(path[-1], int):  # a list of tables stays one
        return {"op": "set", "path": path, "value": {"name": draw(SCALARS)}}
    return {"op": "set", "path": path, "value": draw(VALUES)}


def bare(text: str) -> Document:
    """A text that need make no top, so that any edit is taken."""
    found = document(text)
    found.__dict__["problem"] = object()
    return found


@settings(max_examples=75, deadline=None)
@given(st.data())
def test_what_is_edited_is_what_the_file_then_says(data):
    found = bare(data.draw(st.sampled_from(list(TEXTS.values()))))
    for _ in range(2):
        edit = data.draw(edits(found.raw))
        wanted = plain_change(found.raw, edit)
        text = found.edited([edit]).text
        assert said(tomllib.loads(text.removeprefix("\ufeff"))) == said(wanted)
        found = bare(text)


def comments(text: str) -> list[str]:
    return [line[line.index("# ") :] for line in text.splitlines() if "# " in line]


@settings(max_examples=50, deadline=None)
@given(st.data())
def test_what_is_put_in_and_dropped_again_leaves_every_byte_as_it_was(data):
    found = bare(data.draw(st.sampled_from(list(TEXTS.values()))))
    lists = [p for p in every_path(found.raw) if isinstance(at(found.raw, p), list)]
    path = data.draw(st.sampled_from([p for p in lists if at(found.raw, p)]))
    old = at(found.raw, path)
    place = data.draw(st.integers(0, len(old)))
    put = {"op": "put", "path": path, "at": place, "value": deepcopy(old[0])}
    changed = bare(found.edited([put]).text)
    assert comments(changed.text) == comments(found.text)
    back = changed.edited([{"op": "drop", "path": [*path, place]}])
    assert back.text in (found.text, found.text + "\n")


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_a_key_set_for_the_first_time_and_dropped_leaves_every_byte_as_it_was(data):
    found = bare(data.draw(st.sampled_from(list(TEXTS.values()))))
    tables = [(), *(p for p in every_path(found.raw) if isinstance(at(found.raw, p), dict))]
    table = data.draw(st.sampled_from(tables))
    path, value = [*table, "brand_new"], {"a": 1}
    if table not in (("blocks",), ("threads",)):  # each thing in those is a table
        value = data.draw(st.one_of(SCALARS, st.just(value), st.just(["x y", "z w"])))
    changed = bare(found.edited([{"op": "set", "path": path, "value": value}]).text)
    assert comments(changed.text) == comments(found.text)
    back = changed.edited([{"op": "drop", "path": path}]).text
    assert back == found.text or back == found.text + "\n"  # a last line may want its break


@settings(max_examples=30, deadline=None)
@given(st.data())
def test_a_number_or_a_word_changed_changes_its_own_line_alone(data):
    text = data.draw(st.sampled_from(list(TEXTS.values())))
    found = bare(text)
    scalars = [p for p in every_path(found.raw) if not isinstance(at(found.raw, p), dict | list)]
    path = data.draw(st.sampled_from(scalars))
    changed = found.edited([{"op": "set", "path": path, "value": "7 3/8 in"}]).text
    old, new = text.split("\n"), changed.split("\n")
    assert len(old) == len(new)
    assert sum(a != b for a, b in zip(old, new, strict=True)) == 1
