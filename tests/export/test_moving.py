"""The moving guide: what its file holds, and what it does in a real browser.

Sums are held against plan.json; accessibility against axe-core, Deque's open engine for the Web
Content Accessibility Guidelines (W3C), and sizes of targets against WCAG 2.2, 2.5.5 (44 CSS px).
"""

import base64
import io
import json
import re

import numpy as np
import pytest
from chromium import BINARY, open_browser
from PIL import Image
from quilts import SQUARES, design

from stitchpath.export.moving import plan_moving
from stitchpath.plan import make_plan, plan_json
from stitchpath.told.directions import directions

# Edges are dear, so that the route goes over lines again, and bobbins are nearly empty.
SAIL = (
    SQUARES.replace(
        "'sand sea', 'sea sand'", "'sand sea coral', 'sea sand/sea sand', 'coral sea sand'"
    )
    + """
[[applique]]
name = "sail"
outline = "M 0 0 L 4 0 L 4 1 L 0 1 Z"
size = 3
fabric = "coral"
thread = "dark red"
[threads.grey]
per_bobbin = "1 m"
[threads."dark red"]
colour = "#801010"
[prices]
end_margin = 400
travel_margin = 3
retrace_ditch = 0.5
"""
)
EVIL = "</script><script>window.hacked = 1</script><img src=x onerror=hacked=1>"
SIZES = {"phone": (360, 740), "desk": (1440, 900)}


@pytest.fixture(scope="module")
def plan():
    return make_plan(design(SAIL))


@pytest.fixture(scope="module")
def told(plan):
    return json.loads(plan_json(plan))


@pytest.fixture(scope="module")
def guide(plan, tmp_path_factory):
    file = tmp_path_factory.mktemp("guide") / "guide.html"
    file.write_text(plan_moving(plan), "utf-8")
    return file


def data_of(text):
    return json.loads(
        re.search(r'<script type="application/json" id="plan">(.*?)</script>', text)[1]
    )


def paths_of(data):
    """Legs as the page rebuilds them: from steps in hundredths of a millimetre."""
    points = np.cumsum(np.reshape(data["path"], (-1, 2)), axis=0) / 100
    at, legs = 0, iter(data["legs"]["steps"])
    for run in data["runs"]:
        for _ in range(run["legs"]):
            count = next(legs)
            yield points[at : at + count + 1]
            at += count
        at += 1


# ---- the file ----


def test_the_guide_draws_the_very_legs_of_the_plan(plan):
    legs = [leg for run in plan.runs for leg in run.legs]
    data = data_of(plan_moving(plan))
    drawn = list(paths_of(data))
    assert len(drawn) == len(legs)
    assert data["legs"]["do"] == "".join(leg.do[0] for leg in legs)
    for points, leg in zip(drawn, legs, strict=True):
        assert points == pytest.approx(leg.points, abs=0.0051)


def test_each_second_of_the_estimate_is_somewhere_in_the_film(plan):
    data = data_of(plan_moving(plan))
    seconds = iter(data["legs"]["seconds"])
    for run, time in zip(data["runs"], plan.times, strict=True):
        sewing = sum(next(seconds) for _ in range(run["legs"])) / 100
        assert sewing == pytest.approx(time.stitching + time.pivots, abs=0.02)
        handling = run["before"] + run["after"] + run["changing"]
        assert sewing + handling == pytest.approx(time.total, abs=0.02)
        assert min(run["before"], run["after"], run["changing"]) >= 0


def test_a_bobbin_change_is_told_by_the_step_it_falls_in(plan):
    data = data_of(plan_moving(plan))
    within = [c for c in data["changes"] if "step" in c["where"]]
    assert within
    for change in within:
        number, run = map(int, re.search(r"step (\d+) of run (\d+)\b", change["where"]).groups())
        text, *_ = data["runs"][run - 1]["steps"][number - 1]
        assert "put in bobbin" in text


def test_second_passes_are_told_apart_from_first_ones(plan):
    data = data_of(plan_moving(plan))
    again = dict(data["legs"]["again"])
    assert "r" in data["legs"]["do"]
    for k, do in enumerate(data["legs"]["do"]):
        assert (k in again) == (do == "r")


def test_the_same_plan_makes_the_same_file(plan):
    assert plan_moving(plan) == plan_moving(make_plan(design(SAIL)))


def test_the_guide_asks_for_nothing_beside_itself(plan):
    text = plan_moving(plan)
    assert "default-src 'none'" in text
    assert not re.search(r"""(https?:)?//[a-z]|\bsrc=|url\(|@import|\bfetch\(""", text)


@pytest.mark.parametrize("name", [EVIL, "@@plan@@", "'quoted\\", "-->", "<!--<script>"])
def test_a_name_stays_a_name(name):
    text = plan_moving(make_plan(design(evil(name))))
    assert text.count("<script") == 2
    assert text.count("</script>") == 2
    assert "<img" not in text
    assert data_of(text)["name"] == name


def evil(name):
    quoted = json.dumps(name)
    text = SAIL.replace('"Squares"', quoted).replace("grey", quoted).replace('"sail"', quoted)
    return text.replace('"sand"', quoted)


# ---- the page ----


@pytest.fixture(scope="module")
def browser():
    if BINARY is None:
        pytest.skip("no Chromium: apt-get install chromium")
    sync_api = pytest.importorskip("playwright.sync_api", reason="pip install playwright")
    with sync_api.sync_playwright() as play:
        browser = open_browser(play)
        yield browser
        browser.close()


@pytest.fixture
def visit(browser):
    """Open a guide in a fresh profile; what it complains of or asks for fails the test."""
    contexts, wrong = [], []

    def open_page(file, size="desk", script=None, **options):
        width, height = SIZES[size]
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        if script:
            context.add_init_script(script)
        page = context.new_page()
        page.set_default_timeout(8000)
        page.on("console", lambda message: wrong.append(message.text))
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("request", lambda asked: asked.url.startswith("file:") or wrong.append(asked.url))
        page.goto(file.as_uri())
        page.locator("#sentence:not(:empty)").wait_for()
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert wrong == []


def metres(page):
    return float(page.inner_text("#metres").split()[0])


def sums(page, column):
    rows = ("lines", "runs", "stitched", "retraced", "travelled", "bobbins")
    return {row: page.locator(f"[id='{row} {column}']").text_content() for row in rows}


def sentence(page):
    return page.inner_text("#sentence").replace("\N{NO-BREAK SPACE}", " ")


def settled(page):
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")


@pytest.mark.parametrize("size", SIZES)
def test_it_plays_to_the_end_and_then_all_of_the_plan_is_sewn(visit, guide, told, size):
    page = visit(guide, size)
    page.click("text=Sums")
    assert metres(page) == 0
    page.select_option("#speed", "60")
    page.click("#play")
    assert page.inner_text("#play") == "Pause"
    page.locator("#play", has_text="Play").wait_for()
    settled(page)
    totals = told["totals"]
    expected = {
        "lines": str(len(told["lines"])),
        "runs": str(totals["runs"]),
        "bobbins": str(sum(t["bobbins"] for t in told["thread"]) - len(told["thread"])),
    } | {what: f"{totals[what] / 1000:.2f}" for what in ("stitched", "retraced", "travelled")}
    assert sums(page, 0) == sums(page, 1) == expected
    assert f"all {len(told['lines'])} lines" in page.inner_text("#sentence")


@pytest.mark.parametrize("size", SIZES)
def test_nobody_is_shut_out(visit, guide, size):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="pip install axe-…")
    page = visit(guide, size)
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    settled(page)
    results = axe.Axe().run(page)
    assert results.violations_count == 0, results.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
    small = page.evaluate(
        """[...document.querySelectorAll("button, select, summary, label, #slide")]
        .map((e) => [e.outerHTML.slice(0, 60), e.getBoundingClientRect()])
        .filter(([, box]) => box.width && (box.width < 44 || box.height < 44))"""
    )
    assert small == []


def test_she_can_do_without_a_mouse(visit, guide, plan):
    page = visit(guide)
    run = directions(plan)[0]
    assert sentence(page) == run.steps[0].text
    page.keyboard.press("ArrowRight")
    settled(page)
    assert sentence(page) == run.steps[1].text
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Shift+ArrowRight")
    settled(page)
    assert page.inner_text("#heading").startswith("Run 2 of")
    page.keyboard.press("End")
    settled(page)
    assert page.inner_text("#sentence").startswith("Sewn to the end")
    page.keyboard.press("Home")
    reached = []
    for _ in range(9):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id"))
    assert {"closer", "slide", "back", "play", "on", "by", "speed"} <= set(reached)
    page.focus("#play")
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Pause"
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Play"


def test_she_steps_leg_by_leg_and_back_again(visit, guide, plan):
    page = visit(guide, "phone")
    page.select_option("#by", "legs")
    legs = sum(len(run.legs) for run in plan.runs)
    seen = page.evaluate(
        """async (legs) => {
          const seen = [];
          const frame = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
          const sewn = document.getElementById("sewn");
          for (let i = 0; i <= 2 * legs; i++) {
            if (i) document.getElementById(i <= legs ? "on" : "back").click();
            await frame();
            seen.push([document.getElementById("needle").style.transform, sewn.toDataURL()]);
          }
          return seen;
        }""",
        legs,
    )
    places, pictures = zip(*seen, strict=True)
    inks = [ink_of(picture) for picture in pictures]
    assert places == places[::-1]
    assert len(set(places)) > legs / 2
    there, back = np.array(inks[: legs + 1]), np.array(inks[: legs - 1 : -1])
    assert np.all(np.diff(there) > 0)
    assert back == pytest.approx(there, rel=0.01, abs=1)
    assert back[0] == 0


def ink_of(picture):
    """How much of a layer is painted, in pixels."""
    image = Image.open(io.BytesIO(base64.b64decode(picture.partition(",")[2])))
    return np.asarray(image)[:, :, 3].sum() / 255


def test_touching_a_line_goes_there_and_again_to_its_next_pass(visit, guide):
    page = visit(guide)
    page.click("text=Sums")
    box = page.locator("#picture").bounding_box()
    data = data_of(guide.read_text("utf-8"))
    # The middle of a line sewn twice, as the picture places it.
    k = data["legs"]["again"][0][0]
    points = list(paths_of(data))[k]
    x, y = points[:2].mean(axis=0)
    left, top, right, bottom = (v / 100 for v in data["box"])
    scale = min((box["width"] - 36) / (right - left), (box["height"] - 36) / (bottom - top))
    at = (
        box["x"] + box["width"] / 2 + (x - (left + right) / 2) * scale,
        box["y"] + box["height"] / 2 + (y - (top + bottom) / 2) * scale,
    )
    found = []
    for _ in range(2):
        page.mouse.click(*at)
        settled(page)
        found.append(metres(page))
    lengths = [np.hypot(*np.diff(p, axis=0).T).sum() for p in paths_of(data)]
    again = sum(lengths[:k]) + np.hypot(*(points[1] - points[0])) / 2
    assert found[0] < found[1] == pytest.approx(again / 1000, abs=0.06)


def test_she_finds_the_guide_where_she_left_it(visit, guide, tmp_path):
    page = visit(guide)
    page.locator("#slide").fill("400")
    page.click("#closer")
    settled(page)
    left = metres(page)
    page.reload()
    page.locator("#metres:not(:empty)").wait_for()
    assert metres(page) == left > 0
    assert page.inner_text("#times") == "2\N{MULTIPLICATION SIGN}"
    assert page.locator("#told").text_content() == "Taken up where you stopped."
    other = tmp_path / "other.html"
    other.write_text(plan_moving(make_plan(design(SAIL.replace("size = 6", "size = 7")))), "utf-8")
    page.goto(other.as_uri())
    page.locator("#metres:not(:empty)").wait_for()
    assert metres(page) == 0


def test_it_works_where_nothing_may_be_kept(visit, guide):
    blocked = (
        "Object.defineProperty(window, 'localStorage',"
        " { get() { throw new DOMException('denied', 'SecurityError'); } });"
    )
    page = visit(guide, script=blocked)
    page.click("#on")
    settled(page)
    assert metres(page) > 0


def test_names_from_a_design_run_no_script(visit, tmp_path):
    file = tmp_path / "evil.html"
    file.write_text(plan_moving(make_plan(design(evil(EVIL)))), "utf-8")
    page = visit(file)
    page.keyboard.press("End")
    settled(page)
    assert page.evaluate("window.hacked") is None
    assert page.inner_text("h1") == EVIL
    assert page.title().startswith(EVIL)


def test_layers_come_and_go(visit, guide, plan):
    page = visit(guide, "phone")
    page.locator("#slide").fill("950")
    page.click("text=Layers and stops")
    whole = picture_of(page)
    unchanged = []
    for layer in page.locator("#checks label").all():
        box = layer.locator("input")
        box.click()
        settled(page)
        if picture_of(page) == whole:
            unchanged.append(layer.inner_text())
        box.click()
        settled(page)
        assert picture_of(page) == whole
    assert plan.totals.travelled == 0
    awake = "Keep the screen awake"
    assert set(unchanged) - {awake} == {"Stop at run ends and bobbin changes", "Travel, dotted"}


def picture_of(page):
    return page.evaluate(
        "['ground', 'sewn', 'marks'].map((id) => document.getElementById(id).toDataURL()).join()"
    )


def test_bobbin_changes_are_announced_and_stopped_at(visit, guide, plan):
    page = visit(guide)
    change = min(plan.thread.changes, key=lambda c: (c.stop.run, c.stop.along))
    assert page.inner_text("#bobbin span") == f"in {change.stop.along / 1000:.2f} m"
    page.click("text=Layers and stops")
    page.check("text=Stop at run ends and bobbin changes")
    page.select_option("#speed", "400")
    page.click("#play")
    page.locator("#play", has_text="Play").wait_for()
    settled(page)
    assert metres(page) == pytest.approx(change.stop.along / 1000, abs=0.06)
    assert page.inner_text("#bobbin span") == "now"
    assert page.inner_text("#soon").startswith("Now: change the bobbin")


def test_whoever_asked_for_less_motion_sees_two_still_pictures_a_second(visit, guide):
    page = visit(guide, reduced_motion="reduce")
    page.select_option("#speed", "25")
    moved = page.evaluate(
        """() => new Promise((done) => {
          const seen = new Set();
          document.getElementById("play").click();
          const look = () => seen.add(document.getElementById("needle").style.transform);
          const timer = setInterval(look, 20);
          setTimeout(() => { clearInterval(timer); done(seen.size); }, 1200);
        })"""
    )
    assert 2 <= moved <= 4
