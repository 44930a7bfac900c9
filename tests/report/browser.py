"""A headless Chromium driven by the DevTools protocol through a pipe: no driver, no port, no library."""

from __future__ import annotations

import fcntl
import json
import os
import select
import shutil
import subprocess
import time
from base64 import b64decode
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--remote-debugging-pipe",
)
PATIENCE_S = 60.0
READS, WRITES = 3, 4  # where Chromium looks for the pipe


def chromium() -> str | None:
    """The path of a Chromium on this machine, if there is one that can be driven through a pipe."""
    if os.name == "nt":
        return None
    return next(filter(None, map(shutil.which, NAMES)), None)


class Browser:
    """One browser with one page. `events` holds all that the page has told since it was last opened."""

    def __init__(self, path: str, profile: Path) -> None:
        to_read, to_write = os.pipe()
        answers, answering = os.pipe()
        child = [fcntl.fcntl(end, fcntl.F_DUPFD, 10) for end in (to_read, answering)]

        def hand_over() -> None:
            os.dup2(child[0], READS)
            os.dup2(child[1], WRITES)

        self.process = subprocess.Popen(
            [path, *FLAGS, f"--user-data-dir={profile}", "about:blank"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=(READS, WRITES),
            preexec_fn=hand_over,
        )
        for end in (to_read, answering, *child):
            os.close(end)
        self.commands, self.answers = to_write, answers
        self.number, self.received = 0, b""
        self.session: str | None = None
        self.events: list[dict[str, Any]] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def close(self) -> None:
        """End the browser that was started here."""
        self.session = None
        try:
            self.call("Browser.close")
        except OSError:
            self.process.kill()
        self.process.wait(PATIENCE_S)
        os.close(self.commands)
        os.close(self.answers)

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """The result of one command of the protocol."""
        self.number += 1
        message: dict[str, Any] = {"id": self.number, "method": method, "params": parameters}
        if self.session is not None:
            message["sessionId"] = self.session
        os.write(self.commands, json.dumps(message).encode() + b"\0")
        while True:
            answer = self.next_message()
            if answer.get("id") == self.number:
                assert "error" not in answer, f"{method}: {answer['error']}"
                return answer["result"]

    def next_message(self) -> dict[str, Any]:
        """What comes next through the pipe; events are kept as well."""
        limit = time.monotonic() + PATIENCE_S
        while b"\0" not in self.received:
            ready, _, _ = select.select([self.answers], [], [], max(limit - time.monotonic(), 0.0))
            content = os.read(self.answers, 1 << 20) if ready else b""
            if not content:
                raise OSError("the browser does not answer")
            self.received += content
        message, _, self.received = self.received.partition(b"\0")
        told: dict[str, Any] = json.loads(message)
        if "method" in told:
            self.events.append(told)
        return told

    def told(self, *methods: str) -> list[dict[str, Any]]:
        """The parameters of all events of these kinds since the page was opened."""
        return [event["params"] for event in self.events if event["method"] in methods]

    def open(self, path: Path, width: int = 1280, height: int = 900, scripts: bool = True) -> None:
        """Open a file and wait until it is there."""
        self.events.clear()
        self.call("Emulation.setScriptExecutionDisabled", value=not scripts)
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.call("Page.navigate", url=path.as_uri())
        while not self.told("Page.loadEventFired"):
            self.next_message()

    def evaluate(self, expression: str) -> Any:
        """The value of an expression in the page; promises are waited for."""
        result = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in result, result["exceptionDetails"]
        return result["result"].get("value")

    def press(self, key: str, code: int) -> None:
        """Press and release a key."""
        for kind in ("rawKeyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code)

    def printed(self) -> bytes:
        """The page as PDF, as its style sheet for print has it."""
        return b64decode(self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=False)["data"])

    def screenshot(self) -> bytes:
        """What is on the screen, as PNG."""
        return b64decode(self.call("Page.captureScreenshot", format="png")["data"])
