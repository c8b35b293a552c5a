"""The moving guide: what its file holds, and what it does in a real browser.

Sums are held against plan.json; accessibility against axe-core, Deque's open engine for the Web
Content Accessibility Guidelines (W3C), and sizes of targets against WCAG 2.2, 2.5.5 (44 CSS px).
"""

import base64
import io
import json
import re
from fractions import Fraction

import numpy as np
import pytest
from chromium import Windows
from PIL import Image
from quilts import SQUARES, design

from stitchpath.design.read import design_of_drawing
from stitchpath.export.mark import digest_of, stamp
from stitchpath.export.moving import plan_moving
from stitchpath.plan import make_plan, plan_json
from stitchpath.told.chapters import chapters
from stitchpath.told.directions import directions
from stitchpath.told.stops import stops

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
SCREENS = [(390, 844), (844, 390), (1024, 768), (1440, 900), (360, 740)]
YARD = 914.4  # mm, by the international yard and pound agreement of 1959


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


def test_stops_and_chapters_are_those_that_the_written_directions_tell(plan):
    data = data_of(plan_moving(plan))
    told = [(s["run"], s["along"], s["heading"], s["tasks"]) for s in data["stops"]]
    assert told == [
        (s.run, s.along, s.heading, [task.text for task in s.tasks]) for s in stops(plan)
    ]
    assert data["chapters"] == [[c.run, c.first_step, c.name] for c in chapters(plan)]


# ---- the page ----


@pytest.fixture
def visit(real_browser):
    """Open a guide in a fresh profile; what it complains of or asks for fails the test."""
    windows = Windows(real_browser, near=lambda url: url.startswith("file:"))

    def open_page(file, size="desk", script=None, **options):
        size = SIZES.get(size, size)
        page = windows.fresh(file.as_uri(), size, script, patience=8000, **options)
        page.locator("#sentence:not(:empty)").wait_for()
        return page

    yield open_page
    windows.close()


def undisturbed(page):
    """Without stops, as she sets it under "Layers and stops"."""
    for name in ("Stop at run ends and bobbin changes", "Stop where a chapter ends"):
        page.evaluate(
            """(name) => [...document.querySelectorAll("#checks label")]
            .find((label) => label.textContent === name).click()""",
            name,
        )


def whole_view(page):
    while page.inner_text("#times") != "whole":
        page.click("#farther")
        settled(page)


def sewn(page):
    """Yards, as the page counts them."""
    return float(page.locator("#sofar").text_content().split()[0])


def sums(page, column):
    rows = ("lines", "runs", "stitched", "retraced", "travelled", "bobbins")
    return {row: page.locator(f"[id='{row} {column}']").text_content() for row in rows}


def sentence(page):
    return page.inner_text("#sentence").replace("\N{NO-BREAK SPACE}", " ")


def settled(page):
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")


def colours_of(page, canvas):
    """How many pixels of each colour a canvas shows, those that shine through left out."""
    return page.evaluate(
        """(id) => {
          const canvas = document.getElementById(id);
          const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
          const seen = {};
          for (let i = 0; i < data.length; i += 4) {
            if (data[i + 3] < 255) continue;
            const colour = `${data[i]} ${data[i + 1]} ${data[i + 2]}`;
            seen[colour] = (seen[colour] || 0) + 1;
          }
          return seen;
        }""",
        canvas,
    )


@pytest.mark.parametrize("size", SIZES)
def test_it_plays_to_the_end_and_then_all_of_the_plan_is_sewn(visit, guide, told, size):
    page = visit(guide, size)
    undisturbed(page)
    page.click("text=Sums")
    assert sewn(page) == 0
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
    } | {what: f"{totals[what] / YARD:.2f}" for what in ("stitched", "retraced", "travelled")}
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
    undisturbed(page)
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
    page.evaluate("document.activeElement.blur()")
    reached = []
    for _ in range(18):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id"))
    assert {"machine", "closer", "slide", "back", "play", "on", "by", "speed", "look"} <= set(
        reached
    )
    page.focus("#play")
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Pause"
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Play"


def test_she_steps_leg_by_leg_and_back_again(visit, guide, plan):
    page = visit(guide, "phone")
    undisturbed(page)
    whole_view(page)
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
    whole_view(page)
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
        found.append(sewn(page))
    lengths = [np.hypot(*np.diff(p, axis=0).T).sum() for p in paths_of(data)]
    again = sum(lengths[:k]) + np.hypot(*(points[1] - points[0])) / 2
    assert found[0] < found[1] == pytest.approx(again / YARD, abs=0.06)


def test_she_finds_the_guide_where_she_left_it(visit, guide, tmp_path):
    page = visit(guide)
    page.locator("#slide").fill("400")
    whole_view(page)
    page.click("#closer")
    page.select_option("#look", "dark")
    settled(page)
    left = sewn(page)
    page.reload()
    page.locator("#sofar:not(:empty)").wait_for()
    assert sewn(page) == left > 0
    assert page.inner_text("#times") == "2\N{MULTIPLICATION SIGN}"
    assert page.evaluate("document.documentElement.dataset.look") == "dark"
    assert page.locator("#told").text_content() == "Taken up where you stopped."
    other = tmp_path / "other.html"
    other.write_text(plan_moving(make_plan(design(SAIL.replace("size = 6", "size = 7")))), "utf-8")
    page.goto(other.as_uri())
    page.locator("#sofar:not(:empty)").wait_for()
    assert sewn(page) == 0


def test_what_she_set_is_kept_by_the_digest_of_the_plan(visit, plan, tmp_path):
    file, digest = tmp_path / "guide.html", digest_of(plan_json(plan))
    file.write_bytes(stamp("guide.html", plan_moving(plan), digest))
    page = visit(file)
    page.click("#closer")
    assert page.evaluate("Object.keys(localStorage)") == [f"stitchpath moving {digest}"]


@pytest.mark.parametrize(("unit", "long", "short"), [("in", "yd", "in"), ("cm", "m", "cm")])
def test_lengths_are_in_her_unit(visit, tmp_path, unit, long, short):
    file = tmp_path / "guide.html"
    size = {"in": "size = 6", "cm": "size = 15"}[unit]
    text = SQUARES.replace("[fabrics]", f'unit = "{unit}"\n[fabrics]', 1).replace("size = 6", size)
    file.write_text(plan_moving(make_plan(design(text))), "utf-8")
    page = visit(file, "phone")
    undisturbed(page)
    page.click("#machine")
    settled(page)
    assert page.locator("#sofar").text_content().endswith(f" {long}")
    assert page.inner_text("#far").endswith(short)
    assert page.inner_text("#line").endswith(short)


def test_it_works_where_nothing_may_be_kept(visit, guide):
    blocked = (
        "Object.defineProperty(window, 'localStorage',"
        " { get() { throw new DOMException('denied', 'SecurityError'); } });"
    )
    page = visit(guide, script=blocked)
    page.click("#on")
    settled(page)
    assert sewn(page) > 0


def test_names_from_a_design_run_no_script(visit, tmp_path):
    file = tmp_path / "evil.html"
    file.write_text(plan_moving(make_plan(design(evil(EVIL)))), "utf-8")
    page = visit(file)
    page.keyboard.press("End")
    settled(page)
    assert page.evaluate("window.hacked") is None
    assert page.inner_text("h1") == EVIL
    assert page.title().startswith(EVIL)


@pytest.mark.parametrize("look", ["light", "dark"])
@pytest.mark.parametrize(
    ("thread", "casing"), [("white", "107 113 120"), ("dark blue", "255 255 255")]
)
def test_a_thread_is_seen_in_its_own_colour_by_day_and_by_night(
    visit, tmp_path, thread, casing, look
):
    own = {"white": "255 255 255", "dark blue": "0 0 139"}[thread]
    file = tmp_path / "guide.html"
    file.write_text(plan_moving(make_plan(design(f'{SQUARES}[threads."{thread}"]\n'))), "utf-8")
    page = visit(file)
    undisturbed(page)
    page.locator("#look").select_option(look)
    settled(page)
    colours = colours_of(page, "marks")
    assert colours[own] > 500
    assert colours[casing] > 500


def test_the_legend_tells_what_the_page_draws_and_no_more(plan):
    plain = make_plan(design(f"{SQUARES}[prices]\n"))
    assert len(plain.runs) == 1
    said = {name for name, _, _ in data_of(plan_moving(plain))["legend"]}
    always = {"stitch", "next", "coming", "done", "seam", "edge", "needle", "step end"}
    assert said - always <= {"again", "travel", "both", "start", "end", "stop"}
    more = {name for name, _, _ in data_of(plan_moving(plan))["legend"]}
    assert more > always | {"jump", "bobbin", "fused later", "start inside", "end inside"}
    for each, entries in ((plain, said), (plan, more)):
        does = {leg.do for run in each.runs for leg in run.legs}
        assert ("again" in entries) == ("retrace" in does)
        assert ("travel" in entries) == ("travel" in does)


def test_layers_come_and_go(visit, guide, plan):
    page = visit(guide, "phone")
    page.locator("#slide").fill("950")
    whole_view(page)
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
    assert set(unchanged) - {"Keep the screen awake"} == {
        "Stop at run ends and bobbin changes",
        "Stop where a chapter ends",
        "Speak each step, by a voice of this device",
        "Media keys of a headset (other sound stops)",
        "Travel, dotted",
    }


def picture_of(page):
    return page.evaluate(
        "['ground', 'sewn', 'marks'].map((id) => document.getElementById(id).toDataURL()).join()"
    )


def test_bobbin_changes_are_announced_and_stopped_at(visit, guide, plan):
    page = visit(guide)
    change = min(plan.thread.changes, key=lambda c: (c.stop.run, c.stop.along))
    page.select_option("#by", "chapters")
    page.click("#play")
    page.select_option("#speed", "400")
    while True:
        page.locator("#card[open]").wait_for()
        if page.inner_text("#title").endswith("change the bobbin"):
            break
        page.keyboard.press("PageDown")
        page.click("#play")
    settled(page)
    assert sewn(page) == pytest.approx(change.stop.along / YARD, abs=0.06)
    assert page.locator("#bobbin span").text_content() == "now"
    assert page.locator("#soon").text_content().startswith("Now: change the bobbin")
    (stop,) = (s for s in stops(plan) if (s.kind, s.along) == ("bobbin", change.stop.along))
    assert card_of(page) == (stop.heading, [task.text for task in stop.tasks])


def card_of(page):
    """The heading and the tasks of the stop card that is open."""
    tasks = page.locator("#tasks li").all_text_contents()
    return page.inner_text("#title"), [task.replace("\N{NO-BREAK SPACE}", " ") for task in tasks]


@pytest.fixture(scope="module")
def film(runner, tmp_path_factory):
    file = tmp_path_factory.mktemp("film") / "runner.html"
    file.write_text(plan_moving(runner), "utf-8")
    return file


@pytest.mark.parametrize("screen", SCREENS, ids=lambda screen: f"{screen[0]}x{screen[1]}")
def test_the_picture_has_two_thirds_of_any_screen_and_follows_the_needle(visit, film, screen):
    page = visit(film, screen)
    for machine in (False, True):
        if machine:
            page.click("#machine")
            page.click("#done")
            settled(page)
        box = page.locator("#picture").bounding_box()
        share = box["width"] * box["height"] / (screen[0] * screen[1])
        assert 0.67 < share < 0.73
        assert page.inner_text("#times") != "whole"
        line = page.locator("#line").bounding_box()
        buttons = page.locator("#on").bounding_box()
        assert box["y"] >= 0
        assert line["y"] + line["height"] <= buttons["y"]
        assert buttons["y"] + buttons["height"] <= screen[1]
        assert buttons["x"] + buttons["width"] <= screen[0]


def test_no_step_runs_behind_the_buttons_of_a_small_phone(visit, film):
    page = visit(film, "phone")
    undisturbed(page)
    page.click("#machine")
    hidden = page.evaluate(
        """async () => {
          const hidden = [];
          const frame = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
          for (let i = 0; i < 60; i++) {
            document.getElementById("on").click();
            await frame();
            const end = document.getElementById("count").getBoundingClientRect().bottom;
            const top = document.getElementById("controls").getBoundingClientRect().top;
            if (end > top + 1) hidden.push(document.getElementById("line").textContent);
          }
          return hidden;
        }"""
    )
    assert hidden == []


def test_what_comes_next_is_bold_and_what_is_done_is_grey(visit, guide, plan):
    page = visit(guide, "desk")
    page.locator("#slide").fill("300")
    settled(page)
    done, marks = colours_of(page, "sewn"), colours_of(page, "marks")
    grey = "116 131 139"
    assert max(done, key=done.get) == grey
    ink = max(marks, key=marks.get)
    assert ink == "128 128 128"  # the thread is called grey
    assert contrast_with_white(ink) >= 3  # WCAG 2.2, 1.4.11: round it lies white
    lengths = [np.hypot(*np.diff(leg.points, axis=0).T).sum() for r in plan.runs for leg in r.legs]
    assert marks[ink] / 175 > 1.5 * done[grey] / (0.3 * sum(lengths))


def contrast_with_white(colour):
    """As WCAG 2.2 defines it, from the relative luminance of sRGB."""
    channels = np.array(colour.split(), dtype=float) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return 1.05 / (linear @ (0.2126, 0.7152, 0.0722) + 0.05)


def test_at_the_machine_a_tap_anywhere_goes_on_and_so_does_a_pedal(visit, guide, plan):
    page = visit(guide, (390, 844))
    page.click("#machine")
    assert page.evaluate("document.fullscreenElement === document.documentElement")
    first = stops(plan)[0]
    assert card_of(page) == (first.heading, [task.text for task in first.tasks])
    page.mouse.click(200, 60)  # on the card, on no button
    assert page.locator("#card[open]").count() == 0
    run = directions(plan)[0]

    def told():
        return page.locator("#sentence").text_content().replace("\N{NO-BREAK SPACE}", " ")

    assert told() == run.steps[0].text
    at = 0
    ways = [
        lambda: page.mouse.click(200, 400),  # the picture
        lambda: page.mouse.click(200, 620),  # the words
        lambda: page.keyboard.press("PageDown"),
        lambda: page.keyboard.press("ArrowDown"),
        lambda: page.keyboard.press("Enter"),
        lambda: press(page, "MediaTrackNext"),
    ]
    for way in ways:
        way()
        settled(page)
        if page.locator("#card[open]").count():
            way()
            settled(page)
        at += 1
        assert told() == run.steps[at].text
    page.keyboard.press("PageUp")
    settled(page)
    assert told() == run.steps[at - 1].text
    page.click("#machine")
    assert page.evaluate("document.fullscreenElement") is None
    assert page.inner_text("#machine") == "At the machine"


def press(page, key):
    page.evaluate(
        """(key) => document.body.dispatchEvent(
          new KeyboardEvent("keydown", { key, bubbles: true }))""",
        key,
    )


def test_keys_of_a_headset_step_too(visit, guide, plan):
    script = """
      window.media = {};
      navigator.mediaSession.setActionHandler = (name, act) => { media[name] = act; };
    """
    page = visit(guide, script=script)
    undisturbed(page)
    page.evaluate("media.nexttrack()")
    settled(page)
    assert sentence(page) == directions(plan)[0].steps[1].text
    page.evaluate("media.previoustrack()")
    settled(page)
    assert sentence(page) == directions(plan)[0].steps[0].text
    page.evaluate("media.play()")
    assert page.inner_text("#play") == "Pause"
    page.evaluate("media.pause()")
    assert page.inner_text("#play") == "Play"


def test_the_screen_stays_awake_at_the_machine_only(visit, guide):
    script = """
      window.awake = 0;
      const lock = { release: async () => { awake--; } };
      navigator.wakeLock.request = async () => { awake++; return lock; };
    """
    page = visit(guide, script=script)
    settled(page)
    assert page.evaluate("awake") == 0
    page.click("#machine")
    settled(page)
    assert page.evaluate("awake") == 1
    page.click("#done")
    page.click("#machine")
    settled(page)
    assert page.evaluate("awake") == 0


def test_steps_are_spoken_when_she_asks_for_it_by_a_voice_of_the_device_only(visit, guide):
    script = """
      window.heard = [];
      const own = { localService: true, lang: "en-GB" };
      const far = { localService: false, lang: "en-GB" };
      window.SpeechSynthesisUtterance = function (text) { this.text = text; };
      Object.defineProperty(window, "speechSynthesis", { value: {
        getVoices: () => (window.deaf ? [far] : [far, own]),
        cancel() {},
        speak(words) { heard.push([words.text, words.voice === own]); },
      } });
    """
    page = visit(guide, script=script)
    undisturbed(page)
    page.keyboard.press("ArrowRight")
    settled(page)
    assert page.evaluate("heard") == []
    page.click("text=Layers and stops")
    page.check("text=Speak each step")
    page.keyboard.press("ArrowRight")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("ArrowRight")
    settled(page)
    heard = page.evaluate("heard")
    assert heard[-1][1] is True
    assert not re.search(r"\d/\d|\bin$", heard[-1][0])
    assert heard[-1][0].split(",")[0] == page.inner_text("#line").split(",")[0]
    page.evaluate("window.deaf = true")
    page.keyboard.press("ArrowRight")
    settled(page)
    assert page.evaluate("heard") == heard


def test_the_large_count_is_the_way_to_the_next_turn_or_stop(visit, guide, plan):
    page = visit(guide, (390, 844))
    undisturbed(page)
    page.click("#machine")
    (run, *_), told = plan.runs, directions(plan)[0]
    lengths = [float(np.hypot(*np.diff(leg.points, axis=0).T).sum()) for leg in run.legs]
    turns = {"left": "then left", "right": "then right", "back": "then turn back"}
    turns["straight"] = "then straight on"
    for k, step in enumerate(told.steps[:6]):
        settled(page)
        far = sum(lengths[step.first_leg : step.last_leg + 1])
        words = page.inner_text("#far").replace("\N{NO-BREAK SPACE}", " ")
        assert inches(words) * 25.4 == pytest.approx(far, abs=25.4 / 8 + 0.01)
        if k + 1 < len(told.steps):
            assert page.inner_text("#then") == turns[told.steps[k + 1].turn]
        page.keyboard.press("PageDown")


OVER = """
name = "Pennant"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
[blocks.pennant]
size = 20
grid = ["sand", "sea"]
[layout]
rows = ["pennant"]
[batting]
margin = "2 in"
"""


def test_she_is_told_what_she_can_measure_on_the_top_and_the_margin_apart(visit, tmp_path):
    file = tmp_path / "over.html"
    file.write_text(plan_moving(make_plan(design(OVER))), "utf-8")
    page = visit(file, (390, 844))
    undisturbed(page)
    page.select_option("#by", "legs")
    told = []
    for _ in range(3):
        page.click("#machine")
        settled(page)
        words = page.inner_text("#far").replace("\N{NO-BREAK SPACE}", " ")
        told.append((words, page.inner_text("#then")))
        page.click("#machine")  # leave
        page.click("#on")
    assert told == [
        ("1/2 in", "then in over the edge"),
        ("20 in", "then out over the edge"),
        ("1/2 in", "then stop"),
    ]
    page.click("#back")
    page.click("#machine")
    settled(page)
    box = page.locator("#then").bounding_box()
    assert box["x"] + box["width"] <= 390


def test_on_a_top_without_blocks_rulers_name_what_the_words_name(visit, tmp_path):
    line = '<path d="M 0 100 H 400" fill="none" stroke="#1d3a54"/>'
    (tmp_path / "wall.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 300">'
        '<rect width="400" height="300" fill="#f4ead6"/>'
        f'<rect y="100" width="400" height="200" fill="#2f6f9f"/>{line}</svg>'
    )
    plan = make_plan(design_of_drawing(tmp_path / "wall.svg", size="42in"))
    file = tmp_path / "wall.html"
    file.write_text(plan_moving(plan), "utf-8")
    page = visit(file, (390, 844))
    marks = "[...document.querySelectorAll('#rulers span')].filter((mark) => !mark.hidden)"
    place = ".map((m) => [m.textContent, m.offsetLeft, m.offsetTop])"
    whole_view(page)
    settled(page)
    shown = page.evaluate(f"{marks}{place}")
    assert [name for name, *_ in shown] == ["1", "2", "3", "4", "5", "A", "B", "C", "D"]
    at = {name: place for name, *place in shown}
    assert at["1"][0] < at["2"][0] < at["5"][0] <= 390
    assert at["A"][1] < at["B"][1] < at["D"][1]
    page.click("#closer")
    settled(page)
    assert 2 <= len(page.evaluate(f"{marks}{place}")) < 9


def inches(words):
    amount, unit = words.rsplit(" ", 1)
    assert unit == "in"
    return sum(map(Fraction, amount.split()), Fraction(0))


def test_between_stages_a_card_says_what_to_fuse_and_shows_it(visit, guide, plan):
    page = visit(guide, (390, 844))
    (fusing,) = (stop for stop in stops(plan) if stop.fuse)
    page.evaluate(
        """(heading) => [...document.querySelectorAll("#stops button")]
        .find((button) => button.textContent === heading).click()""",
        fusing.heading,
    )
    settled(page)
    assert card_of(page) == (fusing.heading, [task.text for task in fusing.tasks])
    card = page.locator("#card").bounding_box()
    assert (card["width"], card["height"]) == (390, 844)
    shown = page.locator("#tasks li").last.bounding_box()
    assert shown["y"] + shown["height"] <= page.locator("#quilt").bounding_box()["y"]
    image = Image.open(io.BytesIO(base64.b64decode(
        page.evaluate("document.getElementById('map').toDataURL()").partition(",")[2]
    )))  # fmt: skip
    pixels = np.asarray(image)[:, :, :3].reshape(-1, 3)
    coral = np.array([0xDC, 0x6F, 0x50])
    assert np.count_nonzero(np.all(pixels == coral, axis=1)) > 100


def test_a_card_too_long_for_a_small_screen_is_read_to_its_end_before_it_closes(visit, film):
    page = visit(film, (480, 250))
    page.evaluate("document.querySelectorAll('#stops button')[1].click()")
    settled(page)
    assert page.inner_text("#done") == "More below"
    for _ in range(9):
        if page.inner_text("#done") == "Done, go on":
            break
        page.keyboard.press("PageDown")
        settled(page)
        assert page.locator("#card[open]").count() == 1
    last = page.locator("#tasks li").last.bounding_box()
    assert last["y"] + last["height"] <= 250
    page.keyboard.press("PageDown")
    assert page.locator("#card[open]").count() == 0


def test_playing_pauses_at_every_stop_and_chapter_and_at_none_that_is_switched_off(
    visit, runner, film
):
    plan = runner
    begins = {chapter.run: chapter for chapter in reversed(chapters(plan))}
    expected = []
    for run in plan.runs:
        expected += [s.heading for s in stops(plan) if s.kind == "run" and s.run == run.number]
        mine = [c for c in chapters(plan) if c.run == run.number and c != begins[run.number]]
        expected += [f"Next: {chapter.name}" for chapter in mine]
    expected.append(stops(plan)[-1].heading)
    for off, told in (
        ((), expected[:9]),
        (("chapters",), [h for h in expected if "Next" not in h]),
    ):
        page = visit(film)
        if off:
            page.click("text=Layers and stops")
            page.uncheck("text=Stop where a chapter ends")
        page.select_option("#speed", "400")
        seen = []
        while len(seen) < len(told):
            page.click("#play")
            page.locator("#card[open]").wait_for()
            seen.append(page.inner_text("#title"))
            page.keyboard.press("Escape")
            assert page.locator("#card[open]").count() == 0
        assert seen == told
    assert page.inner_text("#sentence").startswith("Sewn to the end")


def test_the_card_and_the_machine_shut_nobody_out(visit, guide):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="pip install axe-…")
    for look, screen in (("light", (390, 844)), ("dark", (480, 250))):
        page = visit(guide, screen, color_scheme=look)
        page.click("#machine")
        settled(page)
        results = axe.Axe().run(page)
        assert results.violations_count == 0, results.generate_report()
        page.keyboard.press("Escape")
        settled(page)
        results = axe.Axe().run(page)
        assert results.violations_count == 0, results.generate_report()


def test_whoever_asked_for_less_motion_sees_two_still_pictures_a_second(visit, guide):
    page = visit(guide, reduced_motion="reduce")
    undisturbed(page)
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
