"""Every route, as the page asks it: from nothing to a guide in her hands."""

import io
import json
import zipfile
from pathlib import Path
from urllib.parse import quote

import pytest
from quilts import DESIGNS, SQUARES, STARFISH

from stitchpath.design.read import design_from_text
from stitchpath.export.write import save_plan
from stitchpath.page import app
from stitchpath.plan import make_plan

WIDER = {"op": "set", "path": ["blocks", "squares", "size"], "value": 8}
BACK = {"op": "set", "path": ["blocks", "squares", "size"], "value": 6}


@pytest.fixture
def quilt(served, browser, request):
    """Open a design in a file of its own; give how it is."""
    name = served.put(f"{request.node.name.partition('[')[0]}.toml")
    return served.open(browser, file=name)


def events(browser, job):
    """Read all that is told of work, to its end."""
    told = []
    with browser.stream("GET", f"/api/jobs/{job}/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        for line in answer.iter_lines():
            name, _, value = line.partition(": ")
            if name == "event":
                told.append([value, None])
            elif name == "data":
                told[-1][1] = json.loads(value)
    return told


@pytest.fixture(scope="module")
def planned(served, browser):
    """Plan a small design once; give the design and its plan."""
    state = served.open(browser, file=served.put("planned.toml"))
    job = browser.post(f"/api/designs/{state['id']}/plan", json={}).json()["job"]
    told = events(browser, job)
    assert told[0][0] == "now"
    assert [name for name, _ in told if name == "done"] == ["done"]
    return state, told[-1][1]


def test_the_first_screen_has_all_there_is_to_begin_with(served, browser):
    served.put("first.toml")
    told = browser.get("/api/start").json()
    assert {"id": "harbour-runner", "title": "Harbour runner", "size": "60 × 16 in",  # noqa: RUF001
            "picture": "/api/shipped/harbour-runner.svg"} in told["shipped"]  # fmt: skip
    assert {"file": "first.toml", "title": "Squares"} in told["files"]
    assert "starfish.svg" in told["drawings"]
    assert len(told["blocks"]) == 30
    assert set(told["blocks"][0]) == {"name", "words", "fabrics", "size"}
    listed = [each["name"] for group in told["formats"] for each in group["formats"]]
    assert {"guide", "moving", "dxf"} <= set(listed)
    assert "meander" in told["styles"]
    assert "wool" in told["usual"]["battings"]
    assert told["usual"]["pace"]["domestic"]["bobbin"] == 90
    assert "centre" in told["kinds"]


def test_pictures_are_drawn_and_run_nothing(browser, quilt):
    name = quilt["id"]
    for path in (
        "/api/shipped/harbour-runner.svg",
        "/api/library/sawtooth%20star.svg",
        f"/api/designs/{name}/block/squares.svg",
    ):
        answer = browser.get(path)
        assert answer.headers["content-type"] == "image/svg+xml"
        assert answer.text.startswith("<svg")
        assert "sandbox" in answer.headers["content-security-policy"]
    for path in ("/api/library/none.svg", f"/api/designs/{name}/block/none.svg"):
        answer = browser.get(path)
        assert answer.status_code == 422
        assert "none" in answer.json()["problem"]["sentence"]


@pytest.mark.parametrize("name", ["curved-cushion", "harbour-runner", "star-lap-quilt"])
def test_a_shipped_design_opens_as_it_is(served, browser, name):
    state = served.open(browser, shipped=name)
    text = (DESIGNS / f"{name}.toml").read_text()
    assert browser.get(f"/api/designs/{state['id']}/text").text == text
    assert (state["file"], state["saved"], state["problem"]) == (None, False, None)
    assert state["top"]["patches"]


def test_an_empty_top_is_laid_out(served, browser):
    asked = {"name": "Quay", "unit": "cm", "columns": 3, "rows": 2, "size": 20}
    state = served.open(browser, empty=asked)
    assert (state["title"], state["top"]["box"]) == ("Quay", [0, 0, 600, 400])
    answer = browser.post("/api/designs", json={"empty": asked | {"columns": "many"}})
    assert answer.status_code == 422
    assert answer.json()["problem"]["sentence"]


def test_a_drawing_becomes_a_design(served, browser):
    (served.folder / "wall.svg").write_bytes((DESIGNS / "harbour-wall.svg").read_bytes())
    state = served.open(browser, drawing="wall.svg", size="90 cm")
    assert state["top"]["drawn"]
    assert state["top"]["box"][2] == pytest.approx(900)
    answer = browser.post("/api/designs", json={"drawing": "wall.svg", "size": "wide"})
    assert answer.status_code == 422
    assert "'wide'" in answer.json()["problem"]["sentence"]


@pytest.mark.parametrize(
    "asked",
    [{}, {"file": "a.toml", "shipped": "x"}, {"file": 3}, {"shipped": "../x"}, {"draft": "x"},
     {"file": "gone.toml"}, {"empty": 3}, {"drawing": "gone.svg"}],
)  # fmt: skip
def test_what_cannot_be_opened_is_told_in_one_sentence(browser, asked):
    answer = browser.post("/api/designs", json=asked)
    assert answer.status_code == 422
    assert answer.json()["problem"]["sentence"].count("\n") == 0


def test_a_change_is_answered_with_the_design_as_it_is_then(browser, quilt):
    way = f"/api/designs/{quilt['id']}"
    asked = {"rev": 1, "edits": [WIDER], "words": "wider blocks"}
    state = browser.post(f"{way}/edits", json=asked).json()
    assert (state["rev"], state["undo"], state["data"]["blocks"]["squares"]["size"]) == (
        2, "wider blocks", 8,
    )  # fmt: skip
    assert state["top"]["box"] != quilt["top"]["box"]
    assert browser.get(way).json() == state
    state = browser.post(f"{way}/undo", json={"rev": 2}).json()
    assert (state["redo"], state["top"], state["saved"]) == ("wider blocks", quilt["top"], True)
    state = browser.post(f"{way}/redo", json={"rev": 3}).json()
    assert state["undo"] == "wider blocks"


def test_the_older_window_is_told_and_handed_the_newest(served, browser, quilt):
    way = f"/api/designs/{quilt['id']}"
    again = served.open(browser, file=quilt["file"])
    assert again["id"] == quilt["id"]
    newest = browser.post(f"{way}/edits", json={"rev": 1, "edits": [WIDER]}).json()
    for path, asked in (
        ("edits", {"rev": 1, "edits": [BACK]}), ("undo", {"rev": 1}), ("redo", {"rev": 1}),
        ("edits", {"edits": [BACK]}),
    ):  # fmt: skip
        answer = browser.post(f"{way}/{path}", json=asked)
        assert (answer.status_code, answer.json()["state"]) == (409, newest)
    answer = browser.get(f"{way}/lines?rev=1")
    assert (answer.status_code, answer.json()["state"]) == (409, newest)


def test_a_refused_change_names_its_field_and_changes_nothing(browser, quilt):
    way = f"/api/designs/{quilt['id']}"
    bad = {"op": "set", "path": ["blocks", "squares", "size"], "value": "wide"}
    answer = browser.post(f"{way}/edits", json={"rev": 1, "edits": [bad]})
    assert answer.status_code == 422
    problem = answer.json()["problem"]
    assert problem["path"] == ["blocks", "squares", "size"]
    assert "'wide'" in problem["sentence"]
    for edits in (None, [], "x", [3], [{"op": "rm"}], [{"op": "set", "path": ["__class__"]}]):
        answer = browser.post(f"{way}/edits", json={"rev": 1, "edits": edits})
        assert answer.status_code in (200, 422)
    assert browser.get(way).json() == quilt


def test_names_with_markup_are_data_and_nothing_else(served, browser):
    evil = "<script>alert(1)</script>"
    served.put("evil.toml", SQUARES.replace('name = "Squares"', f"name = '{evil}'"))
    answer = browser.post("/api/designs", json={"file": "evil.toml"})
    assert answer.headers["content-type"] == "application/json"
    assert answer.json()["title"] == evil
    assert evil in [each["title"] for each in browser.get("/api/start").json()["files"]]
    assert browser.get("/api/start").headers["content-type"] == "application/json"


def test_lines_come_with_metres_and_what_would_hold_the_batting(browser, quilt):
    way = f"/api/designs/{quilt['id']}/lines"
    told = browser.get(way, params={"rev": 1}).json()
    assert {line["kind"] for line in told["lines"]} == {"ditch"}
    whole = sum(line["metres"] for line in told["lines"])
    assert told["metres"]["ditch"] == pytest.approx(whole, abs=0.01)
    assert {"threads", "loose", "cures", "checks"} <= told.keys()
    quick = browser.get(way, params={"rev": 1, "cures": "false"}).json()
    assert quick["lines"] == told["lines"]
    assert quick["cures"] == []


def test_saving_tells_a_file_that_was_changed_by_another_program(served, browser, quilt):
    way, place = f"/api/designs/{quilt['id']}", served.folder / quilt["file"]
    browser.post(f"{way}/edits", json={"rev": 1, "edits": [WIDER]})
    state = browser.post(f"{way}/save", json={}).json()
    assert (state["saved"], state["file"]) == (True, quilt["file"])
    assert place.read_text() == browser.get(f"{way}/text").text
    place.write_text("# mine\n")
    answer = browser.post(f"{way}/save", json={})
    assert (answer.status_code, answer.json()["changed"]) == (409, True)
    assert place.read_text() == "# mine\n"
    assert browser.post(f"{way}/save", json={"overwrite": True}).json()["saved"]
    for name in ("../x.toml", "a/b", "x\0.toml"):
        assert browser.post(f"{way}/save", json={"file": name}).status_code == 422


def test_a_copy_at_another_size_is_a_design_of_its_own(browser, quilt):
    way = f"/api/designs/{quilt['id']}"
    copy = browser.post(f"{way}/duplicate", json={"name": "Larger", "size": "24 in"}).json()
    assert copy["id"] != quilt["id"]
    assert (copy["title"], copy["file"], copy["top"]["box"][2]) == ("Larger", None, 609.6)
    same = browser.post(f"{way}/duplicate", json={"name": "Again"}).json()
    assert same["top"]["box"] == quilt["top"]["box"]
    assert browser.post(f"{way}/duplicate", json={"name": ""}).status_code == 422


def test_a_draft_is_offered_and_can_be_dropped(served, browser, quilt):
    browser.post(f"/api/designs/{quilt['id']}/edits", json={"rev": 1, "edits": [WIDER]})
    drafts = browser.get("/api/start").json()["drafts"]
    mine = next(draft for draft in drafts if draft["file"] == quilt["file"])
    assert served.open(browser, draft=mine["id"])["id"] == quilt["id"]
    browser.post("/api/drafts/drop", json={"draft": mine["id"]})
    browser.post("/api/drafts/drop", json={"draft": quilt["file"]})
    drafts = browser.get("/api/start").json()["drafts"]
    assert mine["id"] not in [draft["id"] for draft in drafts]
    assert (served.folder / quilt["file"]).exists()


def test_a_design_draws_on_no_file_outside_her_folder(served, browser, tmp_path):
    star = DESIGNS / "starfish.svg"
    (tmp_path / "star.svg").write_bytes(star.read_bytes())
    (served.folder / "linked.svg").symlink_to(tmp_path / "star.svg")
    state = served.open(browser, file=served.put("outside.toml"))
    way = f"/api/designs/{state['id']}/edits"
    for name, status in (
        ("linked.svg", 422),
        (str(star), 422),
        (f"../{tmp_path.name}/star.svg", 422),
        ("starfish.svg", 200),
    ):
        piece = {"name": "star", "file": name, "on": "A1", "size": 2, "fused": "after",
                 "fabric": "coral"}  # fmt: skip
        edit = {"op": "put", "path": ["applique"], "at": None, "value": piece}
        answer = browser.post(way, json={"rev": 1, "edits": [edit]})
        assert answer.status_code == status, answer.text
        if status != 200:
            assert "outside" in answer.text or "out of the design's folder" in answer.text


UPLOADS = {
    "star.svg": (DESIGNS / "starfish.svg").read_bytes(),
    "up.toml": SQUARES.encode(),
}


@pytest.mark.parametrize("name", UPLOADS)
def test_an_upload_lies_in_her_folder_and_takes_no_other_files_place(served, browser, name):
    way = f"/api/uploads?name={name}"
    assert browser.post(way, content=UPLOADS[name]).json() == {"file": name}
    assert (served.folder / name).read_bytes() == UPLOADS[name]
    other = UPLOADS[name] + b"\n"
    answer = browser.post(way, content=other)
    assert (answer.status_code, answer.json()["changed"]) == (409, True)
    assert (served.folder / name).read_bytes() == UPLOADS[name]
    assert browser.post(f"{way}&overwrite=true", content=other).status_code == 200
    assert (served.folder / name).read_bytes() == other


BAD_UPLOADS = {
    "no svg": ("bad.svg", b"<svg"),
    "a bomb of entities": (
        "bomb.svg",
        b'<!DOCTYPE s [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><svg>&b;</svg>',
    ),
    "a picture": ("photo.svg", b"\x89PNG\r\n\x1a\n"),
    "no design": ("bad.toml", b"name = "),
    "no text": ("latin.toml", b"name = '\xff'"),
    "another kind": ("run.html", b"<script>"),
    "out of the folder": ("../up.svg", UPLOADS["star.svg"]),
    "a null byte": ("up\0.svg", UPLOADS["star.svg"]),
    "a hidden file": (".up.svg", UPLOADS["star.svg"]),
    "no name": ("", UPLOADS["star.svg"]),
}


@pytest.mark.parametrize("name", BAD_UPLOADS)
def test_a_bad_upload_is_one_sentence_and_leaves_nothing(served, browser, name):
    file, data = BAD_UPLOADS[name]
    before = sorted(served.folder.parent.rglob("*"))
    answer = browser.post(f"/api/uploads?name={quote(file)}", content=data)
    assert answer.status_code == 422
    sentence = answer.json()["problem"]["sentence"]
    assert "\n" not in sentence
    assert str(served.folder.parent) not in sentence
    assert sorted(served.folder.parent.rglob("*")) == before


def test_a_plan_is_told_in_the_words_of_its_table(planned, browser):
    state, plan = planned
    made = make_plan(design_from_text(SQUARES, "planned.toml"))
    assert dict(plan["summary"])["stitched"]
    assert (plan["runs"], plan["breaks"], plan["proven"]) == (
        made.totals.runs, made.totals.breaks, made.proof.optimal,
    )  # fmt: skip
    assert plan["minutes"] == pytest.approx(sum(t.total for t in made.times) / 60, abs=0.06)
    assert [check["words"] for check in plan["checks"]] == [c.message for c in made.checks]
    kept = browser.get(f"/api/designs/{state['id']}/plans").json()["plans"]
    assert [(each["plan"], each["current"]) for each in kept] == [(plan["plan"], True)]


def test_all_files_in_one_are_those_that_the_command_writes(planned, browser, tmp_path):
    _, plan = planned
    made = make_plan(design_from_text(SQUARES, "planned.toml"))
    written = {path.name: path.read_bytes() for path in save_plan(made, tmp_path, "all")}
    way = f"/api/plans/{plan['plan']}"
    answer = browser.get(f"{way}/all.zip")
    assert answer.headers["content-type"] == "application/zip"
    assert "attachment" in answer.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as found:
        assert {name: found.read(name) for name in found.namelist()} == written
    groups = browser.get(f"{way}/files").json()["files"]
    names = [each["name"] for group in groups for each in group["formats"]]
    for name in ("plan", "dxf", "directions"):
        assert name in names
        answer = browser.get(f"{way}/files/{name}")
        file = answer.headers["content-disposition"].partition('filename="')[2].strip('"')
        assert answer.content == written[file]
    assert browser.get(f"{way}/files/nonsense").status_code == 422
    assert browser.get(f"{way}/files/..%2f..%2fx").status_code in (400, 404, 422)
    assert browser.get("/api/plans/x/all.zip").status_code == 404


def test_the_moving_guide_runs_its_own_script_alone_and_in_this_page_only(planned, browser):
    answer = browser.get(f"/api/plans/{planned[1]['plan']}/moving")
    policy = answer.headers["content-security-policy"]
    assert "frame-ancestors 'self'" in policy
    assert "script-src 'sha256-" in policy
    assert "'unsafe-inline'" not in policy.partition("script-src")[2].partition(";")[0]
    assert "x-frame-options" not in answer.headers
    assert "content-disposition" not in answer.headers


def test_a_change_makes_a_plan_one_of_an_older_state(served, browser):
    state = served.open(browser, file=served.put("older.toml"))
    way = f"/api/designs/{state['id']}"
    job = browser.post(f"{way}/plan", json={"limit": 1}).json()["job"]
    assert events(browser, job)[-1][0] == "done"
    browser.post(f"{way}/edits", json={"rev": 1, "edits": [WIDER]})
    assert [each["current"] for each in browser.get(f"{way}/plans").json()["plans"]] == [False]
    for limit in (0, -1, "ten", 1e9, True):
        assert browser.post(f"{way}/plan", json={"limit": limit}).status_code == 422


def test_work_is_cancelled_and_the_page_is_told(served, browser):
    state = served.open(browser, shipped="star-lap-quilt")
    job = browser.post(f"/api/designs/{state['id']}/plan", json={"limit": 600}).json()["job"]
    assert browser.post(f"/api/jobs/{job}/cancel", json={}).json() == {"state": "cancelled"}
    assert events(browser, job)[-1] == ["cancelled", {}]
    assert browser.post("/api/jobs/x/cancel", json={}).status_code == 404
    assert browser.get("/api/jobs/x/events").status_code == 404


def test_proposals_are_told_with_what_they_take(served, browser):
    state = served.open(browser, file=served.put("star.toml", STARFISH))
    job = browser.post(f"/api/designs/{state['id']}/proposals", json={}).json()["job"]
    last, told = events(browser, job)[-1]
    assert last == "done"
    assert len(told["proposals"]) == 3
    sound = [each for each in told["proposals"] if each["problem"] is None]
    assert all(each["picture"].startswith("<svg") for each in sound)
    answer = browser.post(
        f"/api/designs/{state['id']}/edits", json={"rev": 1, "edits": sound[0]["edits"]}
    )
    assert answer.status_code == 200, answer.text


def test_a_plan_that_cannot_be_made_is_one_sentence(served, browser):
    text = SQUARES + '[route]\nstart = "Z9 top left"\n'
    state = served.open(browser, file=served.put("bad-start.toml", text))
    job = browser.post(f"/api/designs/{state['id']}/plan", json={}).json()["job"]
    last, told = events(browser, job)[-1]
    assert last == "failed"
    assert "Z9" in told["sentence"]


def test_no_route_is_without_a_test():
    files = (Path(__file__).with_name(f"test_{name}.py") for name in ("guard", "routes"))
    here = "".join(file.read_text("utf-8") for file in files)
    for _, path, _ in app._ROUTES:  # noqa: SLF001
        last = path.rstrip("/").rpartition("/")[2].partition("{")[0]
        assert last in here


def test_what_is_no_json_is_told(browser, quilt):
    for data in (b"", b"[]", b"{", b"\xff", b"[" * 100_000):
        answer = browser.post(
            f"/api/designs/{quilt['id']}/undo",
            content=data,
            headers={"Content-Type": "application/json"},
        )
        assert answer.status_code == 422
        assert "JSON" in answer.json()["problem"]["sentence"]
