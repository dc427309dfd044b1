"""The rig's box for the browser tests: the program as a process of its own, and phones that join it in Chromium."""

from __future__ import annotations

import os
import queue
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect

from tests.bot.rooms.at_work import free_port

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), "")
START_S = 60.0
PATIENCE_MS = 30_000
"""Of a wait for something that a busy machine does late."""
PHONE = {"width": 390, "height": 844}

expect.set_options(timeout=PATIENCE_MS)


class Box:
    """`crosslay page` on this machine."""

    def __init__(self, folder: Path, *drills: Path) -> None:
        self.port = free_port()
        self.url = f"https://127.0.0.1:{self.port}/"
        self._folder = folder
        self._drills = drills
        self._codes: queue.Queue[str] = queue.Queue()
        self.lines: list[str] = []
        self.start()

    def start(self) -> None:
        """Start the program on its record; again after `kill`."""
        self._codes = queue.Queue()
        environment = {
            **os.environ,
            "HOME": str(self._folder),
            "XDG_DATA_HOME": str(self._folder / "data"),
            "XDG_CONFIG_HOME": str(self._folder / "config"),
            "CROSSLAY_PAGE_LISTEN": f"127.0.0.1:{self.port}",
            "CROSSLAY_DATABASE": str(self._folder / "record.sqlite"),
            "CROSSLAY_TIMEZONE": "UTC",
        }
        drills = [word for drill in self._drills for word in ("--drill", str(drill))]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "bot", "page", *drills],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=environment,
            cwd=Path(__file__).parents[4],
        )
        threading.Thread(target=self._read, args=(self.process,), daemon=True).start()

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        with process.stdout:
            for line in process.stdout:
                self.lines.append(line.rstrip())
                for code in re.findall(r"code (\d{8})", line):
                    self._codes.put(code)

    def code(self) -> str:
        """A code that lets one phone in."""
        try:
            return self._codes.get(timeout=START_S)
        except queue.Empty:
            raise AssertionError("no code on the console:\n" + "\n".join(self.lines)) from None

    def kill(self) -> None:
        """Its power is gone."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        """End it as a person would."""
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.kill()
            raise


class Phone:
    """One browser with the page in it."""

    def __init__(self, context: BrowserContext, box: Box) -> None:
        self.context = context
        self.box = box
        self.page: Page = context.new_page()
        self.faults: list[str] = []
        """What the browser complained of."""
        self.asked: list[str] = []
        """Every address that was asked for."""
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("console", lambda said: self.faults.append(said.text) if said.type == "error" else None)
        self.page.on("request", lambda request: self.asked.append(request.url))

    def join(self, name: str, role: str, code: str = "") -> None:
        """Come in by a code, as the QR code's address brings it."""
        self.page.goto(f"{self.box.url}#{code or self.box.code()}")
        self.page.fill("#name", name)
        self.page.check(f"input[value={role}]")
        self.page.click("#door-go")
        expect(self.page.locator("#me")).to_contain_text(name)

    def view(self, name: str) -> None:
        """Touch a view's tab."""
        self.page.click(f"#tabs [data-view={name}]")

    def type(self, words: str) -> None:
        """Say something by typing."""
        self.page.fill("#text", words)
        self.page.press("#text", "Enter")

    @property
    def entries(self) -> list[str]:
        """The conversation."""
        found: list[str] = self.page.locator("#entries > li").all_text_contents()
        return found

    def until(self, true: Callable[[], bool], what: str) -> None:
        """Wait until something is so."""
        end = time.monotonic() + PATIENCE_MS / 1000
        while not true():
            assert time.monotonic() < end, f"never: {what}; {self.entries[-6:]}, {self.box.lines[-5:]}"
            self.page.wait_for_timeout(50)


@contextmanager
def chromium(playwright: Playwright, sound: Path | None = None) -> Iterator[Browser]:
    """A browser; `sound`: what its microphone hears, once, from the moment it is opened."""
    arguments = ["--no-sandbox", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
                 "--autoplay-policy=no-user-gesture-required"]  # fmt: skip
    if sound is not None:
        arguments.append(f"--use-file-for-fake-audio-capture={sound}%noloop")
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=arguments)
    try:
        yield browser
    finally:
        browser.close()


@contextmanager
def phone(browser: Browser, box: Box, **manner: object) -> Iterator[Phone]:
    """A phone of its own: nothing is shared with others."""
    context = browser.new_context(**{"viewport": PHONE, **manner}, ignore_https_errors=True)  # type: ignore[arg-type]
    context.grant_permissions(["microphone"])
    context.set_default_timeout(PATIENCE_MS)
    try:
        yield Phone(context, box)
    finally:
        context.close()
