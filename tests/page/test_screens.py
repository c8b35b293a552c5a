"""The planning page in a real browser: what she does there, by mouse and by keyboard alone.

Accessibility is held against axe-core, Deque's open engine for the Web Content Accessibility
Guidelines (W3C). What a screen leads to is read from the server, beside the browser.
"""

import itertools
import re
import shutil
from urllib.parse import urlsplit

import pytest
from chromium import Windows
from quilts import DESIGNS

SHIPPED = ["Curved cushion", "Harbour runner", "Postage stamp king", "Star lap quilt"]
SIZES = {"phone": (360, 740), "small": (1024, 768), "desk": (1440, 900)}
EVIL = "<img src=x onerror=hacked=1><script>hacked=1</script>"
# A refusal is answered with a status of its own, which the browser notes in its console.
NUMBERS = itertools.count(1)  # of files: each test has its own
REFUSAL = re.compile(r"Failed to load resource: the server responded with a status of 4(09|22)")


class _Windows(Windows):
    """Windows on the page that were let in."""

    def __init__(self, browser, served):
        super().__init__(browser, self._at_home, fine=self._of_no_matter)
        self.served, self.usual = served, None
        self.home = urlsplit(served.door.address()).netloc

    def _at_home(self, address):
        url = urlsplit(address)
        return url.scheme in ("data", "blob") or url.netloc == self.home

    def _of_no_matter(self, message):
        return message.type not in ("error", "warning") or REFUSAL.match(message.text)

    def let_in(self, size, **options):
        """Give a window of a fresh profile."""
        page = self.fresh(self.served.door.address(), SIZES[size], **options)
        page.locator("#empty").wait_for()
        return page

    def one(self, size, options):
        """Give one window for all tests that ask for no other."""
        if size != "desk" or options:
            return self.let_in(size, **options)
        if self.usual is None:
            self.usual = self.let_in(size)
            self.own.clear()
        return self.usual


@pytest.fixture(scope="module")
def windows(real_browser, served):
    return _Windows(real_browser, served)


@pytest.fixture
def visit(windows):
    """Come to the beginning."""

    def come(size="desk", *, fresh=False, **options):
        page = windows.let_in(size, **options) if fresh else windows.one(size, options)
        if page.locator("#quilt").count():
            page.get_by_role("button", name="Another quilt").click()
        page.get_by_role("heading", name="What will you quilt?").wait_for()
        page.locator("#empty").wait_for()
        return page

    yield come
    windows.close()


@pytest.fixture
def lay(windows, served):
    """Open a design of her folder, as a file of its own."""

    def laid(text, size="desk", name=None, **options):
        name = name or f"quilt-{next(NUMBERS)}.toml"
        served.put(name, text)
        page = windows.one(size, options)
        home = served.door.origin
        opened = page.request.post(
            f"{home}/api/designs", data={"file": name}, headers={"Origin": home}
        )
        assert opened.ok, opened.text()
        page.evaluate("to => { location.hash = to; }", f"#/{opened.json()['id']}")
        page.locator(f'#quilt[data-id="{opened.json()["id"]}"]').wait_for()
        drawn(page)
        return page

    yield laid
    windows.close()


def drawn(page):
    """Wait until the quilt and its lines lie there."""
    page.locator("#quilt path.edge").first.wait_for(state="attached")
    page.get_by_text(re.compile(r"^(To quilt:|Nothing is quilted)")).wait_for()


def of(page, what=""):
    """Ask the server about the design that is on the page."""
    name = re.search(r"#/(\w+)$", page.url)[1]
    home = page.url.partition("#")[0]
    answer = page.request.get(f"{home}api/designs/{name}{what}")
    assert answer.ok, answer.text()
    return answer


def text(page):
    """The design as it is written."""
    return of(page, "/text").body()


def say(page, label, words):
    """Type a word of the text, and wait until the quilt is so."""
    before = rev(page)
    field = page.get_by_label(label, exact=True).first
    field.fill(words)
    field.press("Enter")
    until(page, lambda: rev(page) > before)


def choose(page, label, option):
    """Take one of the choices, and wait until the quilt is so: the next word is then its own."""
    before = rev(page)
    page.get_by_label(label, exact=True).first.select_option(option)
    until(page, lambda: rev(page) > before)


def rev(page):
    """Which state of the design the quilt shows."""
    return int(page.locator("#quilt").get_attribute("data-rev"))


def until(page, done, seconds=10):
    for _ in range(seconds * 20):
        if done():
            return
        page.wait_for_timeout(50)
    raise AssertionError("never so")


def planned(page):
    page.get_by_role("button", name=re.compile("^Plan the path")).click()
    page.locator("#h-result").wait_for(timeout=60_000)


RUNNER = (DESIGNS / "harbour-runner.toml").read_text("utf-8")
STARFISH = (DESIGNS / "starfish.svg").read_text("utf-8")
SMALL = """# two squares by the sea
name = "Small"   # hers

[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"

[blocks.tide]
size = 6
grid = ['sand sea', 'sea sand']

[layout]
rows = ["tide tide"]

[[layout.borders]]
width = 1   # narrow
fabric = "sea"

[[applique]]
name = "buoy"
outline = "M 10 0 A 10 10 0 0 1 10 20 A 10 10 0 0 1 10 0 Z"
on = "A1"
at = [3, 3]
size = 2
fabric = "sand"
"""


# ---- from nothing to the guide ----


def test_by_mouse_she_goes_from_an_empty_top_to_the_printed_guide(visit):
    page = visit()
    page.get_by_label("name of the quilt").fill("Two boats")
    page.get_by_label("blocks across").fill("2")
    page.get_by_label("blocks down").fill("1")
    page.get_by_role("button", name="Lay it out").click()
    drawn(page)
    x, y = middle_of(page, "A1")
    page.mouse.click(x + 7, y + 11)
    page.locator(".thumb", has_text="sailboat").first.click()
    until(page, lambda: of(page).json()["top"]["blocks"][0]["block"] == "sailboat")
    page.get_by_role("button", name="Add a border").click()
    until(page, lambda: of(page).json()["top"]["borders"])
    planned(page)
    with page.expect_download() as got:
        page.get_by_role("link", name="The printed guide").click()
    assert got.value.path().read_bytes().startswith(b"%PDF-")
    assert got.value.suggested_filename.startswith("two-boats.guide")


def tab_to(page, label, *, back=False):
    """Go on by Tab until a field, a button or a link of that name has the focus."""
    for _ in range(400):
        page.keyboard.press("Shift+Tab" if back else "Tab")
        name = page.evaluate(
            """() => { const at = document.activeElement;
            return at.getAttribute("aria-label") ?? at.textContent.trim(); }"""
        )
        if name.startswith(label):
            return
    raise AssertionError(f"no Tab leads to {label}")


def test_by_keyboard_alone_she_goes_from_an_empty_top_to_the_printed_guide(visit):
    page = visit()
    keys = page.keyboard
    tab_to(page, "name of the quilt")
    keys.press("Control+a")
    keys.type("By keys")
    tab_to(page, "blocks across")
    keys.press("Control+a")
    keys.type("2")
    tab_to(page, "blocks down")
    keys.press("Control+a")
    keys.type("1")
    keys.press("Enter")
    drawn(page)
    tab_to(page, "The quilt")
    keys.press("ArrowRight")
    assert page.locator("#note-title").inner_text() == "A1"
    keys.press("ArrowDown")
    assert page.locator("#note-title").inner_text() == "A1 in one patch"
    keys.press("ArrowUp")
    keys.press("Enter")
    tab_to(page, "how the block at A1 is turned")
    keys.press("ArrowDown")
    until(page, lambda: of(page).json()["top"]["blocks"][0]["turn"] == 90)
    tab_to(page, "Add a border")
    keys.press("Enter")
    until(page, lambda: of(page).json()["top"]["borders"])
    tab_to(page, "Plan the path")
    keys.press("Enter")
    page.locator("#h-result").wait_for(timeout=60_000)
    tab_to(page, "The printed guide")
    with page.expect_download() as got:
        keys.press("Enter")
    assert got.value.path().read_bytes().startswith(b"%PDF-")


def middle_of(page, place):
    """Where a place lies on the screen."""
    blocks = of(page).json()["top"]["blocks"]
    box = next(block["box"] for block in blocks if block["at"] == place)
    return on_screen(page, (box[0] + box[2]) / 2, (box[1] + box[3]) / 2)


def on_screen(page, x, y):
    return page.evaluate(
        """([x, y]) => { const svg = document.querySelector("#quilt svg");
        const p = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM()); return [p.x, p.y]; }""",
        [x, y],
    )


# ---- what is written stays as it was written ----


@pytest.mark.parametrize("title", SHIPPED)
def test_a_shipped_design_opened_changed_saved_and_reopened_differs_in_that_word_alone(
    visit, served, title
):
    page = visit()
    page.locator("#begin .pictures .card", has_text=title).click()
    page.locator("#quilt path.edge").first.wait_for(state="attached")
    first = text(page)
    say(page, "name of the quilt", f"{title} of ours")
    name = f"{title.lower().replace(' ', '-')}-of-ours.toml"
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text(f"Saved as {name}").first.wait_for()
    expected = first.replace(f'name = "{title}"'.encode(), f'name = "{title} of ours"'.encode(), 1)
    assert (served.folder / name).read_bytes() == expected
    page.get_by_role("button", name="Another quilt").click()
    page.locator(".card", has_text=name).click()
    page.locator("#quilt path.edge").first.wait_for(state="attached")
    assert text(page) == expected


def test_a_design_in_a_folder_below_is_opened_and_saved_there(visit, served):
    below = served.folder / "older"
    below.mkdir()
    (below / "small.toml").write_text(SMALL)
    shutil.copy(DESIGNS / "starfish.svg", below / "fish.svg")
    page = visit()
    page.get_by_text("In its folder older: 1").click()
    page.locator(".card", has_text="older/small.toml").click()
    drawn(page)
    page.get_by_text("Lines of your own: 0").click()
    choose(page, "lay lines over the quilt from", "fish.svg")
    page.locator("#the-lines .slip", has_text="fish.svg: found no size").wait_for()
    say(page, "size of the lines of fish.svg", "5")
    drawn(page)
    page.keyboard.press("Control+s")
    page.get_by_text("Saved as older/small.toml.").first.wait_for()
    assert b'file = "fish.svg"' in (below / "small.toml").read_bytes()


def test_undo_leads_back_to_the_first_text_also_after_saving(lay, served):
    page = lay(SMALL, name="undone.toml")
    say(page, "width of border 1", "1 1/2 in")
    say(page, "blocks across", "3")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Saved as undone.toml.").first.wait_for()
    page.get_by_label("corners of border 1").select_option("mitred")
    until(page, lambda: b"mitred" in text(page))
    for _ in range(3):
        page.keyboard.press("Control+z")
    until(page, lambda: text(page) == SMALL.encode())
    for _ in range(3):
        page.keyboard.press("Control+Shift+z")
    until(page, lambda: b"mitred" in text(page))
    assert b"# narrow" in text(page)
    assert b"mitred" not in (served.folder / "undone.toml").read_bytes()


# ---- pieces in hand ----


# What a hand is held by, how far it goes (px), and the fields that then say the same.
DRAGS = {
    "laid elsewhere": ("middle", (57, 23), ("across, of buoy", "down, of buoy")),
    "turned": (".turn", (61, 40), ("turn of buoy, degrees to the right",)),
    "sized": (".size", (19, 31), ("size of buoy",)),
}
PENNANT = 'outline = "M 0 0 L 24 6 L 0 12 Z"'


def test_a_piece_dragged_turned_or_sized_lies_where_the_same_numbers_typed_lay_it(lay):
    # On a block that is mirrored and turned, where right is left and across is down.
    text = 'unit = "cm"\n' + SMALL.replace('"tide tide"', '"tide:90m tide"')
    page = lay(re.sub("outline = .*", PENNANT + "\nturn = 14", text))
    page.locator("#quilt").focus()
    page.keyboard.press("End")
    for what, (hold, by, labels) in DRAGS.items():
        before = piece_of(page)
        held = page.locator(f"#quilt .hand{hold}").bounding_box() if hold != "middle" else None
        x, y = on_screen(page, *before["at"])
        if held is not None:
            x, y = held["x"] + held["width"] / 2, held["y"] + held["height"] / 2
        was = [page.get_by_label(label, exact=True).first.input_value() for label in labels]
        state = rev(page)
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + by[0] / 2, y + by[1] / 2)
        page.mouse.move(x + by[0], y + by[1])
        shown = shape_of(page, "#quilt .piece")
        page.mouse.up()
        until(page, lambda state=state: rev(page) > state)
        dragged = piece_of(page)
        assert shown == pytest.approx(box_of(dragged), abs=2 * pixel(page)), what
        said = [page.get_by_label(label, exact=True).first.input_value() for label in labels]
        assert said != was, what
        assert of(page).json()["undo"] == f"buoy {what}"
        page.keyboard.press("Control+z")
        until(page, lambda before=before: piece_of(page) == before)
        for label, words in zip(labels, said, strict=True):
            say(page, label, words)
        assert numbers(piece_of(page)) == pytest.approx(numbers(dragged), abs=0.01), what


def piece_of(page):
    return of(page).json()["top"]["pieces"][0]


def numbers(piece):
    """All that lies where: the outline on the top, mm."""
    return [float(v) for v in re.findall(r"-?[\d.]+", piece["d"])]


def box_of(piece):
    x, y = numbers(piece)[::2], numbers(piece)[1::2]
    return [min(x), min(y), max(x), max(y)]


def shape_of(page, what):
    """The box of what is drawn, mm of the top, as a hand sees it."""
    return page.evaluate(
        """what => { const part = document.querySelector(what), long = part.getTotalLength();
        const way = part.ownerSVGElement.getScreenCTM().inverse().multiply(part.getScreenCTM());
        const at = [...Array(201).keys()].map(k => part.getPointAtLength(long * k / 200)
        .matrixTransform(way)), x = at.map(p => p.x), y = at.map(p => p.y);
        return [Math.min(...x), Math.min(...y), Math.max(...x), Math.max(...y)]; }""",
        what,
    )


def pixel(page):
    """How many mm of the top a pixel shows."""
    return 1 / page.evaluate('document.querySelector("#quilt svg").getScreenCTM().a')


def test_a_piece_is_moved_turned_and_put_back_with_keys(lay):
    page = lay(SMALL)
    piece = of(page).json()["top"]["pieces"][0]
    page.locator("#quilt").focus()
    page.keyboard.press("End")
    assert page.locator("#note-title").inner_text().startswith("buoy")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    assert of(page).json()["top"]["pieces"][0]["at"] == piece["at"]
    page.keyboard.press("Enter")
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowDown", ".", "Enter"):
        page.keyboard.press(key)
    until(page, lambda: of(page).json()["top"]["pieces"][0]["at"] != piece["at"])
    moved = of(page).json()["top"]["pieces"][0]
    assert moved["at"] == pytest.approx([piece["at"][0] + 12.7, piece["at"][1] + 1.5875], abs=0.001)
    assert moved["turn"] == 1


# ---- what cannot be is told where it was said ----


CANNOT_BE = [
    ("width of border 1", "wide"),
    ("width of border 1", "-2"),
    ("size of tide", "1e9"),
    ("blocks across", "none"),
    ("blocks down", "0"),
    ("colour of sea", "sea-ish"),
    ("how dark sea is, 0 white to 1 black", "7"),
    ("across, of buoy", "400"),
    ("size of buoy", "0"),
    ("turn of buoy, degrees to the right", "north"),
    ("name of the fabric sea", "sand"),
]


def test_a_word_that_cannot_be_is_answered_at_its_field_and_changes_nothing(lay):
    page = lay(SMALL)
    for label, words in CANNOT_BE:
        field = page.get_by_label(label, exact=True).first
        field.fill(words)
        field.press("Enter")
        slip = page.locator(f"#{field.get_attribute('id').replace('f-', 'slip-', 1)}")
        slip.wait_for()
        assert field.get_attribute("aria-invalid") == "true", label
        assert field.get_attribute("aria-describedby") == slip.get_attribute("id"), label
        assert field.input_value() == words, label
        assert re.fullmatch(r"\S[^\n]+\S", slip.inner_text()), label
        assert text(page) == SMALL.encode(), label
        field.press("Escape")
        slip.wait_for(state="detached")


UNREADABLE = {
    "page.svg": b"<html><body>no drawing</body></html>",
    "quilt2.toml": b"name = ",
    "top.dxf": b"\x00\x01\x02",
    "picture.png": b"\x89PNG\r\n",
}


def test_an_upload_that_cannot_be_read_is_answered_in_one_sentence(visit, served):
    page = visit()
    for name, data in UNREADABLE.items():
        page.locator("#bring").set_input_files({"name": name, "mimeType": "", "buffer": data})
        slip = page.locator("#slip-bring", has_text=name)
        slip.wait_for()
        assert re.fullmatch(rf"{name}: [^\n]+", slip.inner_text())
        assert not (served.folder / name).exists()


def test_names_with_markup_are_shown_as_text(lay):
    page = lay(SMALL.replace('"Small"', f"'{EVIL}'").replace('"buoy"', f"'{EVIL}'"))
    assert page.get_by_label("name of the quilt").input_value() == EVIL
    page.locator("#quilt").focus()
    page.keyboard.press("End")
    assert page.locator("#note-title").inner_text().startswith(EVIL)
    assert page.evaluate("window.hacked") is None
    assert page.locator("#page img[src=x], #page script").count() == 0


# ---- words said faster than they are answered ----


@pytest.fixture
def slow(lay):
    """Lay a quilt on a page whose every change takes its time."""
    page = lay(TWO_BORDERS)
    page.evaluate(
        """() => { window.quick = fetch; window.fetch = (...asked) => /edits$/.test(asked[0])
        ? new Promise(go => setTimeout(go, 200)).then(() => quick(...asked)) : quick(...asked); }"""
    )
    yield page
    page.evaluate("() => { window.fetch = window.quick; }")


TWO_BORDERS = SMALL + '[[layout.borders]]\nwidth = 2\nfabric = "sand"\n'


def test_two_words_said_at_once_both_hold(slow):
    for label, words in (("across, of buoy", "4"), ("down, of buoy", "2")):
        slow.get_by_label(label, exact=True).first.fill(words)
        slow.keyboard.press("Enter")
    slow.get_by_label("name of the fabric sea").fill("deep")
    slow.keyboard.press("Enter")
    slow.get_by_label("colour of sea", exact=True).fill("#123456")
    slow.keyboard.press("Enter")
    until(slow, lambda: of(slow).json()["data"]["fabrics"].get("deep") == "#123456")
    data = of(slow).json()["data"]
    assert data["applique"][0]["at"] == [4, 2]
    assert set(data["fabrics"]) == {"sand", "deep"}


def test_cells_changed_at_once_are_all_changed(slow):
    slow.get_by_role("button", name="Change the cells of tide").first.click()
    for row in (1, 2):
        slow.get_by_role("button", name=f"row {row}, column {row}").click()
        field = slow.get_by_label("fabric of the cell")
        field.select_option("sea" if field.input_value() == "0" else "sand")
    until(slow, lambda: of(slow).json()["data"]["blocks"]["tide"]["grid"] == ["sea sea", "sea sea"])
    slow.get_by_role("button", name="Back to the quilt").click()


def test_what_is_left_out_twice_by_a_double_click_takes_nothing_else_along(slow):
    slow.get_by_role("button", name="Leave border 1 out").dblclick()
    slow.get_by_text("say it once more").first.wait_for()
    (left,) = of(slow).json()["data"]["layout"]["borders"]
    assert left == {"width": 2, "fabric": "sand"}


# ---- windows, drafts, cancelling ----


def test_of_two_windows_the_older_is_told_and_loses_nothing(lay):
    page = lay(SMALL)
    other = page.context.new_page()
    other.goto(page.url)
    drawn(other)
    say(other, "width of border 1", "2 in")
    field = page.get_by_label("fabric of border 1")
    field.select_option("sand")
    page.get_by_text("changed in another window").first.wait_for()
    assert page.get_by_label("width of border 1").input_value() == "2 in"
    field.select_option("sand")
    until(page, lambda: of(page).json()["data"]["layout"]["borders"][0]["fabric"] == "sand")
    other.close()


def test_what_was_left_unsaved_is_offered_at_the_next_start(lay, visit):
    page = lay(SMALL.replace('"Small"', '"Left behind"'), name="left.toml")
    say(page, "width of border 1", "3 in")
    again = visit(fresh=True)
    again.locator(".drafts .card", has_text="Left behind").first.click()
    drawn(again)
    assert again.get_by_label("width of border 1").input_value() == "3 in"
    again.get_by_role("button", name="Another quilt").click()
    again.locator(".drafts .card").first.wait_for()
    drafts = again.locator(".drafts li")
    before = drafts.count()
    again.get_by_role("button", name="Throw the draft of Left behind away").first.click()
    until(again, lambda: drafts.count() == before - 1)


def test_a_file_changed_by_hand_meanwhile_is_written_over_only_when_she_says_so(lay, served):
    page = lay(SMALL, name="both.toml")
    say(page, "width of border 1", "3 in")
    served.put("both.toml", SMALL + "# by hand\n")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("button", name="Write over it all the same").wait_for()
    assert "# by hand" in (served.folder / "both.toml").read_text()
    page.get_by_role("button", name="Write over it all the same").click()
    page.get_by_text("Saved as both.toml.").first.wait_for()
    assert (served.folder / "both.toml").read_bytes() == text(page)


def test_a_plan_tells_best_and_bound_long_before_its_end_and_is_stopped_within_a_second(lay):
    page = lay((DESIGNS / "star-lap-quilt.toml").read_text("utf-8"))
    page.get_by_role("button", name="Plan the path").click()
    page.get_by_text(re.compile("^(Laying out|Finding lines|Joining|Searching|Looking)")).wait_for()
    page.get_by_text(
        re.compile("^Best so far .*, and none can take less than .* over the")
    ).wait_for()
    page.get_by_role("button", name="Stop looking").click()
    page.locator(".running").wait_for(state="detached", timeout=1_000)
    assert page.locator("#h-result").count() == 0


# ---- planning, and what comes of it ----


def test_the_path_plays_a_check_leads_to_its_place_and_two_plans_stand_side_by_side(lay):
    page = lay(SMALL)
    planned(page)
    film = page.frame_locator("#film")
    film.locator("#sentence:not(:empty)").wait_for()
    page.get_by_role("button", name="Show where").first.click()
    assert page.locator("#film").count() == 0
    assert page.locator("#note-title").count() == 1  # what lies there is in her hand
    assert page.locator("#quilt .spot .ring").count() == 1
    page.get_by_label("fabric of border 1").select_option("sand")
    until(page, lambda: of(page).json()["undo"])
    page.get_by_text("The quilt was changed since").wait_for()
    page.get_by_role("button", name="Play it over the quilt").click()
    page.locator("#film").wait_for()
    page.get_by_label("foot", exact=True).select_option("the free-motion foot for all")
    page.locator("#film").wait_for(state="detached")  # she sees the quilt that she changes
    until(page, lambda: "machine" in of(page).json()["data"])
    page.get_by_role("button", name="Plan the path anew").click()
    page.locator(".both").wait_for(timeout=60_000)
    rows = page.locator(".both tr.differs")
    assert rows.count() > 0
    assert all("differs" in row for row in rows.all_inner_texts())


def test_what_is_in_her_hands_is_said_in_sentences_and_written_so(lay):
    page = lay(SMALL)
    page.get_by_text("Stitches, ends and bobbins").click()
    page.get_by_text("Cloth, and what you charge").click()
    page.get_by_label("throat, from needle to arm").fill("8")
    page.keyboard.press("Enter")
    page.get_by_text("Say the other side as well.").wait_for()
    say(page, "throat, from bed to arm", "5 in")
    choose(page, "foot", "a foot for each kind of line")
    choose(page, "foot for echoes", "the walking foot")
    say(page, "stitches to the inch", "9")
    page.get_by_label("stitches to the inch: for which lines").select_option(
        "each kind of line for itself"
    )
    say(page, "stitches to the inch, fills", "8")
    say(page, "charged for a metre of thread", "0.02")
    say(page, "thread lost, in %", "15")
    data = of(page).json()["data"]
    assert data["machine"] == {
        "throat": {"width": 8, "height": 5}, "foot": {"ditch": "walking", "echo": "walking"}
    }  # fmt: skip
    kinds = ("ditch", "centre", "outline", "echo", "drawn")
    assert data["stitching"] == {"per_inch": dict.fromkeys(kinds, 9) | {"fill": 8}, "waste": 0.15}
    assert data["charges"] == {"thread": 0.02}
    choose(page, "quilted on", "a machine in a frame")
    assert of(page).json()["data"]["machine"] == {"kind": "frame"}
    choose(page, "the frame shows the quilt", "as deep as the roll leaves")
    say(page, "radius of the bar that takes the quilt up", "1 1/2 in")
    choose(page, "how it is loaded", "sideways, its left edge first")
    say(page, "width of a backing that the frame takes", "10 ft")
    assert of(page).json()["data"]["machine"] == {
        "kind": "frame", "throat": "18 in", "bar": "1 1/2 in", "loaded": "sideways",
        "width": "10 ft",
    }  # fmt: skip


def test_a_piece_is_stitched_through_once_or_out_and_back_by_one_word(lay):
    page = lay(SMALL)
    page.locator("#quilt").focus()
    page.keyboard.press("End")
    page.get_by_label("through the middle of buoy").select_option("out and back, in two lines")
    until(page, lambda: of(page).json()["data"]["applique"][0].get("out_and_back") is True)
    say(page, "how far apart the two lines through buoy lie", "1/8 in")
    page.get_by_label("through the middle of buoy").select_option("not at all")
    until(page, lambda: of(page).json()["data"]["applique"][0].get("centre") is False)
    piece = of(page).json()["data"]["applique"][0]
    assert "out_and_back" not in piece
    page.keyboard.press("Control+z")
    until(page, lambda: of(page).json()["data"]["applique"][0].get("out_and_back") == "1/8 in")


def test_who_walks_by_ear_hears_what_is_chosen_and_not_what_else_could_be(lay):
    page = lay(SMALL)
    page.locator("#quilt").focus()
    page.keyboard.press("ArrowRight")
    told = page.locator("#told")
    assert told.inner_text() == "A1. At A1 stands tide, as drawn, not mirrored."
    page.keyboard.press("End")
    assert told.inner_text().startswith(
        "buoy. buoy lies on A1, its middle 3 in across and 3 in down."
    )


def test_who_goes_by_keys_is_not_lost_where_a_button_goes_once_it_is_pressed(lay):
    page = lay(SMALL)
    page.get_by_role("button", name="Put sashing between them").focus()
    page.keyboard.press("Enter")
    page.get_by_label("width of the sashing").wait_for()
    told = 'document.activeElement.getAttribute("aria-label")'
    assert page.evaluate(told) == "width of the sashing"
    page.get_by_role("button", name="Leave border 1 out").focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Add a border").wait_for()
    assert page.evaluate("document.activeElement.textContent") == "Add a border"
    page.keyboard.press("Enter")
    page.get_by_label("width of border 1").first.wait_for()
    assert page.evaluate("document.activeElement.textContent") == "Add another border outside"


def test_her_own_block_comes_forth_whatever_lay_where_the_quilt_lies(lay):
    page = lay(SMALL)
    planned(page)
    page.locator("#film").wait_for()
    page.get_by_role("button", name="Change the cells of tide").click()
    page.locator("#table").wait_for()
    assert page.locator("#film").count() == 0
    assert page.evaluate("document.activeElement.id") == "own-block"


def test_where_another_block_came_its_place_stays_in_her_hand(lay):
    page = lay(SMALL)
    page.locator("#quilt").focus()
    for key in ("ArrowRight", "ArrowDown"):
        page.keyboard.press(key)
    assert page.locator("#note-title").inner_text().startswith("A1.r1c1")
    page.get_by_text("Put another block here").click()
    page.locator(".thumb", has_text="sailboat").first.click()
    until(page, lambda: of(page).json()["top"]["blocks"][0]["block"] == "sailboat")
    page.locator("#note-title", has_text=re.compile("^A1$")).wait_for()


def test_a_path_that_was_found_is_there_when_she_comes_back_to_its_quilt(lay, visit):
    page = lay(SMALL, name="again.toml")
    planned(page)
    visit().locator(".card", has_text="again.toml").click()
    drawn(page)
    page.locator("#h-result").wait_for()
    assert page.locator("#film").count() == 0


def test_a_seam_is_left_out_for_this_one_and_for_all_such(lay, served):
    shutil.copy(DESIGNS / "starfish.svg", served.folder)
    page = lay(RUNNER)
    seams = of(page).json()["top"]["seams"]
    seam = next(s for s in seams if set(s["between"]) == {"A1.hull", "A1.sea"})
    numbers = [float(v) for v in re.findall(r"-?[\d.]+", seam["d"])]
    x, y = on_screen(page, (numbers[0] + numbers[-2]) / 2, (numbers[1] + numbers[-1]) / 2)
    page.mouse.click(x, y)
    page.get_by_role("heading", name="The seam of A1.").wait_for()
    ditch = page.get_by_label("stitched in the ditch", exact=True).first
    ditch.select_option("leave it out")
    until(page, lambda: left_out(page) == {"A1.hull", "A1.sea"})
    page.keyboard.press("Control+z")
    page.get_by_label("these words go for").first.select_option("all 3 such seams")
    ditch.select_option("leave it out")
    until(page, lambda: left_out(page) == {"boat.hull", "boat.sea"})


def test_all_seams_round_a_patch_a_block_or_a_border_are_said_in_one_word(lay):
    page = lay(SMALL)

    def lines():
        return {k: len(v) for k, v in of(page).json()["data"].get("lines", {}).items()}

    page.locator("#quilt").focus()
    page.keyboard.press("ArrowRight")
    choose(page, "the seams round the block", "leave them out")
    assert lines() == {"exclude": 8}  # two sides of each cell of A1, less those within the block
    page.keyboard.press("Control+z")
    page.locator("#quilt").focus()
    page.keyboard.press("ArrowDown")
    page.get_by_label("these words go for").first.select_option("all 2 such")
    choose(page, "the seams round it", "leave them out")
    assert ["tide.r1c1", "tide.r2c1"] in map(sorted, of(page).json()["data"]["lines"]["exclude"])


def test_what_she_touches_is_given_a_press_side_a_thread_and_words_of_its_own(lay):
    page = lay(SMALL.replace('"A1"', '"tide"') + TWO_THREADS)

    def data():
        return of(page).json()["data"]

    page.locator("#quilt").focus()
    page.keyboard.press("ArrowRight")
    choose(page, "pressed, within the block", "open")
    assert {seam["press"] for seam in data()["press"]["seams"]} == {"open"}
    choose(page, "pressed, round the block", "toward the block")
    assert len(data()["press"]["seams"]) > 4
    page.get_by_label("these words go for", exact=True).select_option("every tide")
    choose(page, "pressed, within the block", "toward sand")
    assert data()["blocks"]["tide"]["press"] == "toward sand"
    say(page, "line inside the edge of A1", "1/4 in")
    choose(page, "echoes round A1", "one")
    assert data()["motifs"] == [
        {"region": "A1", "edge_line": "1/4 in", "echo": {"step": "1/4 in", "count": 1}}
    ]
    choose(page, "thread of all lines in the ditch", "coral")
    assert data()["threads"]["coral"]["lines"] == ["centre", "ditch"]
    page.locator("#quilt").focus()
    page.keyboard.press("End")
    page.get_by_role("button", name="Let each have words of its own").click()
    page.get_by_role("button", name="Let each have words").wait_for(state="detached")
    assert [piece["on"] for piece in data()["applique"]] == ["A1", "A2"]


TWO_THREADS = """
[threads.grey]
size = "50 wt"

[threads.coral]
lines = ["centre"]
"""


def test_two_blocks_change_places_turned_as_they_were(lay):
    page = lay(SMALL.replace('"tide tide"', '"tide:90 foam"') + FOAM)
    page.locator("#quilt").focus()
    page.keyboard.press("ArrowRight")
    choose(page, "the block at A1 changes places with", "A2")
    assert of(page).json()["data"]["layout"]["rows"] == ["foam tide:90"]


FOAM = "[blocks.foam]\nsize = 6\ngrid = ['sand']\n"


def left_out(page):
    """The seam that was left out last."""
    return set(of(page).json()["data"]["lines"]["exclude"][-1])


def test_loose_ground_is_ringed_and_its_cure_is_one_touch_away(lay):
    page = lay(
        SMALL.replace(
            "[layout]", '[lines]\nditch = "borders"\n[batting]\ndistance = "3 in"\n[layout]'
        )
    )
    page.locator("#quilt .loose .ring").first.wait_for(state="attached")
    before = page.locator("#quilt .loose .ring").count()
    page.locator(".loose-words .deed").first.click()
    until(page, lambda: of(page).json()["undo"])
    page.get_by_text("The lines hold the batting everywhere.").wait_for()
    assert before > 0


def test_three_ways_to_quilt_it_stand_side_by_side_and_one_is_taken(lay):
    page = lay(SMALL)
    page.get_by_role("button", name="Show three ways to quilt it").click()
    page.locator("#ways article").first.wait_for(timeout=60_000)
    assert page.locator("#ways article").count() == 3
    page.get_by_role("button", name=re.compile("^Quilt it so")).last.click()
    until(page, lambda: of(page).json()["undo"])
    drawn(page)


def test_blocks_are_set_on_point_and_straight_again_by_one_word(lay):
    page = lay(SMALL)
    page.get_by_label("blocks set").select_option("on point")
    until(page, lambda: len(of(page).json()["top"]["blocks"]) == 2)
    until(page, lambda: of(page).json()["top"]["blocks"][0]["turn"] == 45)
    page.get_by_label("blocks down").fill("2")
    page.keyboard.press("Enter")
    until(page, lambda: len(of(page).json()["top"]["blocks"]) == 5)
    page.get_by_label("blocks set").select_option("straight")
    until(page, lambda: len(of(page).json()["top"]["blocks"]) == 4)


def test_a_block_of_her_own_is_made_cell_by_cell_its_corners_mirrored(lay):
    page = lay(SMALL)
    say(page, "name of a block of your own", "wave")
    page.get_by_role("heading", name="The block wave").wait_for()
    page.get_by_role("button", name="row 1, column 1").click()
    page.get_by_label("the same goes for").select_option("those that mirror it")
    choose(page, "the cell in row 1, column 1 is", "cut from lower left to upper right")
    first, _, last = (row.split() for row in of(page).json()["data"]["blocks"]["wave"]["grid"])
    assert [*first[::2], *last[::2]] == ["sea/sand", r"sand\sea", r"sea\sand", "sand/sea"]
    page.get_by_role("button", name="Back to the quilt").click()
    page.locator("#quilt").focus()
    page.keyboard.press("ArrowRight")
    page.get_by_label("block at A1", exact=True).first.select_option("wave")
    until(page, lambda: of(page).json()["top"]["blocks"][0]["block"] == "wave")


PATCHED = SMALL.replace(
    "grid = ['sand sea', 'sea sand']",
    """units = [8, 8]
patches = [
  { name = "left", fabric = "sand", points = [[0, 0], [8, 0], [0, 8]] },
  { name = "right", fabric = "sea", points = [[8, 0], [8, 8], [0, 8]] },
]""",
)


def test_a_block_of_patches_is_made_by_typing_their_corners(lay):
    page = lay(PATCHED)
    page.get_by_role("button", name="Change the patches of tide").first.click()
    cut = "corners of what stays, then of the new patch"
    say(page, cut, "0 0, 4 0, 0 8 / 4 0, 8 0, 0 8")
    until(page, lambda: page.get_by_label(cut).input_value() == "")
    patches = of(page).json()["data"]["blocks"]["tide"]["patches"]
    assert [patch["name"] for patch in patches] == ["left", "right", "left 2"]
    field = page.get_by_label("corners or path of left", exact=True)
    field.fill("0 0, 5 0, 0 8")
    field.press("Enter")
    page.locator("#own-block .slip").wait_for()  # a gap, or two on one ground
    field.press("Escape")
    say(page, "corners or path of left", "M 0 0 L 4 0 L 0 8 Z")
    left = of(page).json()["data"]["blocks"]["tide"]["patches"][0]
    assert left == {"name": "left", "fabric": "sand", "path": "M 0 0 L 4 0 L 0 8 Z"}
    page.get_by_role("button", name="Back to the quilt").click()
    page.get_by_text("Threads: 0").click()
    say(page, "name of another thread", "deep blue")
    say(page, "spools of deep blue", "200 m, 1000 m")
    assert of(page).json()["data"]["threads"]["deep blue"]["spools"] == ["200 m", "1000 m"]


# ---- how it looks ----


def wrong(page, part="html"):
    """What axe-core finds in a part of the page, and whether anything runs off the screen."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="pip install axe-…")
    results = axe.Axe().run(page, context={"include": [[part]], "exclude": [["iframe"]]})
    found = [
        (v["id"], [n["target"] for n in v["nodes"]][:3]) for v in results.response["violations"]
    ]
    beyond = page.evaluate(
        """() => { const all = document.documentElement;
        const whole = innerWidth >= 900 && document.getElementById("job");
        return all.scrollWidth > innerWidth || (whole && all.scrollHeight > innerHeight); }"""
    )
    return found + ([("larger than the screen", [])] if beyond else [])


@pytest.mark.parametrize(("size", "scheme"), [("phone", "dark"), ("desk", "light")])
def test_every_screen_can_be_read_by_everyone(lay, visit, size, scheme):
    page = visit(size, color_scheme=scheme)
    assert wrong(page) == []
    page = lay(SMALL, size, color_scheme=scheme)
    assert wrong(page, "#cloth-side") == []  # the text is looked at with its path
    walk = (("ArrowRight", "ArrowDown"), ("End",), ("ArrowUp", "End"))  # a patch, a seam, a piece
    for keys in walk if size == "phone" else ():
        page.locator("#quilt").focus()
        for key in keys:
            page.keyboard.press(key)
        assert wrong(page, "#note") == []
    if size == "phone":
        page.get_by_label("width of border 1").first.fill("wide")
        page.keyboard.press("Enter")
        page.locator(".slip").wait_for()
        assert wrong(page, "#the-top") == []
    page.get_by_role("button", name="Change the cells of tide").first.click()
    page.get_by_role("button", name="row 1, column 1").click()
    assert wrong(page, "#job") == []
    page.get_by_role("button", name="Back to the quilt").click()
    planned(page)
    assert wrong(page) == []
