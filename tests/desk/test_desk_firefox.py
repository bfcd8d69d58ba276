"""The desk in Firefox: it opens, follows the minute, and asks nothing of anybody else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from running_desk import Running

pytestmark = [pytest.mark.browser, pytest.mark.slow]

RIGHT = "\ue014"
"""The arrow key to the right (WebDriver, table of key codes)."""


def test_it_opens_and_follows_the_minute(firefox: Any, running: Running) -> None:
    firefox.forget()
    firefox.open(running.address)
    firefox.until("document.documentElement.dataset.ready === 'yes'", within_s=60.0)
    before = firefox.value("document.getElementById('answer').textContent")
    firefox.value("document.getElementById('minute').focus()")
    firefox.type(RIGHT * 3)
    answer = firefox.until(
        "document.getElementById('answer').textContent !== "
        f"{before!r} && document.getElementById('answer').textContent"
    )

    def minutes(text: str) -> int:
        return int(text[:2]) * 60 + int(text[3:5])

    assert (minutes(answer) - minutes(before)) % 1440 == 3
    firefox.until("[...document.querySelectorAll('#frames img')].some(one => one.naturalWidth)")
    firefox.click("#theme")
    assert firefox.value("document.documentElement.dataset.theme") == "red"
    assert firefox.errors() == []
    own = running.address.split("/?")[0]
    assert [one for one in firefox.asked() if not one.startswith((own, "data:", "blob:"))] == []
