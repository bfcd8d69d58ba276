"""Debian's Firefox, driven over WebDriver BiDi, for what Chromium alone would not show.

Playwright drives only a Firefox of its own build. Firefox itself speaks the W3C's WebDriver BiDi
(https://www.w3.org/TR/webdriver-bidi/) on a socket; what the tests need of it is a few commands.
"""

from __future__ import annotations

import base64
import itertools
import json
import re
import subprocess
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from websockets.sync.client import connect

if TYPE_CHECKING:
    from types import TracebackType

FIREFOX = "/usr/bin/firefox-esr"

QUIET = """\
user_pref("app.normandy.enabled", false);
user_pref("app.update.auto", false);
user_pref("browser.aboutwelcome.enabled", false);
user_pref("browser.safebrowsing.malware.enabled", false);
user_pref("browser.safebrowsing.phishing.enabled", false);
user_pref("browser.shell.checkDefaultBrowser", false);
user_pref("browser.startup.page", 0);
user_pref("browser.topsites.contile.enabled", false);
user_pref("datareporting.policy.dataSubmissionEnabled", false);
user_pref("extensions.getAddons.cache.enabled", false);
user_pref("geo.enabled", true);
user_pref("network.captive-portal-service.enabled", false);
user_pref("network.connectivity-service.enabled", false);
user_pref("services.settings.server", "data:,#");
user_pref("toolkit.telemetry.reportingpolicy.firstRun", false);
"""
"""Preferences that keep it from asking anything of any network by itself."""


class FirefoxError(Exception):
    """Firefox refused a command, or a page's script failed."""


class Firefox:
    """One headless Firefox with one page.

    Parameters
    ----------
    width, height : int
        Size of the page, CSS pixels.
    start_s : float
        How long it may take to start.

    Raises
    ------
    FirefoxError
        It did not start.
    """

    def __init__(self, *, width: int = 1400, height: int = 900, start_s: float = 60.0) -> None:
        self._open = ExitStack()
        profile = Path(
            self._open.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True))
        )
        (profile / "user.js").write_text(QUIET, encoding="utf-8")
        self._log = profile / "started.log"
        with self._log.open("wb") as log:
            self._process = subprocess.Popen(
                [
                    *(FIREFOX, "--headless", "--no-remote", "--profile", str(profile)),
                    *("--remote-debugging-port", "0"),
                ],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=log,
            )
        self._open.callback(self._end)
        self._numbers = itertools.count(1)
        self.heard: list[dict[str, Any]] = []
        try:
            address = self._address(start_s) + "/session"
            # No keepalive: its thread draws from `random`, which tests seed.
            socket = connect(address, max_size=None, ping_interval=None)
            self._socket = self._open.enter_context(socket)
            self.tell("session.new", capabilities={})
            self.tell("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])
            self.page = self.tell("browsingContext.getTree")["contexts"][0]["context"]
            self.resize(width, height)
        except BaseException:
            self.close()
            raise

    def _address(self, start_s: float) -> str:
        until = time.monotonic() + start_s
        while time.monotonic() < until and self._process.poll() is None:
            found = re.search(r"listening on (ws://\S+)", self._log.read_text(encoding="utf-8"))
            if found:
                return found.group(1)
            time.sleep(0.1)
        raise FirefoxError(f"Firefox did not start within {start_s:.0f} s")

    def tell(self, method: str, **params: Any) -> dict[str, Any]:
        """Give a command and return its result.

        Raises
        ------
        FirefoxError
            It was refused.
        """
        number = next(self._numbers)
        self._socket.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            answer: dict[str, Any] = json.loads(self._socket.recv(timeout=120))
            if answer.get("id") == number:
                break
            self.heard.append(answer)
        if answer["type"] == "error":
            raise FirefoxError(f"{method}: {answer['error']}: {answer['message']}")
        result: dict[str, Any] = answer["result"]
        return result

    def open(self, address: str) -> None:
        """Go to an address and wait until the page has loaded."""
        self.tell("browsingContext.navigate", context=self.page, url=address, wait="complete")

    def resize(self, width: int, height: int) -> None:
        """Give the page so many CSS pixels."""
        size = {"width": width, "height": height}
        self.tell("browsingContext.setViewport", context=self.page, viewport=size)

    def value(self, expression: str) -> Any:
        """Return what an expression gives in the page, a promise awaited, as plain data.

        It runs as the browser's own script, so that a page's content policy does not forbid it.

        Raises
        ------
        FirefoxError
            The script failed.
        """
        found = self.tell(
            "script.evaluate",
            expression=f"(async () => JSON.stringify(await ({expression})) ?? null)()",
            target={"context": self.page},
            awaitPromise=True,
            userActivation=True,
        )
        if found["type"] == "exception":
            raise FirefoxError(found["exceptionDetails"]["text"])
        text = found["result"].get("value")
        return None if text is None else json.loads(text)

    def until(self, expression: str, *, within_s: float = 30.0) -> Any:
        """Ask for an expression until it is true, and return it.

        Raises
        ------
        FirefoxError
            It was not, in that time.
        """
        end = time.monotonic() + within_s
        while time.monotonic() < end:
            found = self.value(expression)
            if found:
                return found
            time.sleep(0.1)
        raise FirefoxError(f"not within {within_s:.0f} s: {expression}")

    def click(self, selector: str) -> None:
        """Press the middle of the first element that a selector finds, with a real pointer.

        It waits until the element lies within the window and has lain still for a frame: a page
        that is still growing above it would move it from under the pointer.
        """
        place = self.until(
            "(async () => { const frame = () => new Promise(requestAnimationFrame);"
            f" const one = document.querySelector({json.dumps(selector)});"
            " one.scrollIntoView({block: 'center', behavior: 'instant'});"
            " const at = () => { const box = one.getBoundingClientRect();"
            " return [box.left + box.width / 2, box.top + box.height / 2]; };"
            " await frame(); const before = at(); await frame(); await frame(); const after = at();"
            " const still = before[0] === after[0] && before[1] === after[1];"
            " return still && after[1] > 0 && after[1] < innerHeight ? after : null; })()"
        )
        steps = [
            {"type": "pointerMove", "x": round(place[0]), "y": round(place[1])},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        self._act({"type": "pointer", "id": "mouse", "actions": steps})

    def type(self, text: str) -> None:
        """Type into what has the focus; special keys as WebDriver's code points."""
        steps = [{"type": kind, "value": key} for key in text for kind in ("keyDown", "keyUp")]
        self._act({"type": "key", "id": "keys", "actions": steps})

    def _act(self, source: dict[str, Any]) -> None:
        self.tell("input.performActions", context=self.page, actions=[source])

    def screenshot(self, file: Path) -> None:
        """Write what the page shows as a PNG."""
        found = self.tell("browsingContext.captureScreenshot", context=self.page)
        file.write_bytes(base64.b64decode(found["data"]))

    def forget(self) -> None:
        """Leave the page of another test, which may still be asking, and forget what was heard."""
        self.open("about:blank")
        self.tell("session.status")
        self.heard.clear()

    def errors(self) -> list[str]:
        """What the page's scripts complained of so far."""
        return [
            str(one["params"]["text"])
            for one in self.heard
            if one.get("method") == "log.entryAdded" and one["params"]["level"] == "error"
        ]

    def asked(self) -> list[str]:
        """Every address that was asked for so far."""
        return [
            str(one["params"]["request"]["url"])
            for one in self.heard
            if one.get("method") == "network.beforeRequestSent"
        ]

    def close(self) -> None:
        """End it."""
        self._open.close()

    def _end(self) -> None:
        self._process.terminate()
        try:
            self._process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def __enter__(self) -> Self:
        """Return it."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End it."""
        self.close()
