"""What axe-core (Deque Systems, MPL 2.0; tests only) finds serious on an open page."""

from __future__ import annotations

from typing import Any


def look(page: Any) -> tuple[list[str], int]:
    """What axe finds serious or critical, a line each, and how many texts stood out enough."""
    from axe_playwright_python.sync_playwright import Axe

    answer = Axe().run(page, options={"resultTypes": ["violations", "passes"]}).response
    bad = [
        f"{found['id']} ({found['impact']}) {node['target']}: {node['html'][:160]} "
        f"{node.get('failureSummary', '')}"
        for found in answer["violations"]
        if found["impact"] in ("serious", "critical")
        for node in found["nodes"]
    ]
    legible = [len(rule["nodes"]) for rule in answer["passes"] if rule["id"] == "color-contrast"]
    return bad, sum(legible)


def unroll(page: Any) -> None:
    """Open every fact and make the window so tall that none of them is scrolled away.

    axe judges the contrast of what is on the screen only.
    """
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    if page.get_attribute("#sheet-button", "aria-expanded") == "false":
        page.evaluate("document.querySelector('#sheet-button').click()")
    width = page.viewport_size["width"]
    hidden = "(f => f.scrollHeight - f.clientHeight)(document.querySelector('#facts'))"
    for _ in range(4):
        missing = page.evaluate(hidden)
        if missing <= 1:
            return
        tall = page.viewport_size["height"] + missing + 50
        page.set_viewport_size({"width": width, "height": tall})
    raise AssertionError("the facts do not fit on any screen")
