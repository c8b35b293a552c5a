"""No other page, site, user or file name gets at her designs."""

import http.client
import json
import re

import pytest

from stitchpath.page.guard import MOST_ASKED, SHELL_POLICY, Door

OPEN = json.dumps({"shipped": "curved-cushion"})
EVIL = "http://evil.example"


def ask(served, method, path, headers, body=b"", *, cookie=True):
    """Send just these headers, as a program could that is no browser."""
    line = http.client.HTTPConnection("127.0.0.1", served.door.port, timeout=60)
    line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
    if cookie:
        line.putheader("Cookie", f"{served.door.cookie_name}={served.door.cookie}")
    for name, value in headers:
        line.putheader(name, value)
    line.endheaders(body or None)
    answer = line.getresponse()
    data = answer.read()
    line.close()
    return answer, data


def right(served, **changed):
    """Give the headers of the page itself, some changed; None leaves one out."""
    said = {
        "Host": served.door.host,
        "Origin": served.door.origin,
        "Sec-Fetch-Site": "same-origin",
        "Content-Type": "application/json",
        "Content-Length": str(len(OPEN)),
    } | {name.replace("_", "-"): value for name, value in changed.items()}
    return [(name, value) for name, value in said.items() if value is not None]


FORGED = {
    "a name that only leads here": (403, {"Host": "evil.example:{port}"}),
    "a name of this machine": (403, {"Host": "localhost:{port}"}),
    "this machine, another port": (403, {"Host": "127.0.0.1:1"}),
    "no host": (403, {"Host": None}),
    "another page": (403, {"Origin": EVIL}),
    "a page in a sandbox": (403, {"Origin": "null"}),
    "a page on another port of this machine": (403, {"Origin": "http://127.0.0.1:1"}),
    "a page that pretends to be secure": (403, {"Origin": "https://127.0.0.1:{port}"}),
    "no origin at all": (403, {"Origin": None}),
    "another site": (403, {"Sec_Fetch_Site": "cross-site"}),
    "another port of the same site": (403, {"Sec_Fetch_Site": "same-site"}),
    "a change out of nowhere": (403, {"Sec_Fetch_Site": "none"}),
    "a form": (415, {"Content_Type": "application/x-www-form-urlencoded"}),
    "a text, which needs no leave of the browser": (415, {"Content_Type": "text/plain"}),
    "a body too large": (413, {"Content_Length": str(MOST_ASKED + 1)}),
    "a body of no length": (411, {"Content_Length": None}),
    "a body in pieces": (411, {"Content_Length": None, "Transfer_Encoding": "chunked"}),
}


@pytest.mark.parametrize("name", FORGED)
def test_a_forged_change_is_refused(served, name):
    status, changed = FORGED[name]
    said = {k: v and v.format(port=served.door.port) for k, v in changed.items()}
    cut = "Content_Length" in said
    answer, data = ask(
        served, "POST", "/api/designs", right(served, **said), b"" if cut else OPEN.encode()
    )
    assert answer.status == (400 if name == "no host" else status)
    assert b'"id"' not in data
    assert answer.getheader("Access-Control-Allow-Origin") is None


def test_the_page_itself_is_answered(served):
    answer, data = ask(served, "POST", "/api/designs", right(served), OPEN.encode())
    assert answer.status == 200
    assert json.loads(data)["title"] == "Curved cushion"


COOKIES = {
    "none": [],
    "a wrong one": ["{name}=guessed"],
    "that of another port": ["stitchpath-1={cookie}"],
    "one with more behind": ["{name}={cookie}x"],
    "one cut short": ["{name}={short}"],
    "letters of no alphabet": ["{name}=\xff\xfe"],
}


@pytest.mark.parametrize("path", ["/api/start", "/api/designs/x", "/api/plans/x/all.zip"])
@pytest.mark.parametrize("name", COOKIES)
def test_who_was_not_let_in_reads_nothing(served, name, path):
    door = served.door
    said = [
        ("Cookie", each.format(name=door.cookie_name, cookie=door.cookie, short=door.cookie[:-1]))
        for each in COOKIES[name]
    ]
    answer, data = ask(served, "GET", path, [("Host", door.host), *said], cookie=False)
    assert answer.status == 401
    assert str(served.folder).encode() not in data


def test_another_site_reads_nothing_with_her_cookie(served):
    host = ("Host", served.door.host)
    for way, status in (("cross-site", 403), ("same-site", 403), ("none", 200)):
        answer, _ = ask(served, "GET", "/api/start", [host, ("Sec-Fetch-Site", way)])
        assert answer.status == status
    answer, _ = ask(served, "GET", "/api/start", [host, ("Origin", EVIL)])
    assert answer.status == 403
    answer, _ = ask(served, "GET", "/api/start", [("Host", "evil.example")])
    assert answer.status == 403


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/static/..%5capp.py",
        "/static//etc/passwd",
        "/static/index.html%00.css",
        "/static/%00",
        "/api/designs/..%2f..%2fx",
        "/api/plans/../../etc/all.zip",
    ],
)
def test_no_path_leads_out_of_the_page(served, path):
    answer, data = ask(served, "GET", path, [("Host", served.door.host)])
    assert answer.status in (400, 404)
    assert b"root:" not in data
    assert b"import" not in data


def test_a_page_elsewhere_is_given_no_leave(served):
    wish = [
        ("Host", served.door.host),
        ("Origin", EVIL),
        ("Access-Control-Request-Method", "POST"),
        ("Content-Length", "0"),
    ]
    answer, _ = ask(served, "OPTIONS", "/api/designs", wish)
    assert answer.status == 403
    given = [name.lower() for name, _ in answer.getheaders()]
    assert not [name for name in given if name.startswith("access-control")]


def test_every_answer_says_what_a_browser_may_do_with_it(browser):
    for path in ("/api/start", "/api/designs/x", "/nowhere", "/api/shipped/harbour-runner.svg"):
        head = browser.get(path).headers
        assert head["x-content-type-options"] == "nosniff"
        assert head["referrer-policy"] == "no-referrer"
        assert head["cross-origin-resource-policy"] == "same-origin"
        assert head["x-frame-options"] == "DENY"
        assert "default-src 'none'" in head["content-security-policy"]
        assert "script-src" not in head["content-security-policy"]
        assert "server" not in head
    assert browser.get("/api/start").headers["cache-control"] == "no-store"
    assert "'unsafe" not in SHELL_POLICY


def test_the_page_holds_no_data_and_runs_only_what_lies_beside_it(served):
    with served.browser() as stranger:
        shell = stranger.get("/")
        assert shell.headers["content-security-policy"] == SHELL_POLICY
        assert shell.headers["content-type"] == "text/html; charset=utf-8"
        assert str(served.folder) not in shell.text
        assert stranger.get("/static/index.html").headers["content-security-policy"] == SHELL_POLICY
        scripts = re.findall(r"<script\b([^>]*)>([^<]*)", shell.text)
        assert scripts
        for attributes, body in scripts:
            name = re.search(r'src="(/static/[a-z]+\.mjs)"', attributes)
            assert name is not None
            assert not body.strip()
            assert stranger.get(name[1]).headers["content-type"].startswith("text/javascript")
        assert "style=" not in shell.text
        assert stranger.get("/static/none.mjs").status_code == 404


def test_the_cookie_is_for_this_page_alone(served):
    with served.browser() as browser:
        answer = browser.post("/api/enter", json={"token": served.door.token})
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(f"stitchpath-{served.door.port}=")
    assert {"HttpOnly", "Path=/api", "SameSite=strict"} <= set(cookie.split("; "))
    assert served.door.token not in cookie


def test_a_wrong_token_opens_nothing(served):
    with served.browser() as browser:
        for token in ("", "guessed", served.door.token[:-1], served.door.cookie, 7, None):
            answer = browser.post("/api/enter", json={"token": token})
            assert answer.status_code in (403, 422)
            assert "set-cookie" not in answer.headers


def test_the_address_that_the_browser_is_opened_with_lets_in_once():
    door = Door(8000)
    token = door.address_once().partition("#")[2]
    assert token != door.token
    assert door.lets_in(token)
    assert not door.lets_in(token)
    assert door.lets_in(door.token)
    assert door.lets_in(door.token)


def test_two_starts_share_no_key():
    one, other = Door(8000), Door(8000)
    assert len({one.token, other.token, one.cookie, other.cookie}) == 4
    assert (one.origin, Door(80).origin) == ("http://127.0.0.1:8000", "http://127.0.0.1")
