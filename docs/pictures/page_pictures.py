"""Makes the pictures of the local page: ``python -m docs.pictures.page_pictures``, in the
project's own folder. Needs Chromium.

The order is the one of the tour, nested anew, so its lay differs a little each time.
"""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, expect

from cutfiles.pipeline.store import FOLDER_VARIABLE
from tests.browser.chromium import chromium

HERE = Path(__file__).resolve().parent
NEST_MS = 120_000


@contextmanager
def served() -> Iterator[str]:
    """The address of a server with a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "cutfiles", "serve", "--port", "0", "--folder", folder]
        env = {**os.environ, FOLDER_VARIABLE: folder, "PYTHONPATH": str(HERE.parents[1])}
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as server:
            assert server.stdout is not None
            found = re.search(r"http://\S+", server.stdout.readline())
            assert found
            try:
                yield found[0]
            finally:
                server.terminate()


def photograph(page: Page, name: str) -> None:
    """What the window shows, in few colours."""
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    picture.quantize(96).save(HERE / f"{name}.png", optimize=True)


def tour(page: Page) -> None:
    """The steps of the tour, each with its picture."""
    page.get_by_role("button", name="Start with an empty order").click()
    expect(page.get_by_label("Title")).to_be_visible()
    page.get_by_label("Title").fill("Caps for the Tern Street wildlife clinic (invented)")
    page.locator("#f-length_unit").select_option("in")
    for field, value in (
        ("cloth-0-name", "kelp-print cotton"),
        ("cloth-0-width", "44"),
        ("cloth-0-selvedge", "1/2"),
        ("caps-0-quantity", "12"),
        ("machine-kerf", "0.2 mm"),
    ):
        page.locator(f"#f-{field}").fill(value)
    expect(page.get_by_text("Nothing to mend")).to_be_visible()
    expect(page.get_by_role("heading", name="12 × tie-back M")).to_be_visible()
    page.mouse.wheel(0, -10_000)
    page.wait_for_timeout(500)
    photograph(page, "page-order")
    page.get_by_role("link", name="Lay").click()
    page.get_by_label("Seconds to search").fill("20")
    page.locator("#nest-it").click()
    expect(page.locator("#running")).to_be_visible()
    expect(page.locator("#running")).to_be_hidden(timeout=NEST_MS)
    expect(page.get_by_role("heading", name="Result 1")).to_be_visible()
    photograph(page, "page-lay")
    crowns = page.locator('[data-piece$="-crown"][role=button] > path:first-of-type')
    boxes = [box for crown in crowns.all() if (box := crown.bounding_box())]
    cloth = page.locator("svg.lay .cloth").bounding_box()
    assert cloth
    heart = cloth["y"] + cloth["height"] / 2
    middles = [(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) for box in boxes]
    middles.sort(key=lambda middle: abs(middle[1] - heart))
    (to_x, to_y), *_, (x, y) = middles
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(to_x + 25, to_y - 15, steps=8)
    expect(page.locator("svg.lay .clash").first).to_be_attached()
    photograph(page, "page-hand")
    page.mouse.up()
    page.keyboard.press("Escape")
    page.get_by_role("link", name="4 Cut files").click()
    page.wait_for_timeout(500)
    photograph(page, "page-files")


def main() -> None:
    """Write all pictures beside this script."""
    with served() as address, chromium() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 860}, color_scheme="light")
        page.goto(address)
        tour(page)


if __name__ == "__main__":
    main()
