"""An order in a browser from the first word to its cut files, used as a maker uses it: by pointer,
by touch and by keys alone.

Its states are judged by axe-core (WCAG 2 A and AA), light and dark.
"""

from __future__ import annotations

import io
import json
import math
import re
import tomllib
import zipfile
from itertools import combinations
from pathlib import Path

import pyogrio
import pytest
import shapely
from playwright.sync_api import Locator, Page, expect

from cutfiles.job.written import LAYER_NAMES
from tests.browser.conftest import PATIENCE_MS, Site
from tests.browser.orders import (
    PIECES_A_CAP,
    Window,
    blank_order,
    judged,
    kept,
    middle,
    nest,
    nested,
    part,
    step,
)

PHONE = {"width": 390, "height": 844}
TABLET = {"width": 820, "height": 900}
"""Too narrow for the form beside the lay: less to go through by keys."""
CAPS = 3
"""Few, yet two of three crowns lie the same way round: plain cloth allows two ways."""


def demo_order(page: Page) -> None:
    """Like the demo, all of it invented: caps of size M on 44 in of kelp-print cotton, by laser."""
    page.get_by_label("Title").fill("Caps for the Tern Street wildlife clinic (invented)")
    page.get_by_label("Unit", exact=True).first.select_option("in")
    cloth = part(page, "Cloth 1")
    expect(cloth.get_by_label("Width")).to_have_value("1120 mm")  # it is as wide as before
    cloth.get_by_label("Name").fill("kelp-print cotton")
    cloth.get_by_label("Width").fill("44")
    cloth.get_by_label("Selvedge").fill("1/2 in")
    part(page, "Caps 1").get_by_label("How many").fill(str(CAPS))
    part(page, "What cuts it").get_by_label("Kerf").fill("0.2 mm")
    kept(page)


def drag(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move((start[0] + end[0]) / 2, (start[1] + end[1]) / 2, steps=4)
    page.mouse.move(*end, steps=4)
    page.mouse.up()


def two_alike(page: Page) -> tuple[str, str]:
    """Two crowns of one size that lie the same way round: over each other they are on the cloth."""
    order = page.url.partition("/jobs/")[2].partition("#")[0]
    run = page.evaluate("async id => (await fetch(`/api/jobs/${id}/run`)).json()", order)
    crowns = [p for lay in run["lays"] for p in lay["pieces"] if p["id"].endswith("-crown")]
    alike = ((a, b) for a, b in combinations(crowns, 2) if a["turn_deg"] == b["turn_deg"])
    one, other = next(alike)
    return one["id"], other["id"]


def further_in(page: Page, piece: str) -> tuple[float, float]:
    """The middle of a piece, and some pixels from there to the middle of the lay: a piece like it
    that is dragged there stays on the cloth, whatever the pixels round."""
    box = page.locator("svg.lay").first.bounding_box()
    assert box is not None
    x, y = middle(page, piece)
    towards = box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0
    return x + math.copysign(8.0, towards[0] - x), y + math.copysign(8.0, towards[1] - y)


def test_the_demo_from_a_blank_page(watched: Window, site: Site, tmp_path: Path) -> None:
    page = blank_order(watched(), site.address)
    demo_order(page)
    expect(page.get_by_text("Nothing to mend")).to_be_visible()
    nest(page, "60")
    judged(page, "while it nests")
    # a window that is opened anew goes on with it
    page.reload()
    expect(page.locator("#running")).to_be_visible()
    drawn = page.locator("svg.lay g[data-piece]")
    expect(drawn).to_have_count(CAPS * PIECES_A_CAP, timeout=3 * PATIENCE_MS)
    # the order can be written meanwhile, and what is made is the order as it was
    page.get_by_label("Title").fill("Tern Street, written while it nests (invented)")
    kept(page)
    page.get_by_role("button", name="Stop, and keep the best so far").click()
    nested(page, 1)
    expect(page.get_by_text("The order was changed since this was nested")).to_be_visible()
    pieces = page.locator("svg.lay [data-piece][role=button]")
    expect(pieces).to_have_count(CAPS * PIECES_A_CAP)

    # one crown into another that lies as it does: seen, said, refused, and nothing moved
    one, other = two_alike(page)
    cap, next_cap = (f"crown of cap {int(piece.split('-')[1])}" for piece in (one, other))
    before = page.locator("#toml").input_value()
    there = further_in(page, other)
    page.mouse.move(*middle(page, one))
    page.mouse.down()
    page.mouse.move(*there, steps=6)
    expect(page.locator("svg.lay .clash")).not_to_have_count(0)
    expect(page.locator(".verdict.no")).to_contain_text(next_cap)
    expect(page.locator("#alarm")).to_contain_text("It cannot lie here")
    judged(page, "a piece on another", "#lay")
    page.mouse.up()
    expect(page.locator("#alarm")).to_contain_text("It cannot lie here")
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator("svg.lay .clash")).to_have_count(0)
    kept(page)
    assert page.locator("#toml").input_value() == before

    # pinned where it lies; on a pinned piece another is refused for good
    drag(page, middle(page, one), middle(page, one))
    page.get_by_role("button", name="Pin it where it lies").click()
    expect(page.locator(f'[data-piece="{one}"].pinned')).to_have_count(1)
    pinned = tomllib.loads(page.locator("#toml").input_value())["pinned"]
    assert [pin["piece"] for pin in pinned] == [one]
    drag(page, middle(page, other), further_in(page, one))
    expect(page.locator(".verdict.no")).to_contain_text("Refused, and put back")
    expect(page.locator(".verdict.no")).to_contain_text(cap)
    nest(page, "1")
    nested(page, 2)

    # taken
    step(page, "Cut files").click()
    expect(page.locator(".cautions")).to_contain_text("extinguisher")
    expect(page.locator(".cautions")).to_contain_text("not a medical device")
    page.get_by_text("Two results side by side").click()
    expect(page.locator(".pair svg.lay")).to_have_count(2)
    page.get_by_text("Its preview").click()
    expect(page.frame_locator("iframe.preview").locator("h1")).to_contain_text("Tern Street")
    judged(page, "the cut files", "#files")
    with page.expect_download() as taking:
        page.get_by_role("link", name="Take everything as one zip").click()
    taken = zipfile.ZipFile(io.BytesIO(Path(taking.value.path()).read_bytes()))
    job = tomllib.loads(taken.read("job.toml").decode())
    assert job["cloth"][0] == {
        "name": "kelp-print cotton",
        "width": 44,
        "selvedge": "1/2 in",
        "fibre": "cotton",
    }
    assert job["caps"] == [{"style": "tie-back", "size": "M", "quantity": CAPS}]
    drawing = tmp_path / "lay-01.dxf"
    drawing.write_bytes(taken.read("lay-01.dxf"))
    where = f"Layer = '{LAYER_NAMES['outline']}'"
    # reference: GDAL's reader, which this project had no hand in
    _, _, outlines, _ = pyogrio.raw.read(drawing, where=where)
    assert len(outlines) == CAPS * PIECES_A_CAP  # derived
    x0, y0, x1, y1 = shapely.total_bounds(shapely.from_wkb(outlines))
    assert min(x0, y0) >= -0.02
    assert y1 <= (44 - 2 * 0.5) * 25.4 + 0.02  # the international inch of 1959
    lay = json.loads(taken.read("summary.json"))["lays"][0]
    assert x1 <= lay["length_mm"] + 0.02  # what a fit of arcs may add
    held = {row["id"]: row for row in lay["pieces"]}[one]
    assert held["at_mm"] == pytest.approx([float(at.removesuffix(" mm")) for at in pinned[0]["at"]])


def tab_to(page: Page, aim: Locator, key: str = "Tab") -> None:
    """Go on by one key until the focus is there, as somebody without a pointer does."""
    for _ in range(300):
        page.keyboard.press(key)
        if aim.evaluate("one => one === document.activeElement"):
            return
    pytest.fail(f"{aim} is not reached by {key}")


def test_by_keys_alone(watched: Window, site: Site) -> None:
    page = watched(viewport=TABLET).new_page()
    page.goto(site.address)
    tab_to(page, page.get_by_role("button", name="Start with an empty order"))
    page.keyboard.press("Enter")
    expect(page.get_by_label("Title")).to_be_visible()
    tab_to(page, part(page, "Caps 1").get_by_label("How many"))
    page.keyboard.press("Control+A")
    page.keyboard.type("2")
    tab_to(page, step(page, "Lay"), "Shift+Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#lay-head")).to_be_focused()
    tab_to(page, page.get_by_label("Seconds to search"))
    page.keyboard.press("Control+A")
    page.keyboard.type("60")
    page.keyboard.press("Tab")
    expect(page.locator("#nest-it")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#far")).to_contain_text("Nesting")
    expect(page.get_by_role("button", name="Stop, and keep")).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Drop this nest")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#running")).to_be_hidden(timeout=3 * PATIENCE_MS)
    expect(page.locator("#nest-it")).to_be_focused()
    expect(page.get_by_text("No lay yet")).to_be_visible()
    # the way past the top leads to the step that is shown
    tab_to(page, page.get_by_role("link", name="Go to the work"), "Shift+Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#work")).to_be_focused()
    expect(page.locator("#lay-head")).to_be_visible()

    # thrown away, and on to an order that was nested before
    order = page.url.partition("/jobs/")[2].partition("#")[0]
    tab_to(page, page.get_by_role("link", name="All orders"), "Shift+Tab")
    page.keyboard.press("Enter")
    # others may be called so, too
    row = page.get_by_role("listitem").filter(has=page.locator(f"a[href$='/jobs/{order}']"))
    tab_to(page, row.get_by_role("button", name="Throw"))
    page.keyboard.press("Enter")
    expect(row.get_by_role("button", name="Keep it")).to_be_focused()
    judged(page, "the list of orders")
    page.keyboard.press("Shift+Tab")
    expect(row.get_by_role("button", name="Yes")).to_be_focused()
    page.keyboard.press("Enter")
    expect(row).to_have_count(0)
    tab_to(page, page.get_by_role("link", name="Nested before"))
    page.keyboard.press("Enter")
    expect(page.locator("#kept")).to_have_text("Kept")
    tab_to(page, step(page, "Lay"))
    page.keyboard.press("Enter")

    # a piece is taken up, pushed off the cloth, refused and put back
    first = page.locator("svg.lay [data-piece][tabindex='0']")
    tab_to(page, first)
    piece = first.get_attribute("data-piece")
    taken_up = page.locator(f'[data-piece="{piece}"][aria-pressed=true]')
    page.keyboard.press("Enter")
    expect(taken_up).to_have_count(1)
    expect(page.locator("#said")).to_contain_text("is taken up")
    left_mm = first.locator("path").first.evaluate("one => one.getBBox().x")
    for _ in range(int(left_mm / 10.0) + 1):
        page.keyboard.press("ArrowLeft")
    expect(page.locator(".verdict.no")).to_contain_text("there is usable cloth")
    page.keyboard.press("Enter")
    expect(page.locator("#alarm")).to_contain_text("Refused, and put back")
    expect(taken_up).to_have_count(0)

    # it turns as its grain allows, and Escape lays it back
    page.keyboard.press("r")
    expect(taken_up).to_have_count(1)
    expect(page.locator(".hand")).to_contain_text(re.compile(r"turned (0|180)°"))
    page.keyboard.press("Escape")
    expect(page.locator("#said")).to_contain_text("It is back")
    page.keyboard.press("ArrowRight" if left_mm < 1.0 else "ArrowLeft")
    expect(page.locator(f'[data-piece="{piece}"]:focus')).to_have_count(0)
    expect(page.locator("svg.lay [data-piece]:focus")).to_have_count(1)
    page.keyboard.press("p")
    pinned = page.locator("svg.lay .pinned:focus")
    expect(pinned).to_have_count(1)
    assert len(tomllib.loads(page.locator("#toml").input_value())["pinned"]) == 1
    page.keyboard.press("u")
    expect(pinned).to_have_count(0)
    assert "pinned" not in tomllib.loads(page.locator("#toml").input_value())

    tab_to(page, step(page, "Cut files"), "Shift+Tab")
    page.keyboard.press("Enter")
    tab_to(page, page.get_by_role("link", name="Take everything as one zip"))
    with page.expect_download() as taking:
        page.keyboard.press("Enter")
    assert zipfile.is_zipfile(taking.value.path())


def empty_cloth(page: Page) -> tuple[tuple[float, float], tuple[float, float]]:
    """A stroke upwards that begins at the edge of the lay, where no piece lies."""
    box = page.locator("svg.lay").first.bounding_box()
    assert box is not None
    x, y = box["x"] + 1.0, box["y"] + box["height"] / 2.0
    return (x, y), (x, y - 200.0)


def test_a_finger_on_a_narrow_screen(watched: Window, site: Site) -> None:
    context = watched(viewport=PHONE, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto(site.laid[1])
    expect(page.get_by_label("Title")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    step(page, "Pieces").tap()
    expect(page.locator("#pieces-work svg.pattern")).to_have_count(3)  # crown, band, tie
    judged(page, "pieces on a narrow screen")
    step(page, "Lay").tap()
    expect(page.get_by_role("heading", name="Result 1, lay-01")).to_be_visible()
    judged(page, "a lay on a narrow screen", "#lay")
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    finger = context.new_cdp_session(page)

    def stroke(start: tuple[float, float], end: tuple[float, float]) -> None:
        points = [start, ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2), end]
        kinds = ["touchStart", "touchMove", "touchMove"]
        for kind, (x, y) in zip(kinds, points, strict=True):
            where = [{"x": x, "y": y}]
            finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": where})
        finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    crown = "cap-001-crown"
    there, band = middle(page, crown), middle(page, "cap-001-band")
    # a finger that was not there before may scroll: nothing is moved
    stroke(there, band)
    expect(page.locator("svg.lay .held")).to_have_count(0)
    page.locator(f'[data-piece="{crown}"][role=button] > path').first.tap()
    expect(page.locator(f'[data-piece="{crown}"].chosen')).to_have_count(1)
    there, band = middle(page, crown), middle(page, "cap-001-band")
    stroke(there, (there[0], band[1]))
    expect(page.locator(".verdict.no")).to_contain_text("band of cap 1")
    # one that scrolls from beside the pieces puts nothing back
    stroke(*empty_cloth(page))
    expect(page.locator(f'[data-piece="{crown}"].held')).to_have_count(1)
    page.get_by_role("button", name="Pin it all the same").tap()
    expect(page.locator(f'[data-piece="{crown}"].pinned')).to_have_count(1)
    judged(page, "a pinned piece", "#lay")
    expect(page.get_by_text("1 pinned piece moved since the nest")).to_be_visible()
