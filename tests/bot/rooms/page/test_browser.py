"""The page in a real browser: Debian's Chromium, driven by Playwright; its microphone hears a WAV file."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

pytest.importorskip("playwright", reason="Playwright's Python package isn't installed (extra “test”)")

from playwright.sync_api import Browser, Playwright, expect, sync_playwright

from bot.rooms.panel.dialogue import as_wav
from tests.bot.rooms.page.box import CHROMIUM, Box, Phone, chromium, phone
from tests.bot.speech.conftest import joe

__all__ = ["joe"]

pytestmark = [
    pytest.mark.skipif(not CHROMIUM, reason="no Chromium here (Debian: apt install chromium)"),
    pytest.mark.xdist_group("chromium"),
]

Samples = NDArray[np.float32]
DRILL = Path(__file__).parents[3] / "readme" / "session.drill"
AXE = os.environ.get("CROSSLAY_AXE", "")
SIZES = {"phone": (360, 740), "tablet": (1024, 768), "cab": (1280, 800)}
TARGET_PX = 56


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as playing:
        yield playing


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    with chromium(playwright) as opened:
        yield opened


@pytest.fixture
def box(tmp_path: Path) -> Iterator[Box]:
    running = Box(tmp_path, DRILL)
    yield running
    if running.process.poll() is None:
        running.stop()


@pytest.fixture
def kim(browser: Browser, box: Box) -> Iterator[Phone]:
    with phone(browser, box) as one:
        one.join("Kim", "driver")
        yield one


def test_what_is_typed_is_answered_and_the_board_follows(kim: Phone) -> None:
    page = kim.page
    kim.type("two lines, 200 feet, 1.75, second floor")
    expect(page.locator("#latest")).to_contain_text("175 psi, 300 gpm")
    page.get_by_role("button", name="Crosslay 1", exact=True).click()
    expect(page.locator(".hold .huge")).to_have_text("170 psi")
    expect(page.locator(".line.flowing")).to_contain_text("150 gpm")
    before = page.locator(".course .figure").text_content()
    kim.until(lambda: page.locator(".course .figure").text_content() != before, "the tank's figure falls")
    page.get_by_role("button", name="Why: Crosslay 1").click()
    expect(page.locator("#why-list")).to_contain_text("100 nozzle + 70 friction")
    page.locator("#why [data-close]").click()
    page.get_by_role("button", name="Gate: Crosslay 1").click()
    for digit in "100":
        page.get_by_role("button", name=digit, exact=True).click()
    page.locator("#gate-go").click()
    expect(page.locator(".line.gated")).to_contain_text("100 gpm")
    page.get_by_role("button", name="Shut: Crosslay 1", exact=True).click()
    expect(page.locator(".line.shut")).to_contain_text("Crosslay 1")
    assert kim.faults == []
    assert all(url.startswith((kim.box.url, "blob:")) for url in kim.asked), "a request to elsewhere"


def test_benchmarks_are_one_touch_with_undo_and_two_screens_see_the_same(
    kim: Phone, browser: Browser, box: Box
) -> None:
    with phone(browser, box) as lee:
        lee.join("Lee", "officer")
        lee.page.get_by_role("button", name="On scene", exact=True).click()
        for one in (kim, lee):
            one.view("officer")
            expect(one.page.get_by_role("button", name="Undo: On scene")).to_be_visible()
        lee.page.get_by_role("button", name="Water on the fire").click()
        expect(kim.page.get_by_role("button", name="Undo: Water on the fire")).to_be_visible()
        lee.page.get_by_role("button", name="Undo: Water on the fire").click()
        expect(kim.page.get_by_role("button", name="Water on the fire", exact=True)).to_be_visible()
        kim.type("engine 9 going in with 2, lowest gauge 4400")
        expect(lee.page.locator(".crew")).to_contain_text("Engine 9 (2)")
        lee.type("mayday mayday mayday")
        for one in (kim, lee):
            expect(one.page.locator("#alert")).to_contain_text("MAYDAY")
            expect(one.page.locator("#alert")).to_contain_text("Use the radio")
        kim.until(lambda: kim.page.evaluate("crosslay.made.loud") > 0, "the loud sound")
        lee.until(lambda: sorted(kim.entries) == sorted(lee.entries), "the same talk")


def test_a_question_is_answered_by_its_button(kim: Phone) -> None:
    kim.type("on scene")
    kim.type("all clear on the second floor")
    kim.page.locator("#latest").get_by_role("button", name="primary").click()
    expect(kim.page.locator("#latest")).to_contain_text("Primary search")
    kim.view("talk")
    expect(kim.page.locator("#entries").get_by_role("button", name="primary")).to_be_disabled()


def test_press_speak_let_go_and_it_is_answered_aloud(
    playwright: Playwright, box: Box, tmp_path: Path, joe: Callable[[str], Samples]
) -> None:
    with chromium(playwright, _wav(tmp_path, joe("crosslay one, third floor"))) as browser, phone(browser, box) as kim:
        kim.join("Kim", "driver")
        button = kim.page.locator("#press")
        button.dispatch_event("pointerdown", {"pointerId": 1})
        expect(button).to_have_class("live")
        kim.page.wait_for_timeout(3_500)  # so long the sentence is
        button.dispatch_event("pointerup", {"pointerId": 1})
        expect(kim.page.locator("#latest")).to_contain_text("180 psi")
        kim.until(lambda: kim.page.evaluate("crosslay.made.spoken") == 1, "the answer is spoken")
        kim.view("talk")
        expect(kim.page.locator(".entry.said.mine").last).to_contain_text("crosslay one third floor")
        assert not kim.faults


def test_hands_free_by_the_call_name_is_answered_aloud(
    playwright: Playwright, box: Box, tmp_path: Path, joe: Callable[[str], Samples]
) -> None:
    quiet = np.zeros(16_000, np.float32)
    said = np.concatenate([quiet, joe("pump twelve, crosslay one, third floor"), np.zeros(64_000, np.float32)])
    with chromium(playwright, _wav(tmp_path, said)) as browser, phone(browser, box) as kim:
        kim.join("Kim", "driver")
        kim.page.click("#menu-button")
        kim.page.click("#handsfree")
        kim.page.locator("#menu [data-close]").click()
        expect(kim.page.locator("#ear")).to_contain_text("pump twelve")
        expect(kim.page.locator("#latest")).to_contain_text("180 psi")
        kim.until(lambda: kim.page.evaluate("crosslay.made.spoken") == 1, "the answer is spoken")
        kim.view("talk")
        own = kim.page.locator(".entry.said.mine").filter(has_text="as heard").first
        expect(own).to_contain_text("crosslay one third floor")
        kim.page.reload()
        kim.view("talk")
        expect(own).to_contain_text("crosslay one third floor")
        assert not kim.faults


def _wav(folder: Path, samples: Samples) -> Path:
    path = folder / "microphone.wav"
    path.write_bytes(as_wav(samples))
    return path


def test_a_box_that_loses_its_power_is_said_and_nothing_is_lost_or_doubled(kim: Phone) -> None:
    kim.type("on scene")
    expect(kim.page.locator("#latest")).to_contain_text("On scene")
    kim.box.kill()
    expect(kim.page.locator("#lost")).to_contain_text("No connection to the rig's box for")
    kim.type("water on the fire")
    kim.type("primary search complete")
    expect(kim.page.locator("#lost")).to_contain_text("2 kept to be sent")
    kim.view("talk")
    expect(kim.page.locator(".pending")).to_have_count(2)
    kim.page.goto("about:blank")  # the browser may be closed meanwhile
    kim.box.start()
    kim.box.code()
    kim.page.goto(kim.box.url)
    kim.view("officer")
    expect(kim.page.get_by_role("button", name="Undo: Primary search complete")).to_be_visible()
    kim.view("talk")
    expect(kim.page.locator(".pending")).to_have_count(0)
    for words in ("on scene", "water on the fire", "primary search complete"):
        assert sum(entry.endswith(words) for entry in kim.entries) == 1, words
    assert sum("Water on the fire" in entry for entry in kim.entries) == 1


def test_a_connection_that_breaks_comes_back_by_itself(kim: Phone) -> None:
    kim.type("on scene")
    expect(kim.page.locator("#latest")).to_contain_text("On scene")
    kim.box.kill()
    expect(kim.page.locator("#lost")).to_be_visible()
    kim.type("under control")
    kim.box.start()
    expect(kim.page.locator("#latest")).to_contain_text("Under control")
    expect(kim.page.locator("#lost")).to_be_hidden()
    kim.view("talk")
    assert sum(entry.endswith("under control") for entry in kim.entries) == 1


def test_what_came_while_a_screen_was_away_is_marked_and_sounded(kim: Phone, browser: Browser, box: Box) -> None:
    with phone(browser, box) as lee:
        lee.join("Lee", "officer")
        lee.type("on scene")
        expect(kim.page.locator("#latest")).to_contain_text("On scene")
        kim.context.set_offline(True)
        expect(kim.page.locator("#lost")).to_be_visible()
        lee.type("mayday mayday mayday")
        expect(lee.page.locator("#alert")).to_be_visible()
        kim.context.set_offline(False)
        expect(kim.page.locator("#alert")).to_contain_text("MAYDAY")
        kim.view("talk")
        expect(kim.page.locator(".entry.alert").first).to_contain_text("came while this screen was away")
        assert kim.page.evaluate("crosslay.made.loud") > 0


def test_a_stranger_sees_nothing(kim: Phone, browser: Browser, box: Box) -> None:
    kim.type("dispatch: house fire, 14 Harbor Street")
    expect(kim.page.locator("#title")).to_contain_text("14 Harbor Street")
    with phone(browser, box) as stranger:
        stranger.page.goto(box.url)
        expect(stranger.page.locator("#door h1")).to_be_visible()
        assert "Harbor" not in stranger.page.content()
        stranger.page.fill("#code", "00000000")
        stranger.page.click("#door-go")
        expect(stranger.page.locator("#door-why")).to_contain_text("isn't known")
        closed = stranger.page.evaluate(
            "url => new Promise(done => { const one = new WebSocket(url); one.onclose = () => done(true);"
            " one.onmessage = () => done(false); })",
            f"wss://127.0.0.1:{box.port}/socket",
        )
        assert closed
        for path in ("replays", "replay/last", "file/1", "spoken/1"):
            answer = stranger.page.evaluate("path => fetch(path).then(one => one.status)", f"/{path}")
            assert answer == 401, path


def test_who_is_put_out_is_out(kim: Phone, browser: Browser, box: Box) -> None:
    with phone(browser, box) as lee:
        lee.join("Lee", "crew")
        kim.page.click("#menu-button")
        kim.page.click("#people-open")
        kim.page.get_by_role("button", name="Remove Lee").click()
        expect(lee.page.locator("#door h1")).to_be_visible()
        kim.page.click("#new-code")
        expect(kim.page.locator("#code-shown .qr")).to_be_visible()
        code = kim.page.locator("#code-shown strong").text_content() or ""
        lee.join("Lee", "crew", code)
        lee.page.context.clear_cookies()
        lee.page.goto(f"{box.url}#{code}")  # a code is for one phone
        expect(lee.page.locator("#door-why")).to_contain_text("used already")


def test_a_drill_is_replayed_with_a_timeline(kim: Phone) -> None:
    page = kim.page
    page.click("#menu-button")
    page.click("#replays-open")
    page.get_by_role("button", name="Drill: session").click()
    expect(page.locator("#title")).to_contain_text("REPLAY")
    page.select_option("#speed", "60")
    expect(page.locator(".hold .huge")).to_have_text("170 psi")  # charged at 5:00: five seconds of replay
    page.click("#play")
    page.fill("#slide", "60")
    expect(page.locator(".hold")).to_have_count(0)
    page.fill("#slide", "390")
    expect(page.locator(".course .figure")).to_have_text("250 gal")
    kim.view("talk")
    expect(page.locator("#entries")).to_contain_text("Tank at half")
    page.click("#player-end")
    expect(page.locator("#title")).to_have_text("No incident")
    assert not kim.faults


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_view_fits_has_large_targets_and_no_serious_fault_of_access(
    browser: Browser, box: Box, tmp_path: Path, scheme: str
) -> None:
    """CROSSLAY_SCREENSHOTS names a folder for the pictures; CROSSLAY_AXE the script of axe-core."""
    kept = Path(os.environ.get("CROSSLAY_SCREENSHOTS", tmp_path))
    with phone(browser, box, color_scheme=scheme) as kim:
        code = box.code()
        kim.page.goto(box.url)
        _look(kim, kept, f"door-{scheme}")
        kim.join("Kim", "officer", code)
        for words in (
            "dispatch: house fire, 14 Harbor Street, engine 12, engine 9",
            "on scene",
            "charge crosslay 1",
            "200 feet of 1.75 to the alpha side, charged",
            "gate crosslay 1 to 100 gpm",
            "engine 9 going in with 2, lowest gauge 4400",
            "engine 9 laying in, four minutes out",
            "par check",
            "all clear on the second floor",
        ):
            kim.type(words)
        expect(kim.page.locator("#latest")).to_contain_text("primary")
        for size, (width, height) in SIZES.items():
            kim.page.set_viewport_size({"width": width, "height": height})
            for view in ("driver", "officer", "crew", "talk"):
                kim.view(view)
                _look(kim, kept, f"{view}-{size}-{scheme}")
        kim.type("mayday mayday mayday, engine 9, second floor, out of air")
        expect(kim.page.locator("#alert")).to_be_visible()
        kim.view("crew")
        _look(kim, kept, f"mayday-cab-{scheme}")
        for dialog, button in (("menu", "#menu-button"), ("people", "#people-open")):
            kim.page.click(button)
            _look(kim, kept, f"{dialog}-cab-{scheme}")
    if not AXE:
        pytest.skip("all but axe-core was tried: CROSSLAY_AXE doesn't name its script (npm pack axe-core)")


def _look(kim: Phone, kept: Path, name: str) -> None:
    page = kim.page
    page.wait_for_timeout(100)
    page.screenshot(path=kept / f"{name}.png")
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{name}: {wide} px too wide"
    small = page.evaluate(
        """least => [...document.querySelectorAll("button, input:not([type=radio]), select, label.choice, a")]
            .filter(one => one.checkVisibility() && one.getBoundingClientRect().width)
            .map(one => [one.textContent || one.id, one.getBoundingClientRect()])
            .filter(([, box]) => box.height < least - 0.5 || box.width < least - 0.5).map(([words]) => words)""",
        TARGET_PX,
    )
    assert not small, f"{name}: too small for gloves: {small}"
    if AXE:
        page.evaluate(Path(AXE).read_text("utf-8"))
        found = page.evaluate("axe.run().then(found => found.violations)")
        serious = [
            (one["id"], [node["html"][:120] for node in one["nodes"]][:3])
            for one in found
            if one["impact"] in ("serious", "critical")
        ]
        assert not serious, f"{name}: {json.dumps(serious, indent=1)}"
