"""What the tests of the local page do in it, and how a state of it is judged."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Literal

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import BrowserContext, Locator, Page, expect

from tests.browser.conftest import PATIENCE_MS

Window = Callable[..., BrowserContext]
"""Opens a browser window that is watched."""

PIECES_A_CAP = 4
"""Of a hemmed tie-back cap: crown, band and two ties (docs/reference/tie-back.md)."""

_JUDGE = """
async ([part, options]) => {
  const said = { resultTypes: ["violations"], ...options };
  const { violations } = await axe.run(part ?? document, said);
  return violations.map(({ id, nodes }) => [id, nodes.map(({ target }) => target)]);
}
"""


def judged(page: Page, where: str, part: str | None = None) -> None:
    """No rule of axe-core is broken on the page or in a part of it, in light and in dark."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    schemes: dict[Literal["light", "dark"], Any] = {
        "light": {},
        "dark": {"runOnly": ["color-contrast"]},
    }
    for scheme, options in schemes.items():
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate(_JUDGE, [part, options]) == [], f"{where}, {scheme}"
    page.emulate_media(color_scheme="light")


def kept(page: Page) -> None:
    expect(page.locator("#kept[data-state=kept]")).to_be_visible()


def part(page: Page, name: str) -> Locator:
    """A part of the form, by the beginning of its heading."""
    return page.get_by_role("region", name=re.compile(f"^{name}"))


def step(page: Page, name: str) -> Locator:
    """The link at the top that leads to a step of the order."""
    return page.get_by_role("navigation").get_by_role("link", name=name)


def blank_order(context: BrowserContext, site: str) -> Page:
    page = context.new_page()
    page.goto(site)
    page.get_by_role("button", name="Start with an empty order").click()
    expect(page.get_by_label("Title")).to_be_visible()
    return page


def nest(page: Page, seconds: str) -> None:
    step(page, "Lay").click()
    page.get_by_label("Seconds to search").fill(seconds)
    page.locator("#nest-it").click()
    expect(page.locator("#running")).to_be_visible()


def nested(page: Page, result: int) -> None:
    """The nest has ended, and its result is what is shown."""
    expect(page.locator("#running")).to_be_hidden(timeout=3 * PATIENCE_MS)
    expect(page.get_by_role("heading", name=f"Result {result}, lay-01")).to_be_visible()


def middle(page: Page, piece: str) -> tuple[float, float]:
    """Where a piece of the lay is seen, in pixels of the window, once the whole lay is in view."""
    body = page.locator(f'[data-piece="{piece}"][role=button] > path').first
    body.evaluate(
        "one => one.ownerSVGElement.scrollIntoView({block: 'center', behavior: 'instant'})"
    )
    box = body.bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
