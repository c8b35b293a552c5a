"""Hear what a screen reader says of the planning page, key by key.

Run `.venv/bin/python tests/benchmarks/page_by_ear.py` on a machine with Orca, at-spi2-core, Xvfb,
dbus-x11, xdotool and speech-dispatcher with its silent module (Debian's packages). A screen, a bus
and a voice of their own are begun, the harbour runner is opened in Chromium, and real keys are
pressed; printed are the keys, and what is said after each.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "benchmarks")]

from page_pictures import page_served  # noqa: E402 - beside this

SCREEN = ":98"
SAID = re.compile(r"SPEECH OUTPUT: '(.*)'\{")
VOICE = 'AddModule "dummy" "sd_dummy" ""\nDefaultModule dummy\nAudioOutputMethod "libao"\n'
KEYS = ["Right", "Down", "End", "Up", "End", "Return", "Right", "Down", "Return"]
CHROMIUM = ["--force-renderer-accessibility", "--no-sandbox", "--window-size=1440,900"]


def press(log: Path, key: str) -> None:
    """Press a real key, and print what is said of it."""
    before = len(SAID.findall(log.read_text("utf-8")))
    subprocess.run(["xdotool", "key", "--clearmodifiers", key], check=True)  # noqa: S607
    until_still(log)
    print(f"{key}:")
    for words in SAID.findall(log.read_text("utf-8"))[before:]:
        print(f"    {words}")


def until_still(log: Path, least: float = 2.5, most: float = 20.0) -> None:
    """Wait until the reader has nothing more to do: it notes all it does."""
    end, size = time.monotonic() + most, -1
    while size != (size := log.stat().st_size) and time.monotonic() < end:
        time.sleep(least)


def walk(folder: Path, log: Path) -> None:
    """Walk over the quilt, take a piece in hand, and say a width that is none."""
    with page_served(folder) as address, sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path="/usr/bin/chromium", headless=False, args=CHROMIUM
        )
        page = browser.new_context(no_viewport=True).new_page()
        page.goto(address)
        page.locator(".pictures .card", has_text="Harbour runner").click()
        page.get_by_text(re.compile("^To quilt:")).wait_for()
        find = ["xdotool", "search", "--onlyvisible", "--name", "stitchpath"]
        window = subprocess.run(find, check=True, capture_output=True, text=True).stdout.split()
        subprocess.run(["xdotool", "windowfocus", window[-1]], check=True)  # noqa: S607
        until_still(log, 5, 60)
        page.locator("#quilt").focus()
        until_still(log)
        for key in KEYS:
            press(log, key)
        page.get_by_label("width of the sashing").focus()
        for key in ("ctrl+a", "w", "Return", "Escape", "ctrl+z"):
            press(log, key)
        browser.close()


def main() -> None:
    """Begin a screen, a bus, a voice and the reader; then walk."""
    if len(sys.argv) > 1:
        walk(Path(sys.argv[1]), Path(sys.argv[2]))
        return
    home = Path(tempfile.mkdtemp())
    run = home / "run"
    run.mkdir(mode=0o700)
    voice = home / ".config" / "speech-dispatcher"
    shutil.copytree("/etc/speech-dispatcher", voice)
    settings = (voice / "speechd.conf").read_text("utf-8")
    kept = [x for x in settings.splitlines() if not re.match(r"(AddModule|DefaultModule)", x)]
    (voice / "speechd.conf").write_text("\n".join(kept) + "\n" + VOICE, "utf-8")
    log = home / "orca.log"
    own = os.environ | {"HOME": f"{home}", "XDG_RUNTIME_DIR": f"{run}", "DISPLAY": SCREEN}
    script = f"""
        /usr/libexec/at-spi-bus-launcher --launch-immediately --screen-reader=1 & bus=$!
        speech-dispatcher -s -C {voice} & voice=$!
        sleep 1
        orca --debug-file={log} --disable=braille --disable=braille-monitor & reader=$!
        sleep 12
        {sys.executable} {__file__} {home} {log}
        kill $reader $voice $bus
    """
    screen = subprocess.Popen(["Xvfb", SCREEN, "-screen", "0", "1440x900x24"])  # noqa: S607
    try:
        time.sleep(1)
        begun = ["dbus-run-session", "--", "sh", "-c", script]
        subprocess.run(begun, env=own, check=False, stderr=subprocess.DEVNULL)
    finally:
        screen.terminate()
        shutil.rmtree(home, ignore_errors=True)


if __name__ == "__main__":
    main()
