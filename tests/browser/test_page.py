"""The local page, used as a maker uses it: in a browser, by pointer, by touch and by keys alone.

Every page of these tests is watched: whatever it asks for goes to the server that was started
here, and no script stumbles. Its states are judged by axe-core (WCAG 2 A and AA), light and dark.
"""

from __future__ import annotations

import io
import json
import math
import os
import re
import signal
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import pyogrio
import pytest
import shapely
from axe_playwright_python.sync_playwright import DEFAULT_OPTIONS, Axe
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from cutfiles.job.written import LAYER_NAMES
from cutfiles.pipeline.store import FOLDER_VARIABLE
from tests.conftest import ROOT

DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 60_000
"""For what takes the program seconds on a machine that has other work."""
PIECES_A_CAP = 4
"""Of a hemmed tie-back cap: crown, band and two ties (docs/reference/tie-back.md)."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server of its own, with an empty folder of orders."""
    folder = tmp_path_factory.mktemp("orders")
    command = [sys.executable, "-m", "cutfiles", "serve", "--port", "0", "--folder", str(folder)]
    env = {**os.environ, FOLDER_VARIABLE: str(folder / "kept lays"), "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as server:
        assert server.stdout is not None
        found = re.search(r"http://[\d.]+:\d+/", server.stdout.readline())
        assert found
        try:
            yield found[0]
        finally:
            server.send_signal(signal.SIGINT)
            ended = server.wait(30)
        assert ended in (0, 130)


@pytest.fixture
def watched(browser: Browser, site: str) -> Iterator[Callable[..., BrowserContext]]:
    """Makes browser windows that are watched: where they ask, and what goes wrong in them."""
    asked: list[str] = []
    stumbles: list[str] = []
    contexts: list[BrowserContext] = []

    def make(**how: Any) -> BrowserContext:
        context = browser.new_context(**{"viewport": DESK, "accept_downloads": True, **how})
        context.set_default_timeout(15_000)
        context.on("request", lambda request: asked.append(request.url))
        context.on("weberror", lambda error: stumbles.append(str(error.error)))
        context.on("console", lambda message: stumbles.append(message.text))
        contexts.append(context)
        return context

    yield make
    for context in contexts:
        context.close()
    assert asked
    assert [url for url in asked if not url.startswith((site, "blob:", "data:"))] == []
    # a refusal with words, which the page shows, is no stumble
    refusal = re.compile(r"Failed to load resource: .* status of (409|422) ")
    assert [said for said in stumbles if not refusal.match(said)] == []


def judged(page: Page, where: str) -> None:
    """No rule of axe-core is broken here, in light and in dark."""
    colours = {"runOnly": ["color-contrast"], "resultTypes": ["violations"]}
    schemes: dict[Literal["light", "dark"], Any] = {"light": DEFAULT_OPTIONS, "dark": colours}
    for scheme, options in schemes.items():
        page.emulate_media(color_scheme=scheme)
        found = Axe().run(page, options=options).response["violations"]
        told = [(rule["id"], [node["target"] for node in rule["nodes"]]) for rule in found]
        assert told == [], f"{where}, {scheme}"
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


def demo_order(page: Page) -> None:
    """The demo, all of it invented: 12 caps of size M on 44 in of kelp-print cotton, by laser."""
    page.get_by_label("Title").fill("Caps for the Tern Street wildlife clinic (invented)")
    page.get_by_label("Unit", exact=True).first.select_option("in")
    cloth = part(page, "Cloth 1")
    expect(cloth.get_by_label("Width")).to_have_value("1120 mm")  # it is as wide as before
    cloth.get_by_label("Name").fill("kelp-print cotton")
    cloth.get_by_label("Width").fill("44")
    cloth.get_by_label("Selvedge").fill("1/2 in")
    part(page, "Caps 1").get_by_label("How many").fill("12")
    part(page, "What cuts it").get_by_label("Kerf").fill("0.2 mm")
    kept(page)


def nest(page: Page, seconds: str) -> None:
    step(page, "Lay").click()
    page.get_by_label("Seconds to search").fill(seconds)
    page.locator("#nest-it").click()
    expect(page.locator("#running")).to_be_visible()


def nested(page: Page, result: int) -> None:
    """The nest has ended, and its result is what is shown."""
    expect(page.locator("#running")).to_be_hidden(timeout=PATIENCE_MS)
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
    turn = crowns[0]["turn_deg"]
    one, other, *_ = (p["id"] for p in crowns if p["turn_deg"] == turn)
    return one, other


def further_in(page: Page, piece: str) -> tuple[float, float]:
    """The middle of a piece, and some pixels from there to the middle of the lay: a piece like it
    that is dragged there stays on the cloth, whatever the pixels round."""
    box = page.locator("svg.lay").first.bounding_box()
    assert box is not None
    x, y = middle(page, piece)
    towards = box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0
    return x + math.copysign(8.0, towards[0] - x), y + math.copysign(8.0, towards[1] - y)


def test_the_demo_from_a_blank_page(
    watched: Callable[..., BrowserContext], site: str, tmp_path: Path
) -> None:
    page = blank_order(watched(), site)
    demo_order(page)
    expect(page.get_by_text("Nothing to mend")).to_be_visible()
    nest(page, "1")
    judged(page, "while it nests")
    nested(page, 1)
    pieces = page.locator("svg.lay [data-piece][role=button]")
    expect(pieces).to_have_count(12 * PIECES_A_CAP)  # derived: four pieces a cap

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
    judged(page, "a piece on another")
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
    judged(page, "the cut files")
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
    assert job["caps"] == [{"style": "tie-back", "size": "M", "quantity": 12}]
    drawing = tmp_path / "lay-01.dxf"
    drawing.write_bytes(taken.read("lay-01.dxf"))
    where = f"Layer = '{LAYER_NAMES['outline']}'"
    # GDAL's reader, which this project had no hand in
    _, _, outlines, _ = pyogrio.raw.read(drawing, where=where)
    assert len(outlines) == 12 * PIECES_A_CAP
    x0, y0, x1, y1 = shapely.total_bounds(shapely.from_wkb(outlines))
    assert min(x0, y0) >= -0.02
    assert y1 <= (44 - 2 * 0.5) * 25.4 + 0.02  # the international inch of 1959
    lay = json.loads(taken.read("summary.json"))["lays"][0]
    assert x1 <= lay["length_mm"] + 0.02  # what a fit of arcs may add
    held = {row["id"]: row for row in lay["pieces"]}[one]
    assert held["at_mm"] == pytest.approx([float(at.removesuffix(" mm")) for at in pinned[0]["at"]])


def test_a_reload_during_a_nest(watched: Callable[..., BrowserContext], site: str) -> None:
    page = blank_order(watched(), site)
    part(page, "Caps 1").get_by_label("How many").fill("6")
    kept(page)
    nest(page, "60")
    expect(page.locator("#far")).to_contain_text("Nesting")
    page.reload()
    expect(page.locator("#running")).to_be_visible()
    drawn = page.locator("svg.lay g[data-piece]")
    expect(drawn).to_have_count(6 * PIECES_A_CAP, timeout=PATIENCE_MS)
    # the order can be written meanwhile, and what is made is the order as it was
    page.get_by_label("Title").fill("Written while it nests")
    kept(page)
    page.get_by_role("button", name="Stop, and keep the best so far").click()
    nested(page, 1)
    expect(page.get_by_text("The order was changed since this was nested")).to_be_visible()
    assert tomllib.loads(page.locator("#toml").input_value())["title"] == "Written while it nests"
    # dropped: the result before stays
    nest(page, "60")
    expect(page.locator("#far")).to_contain_text("Nesting")
    page.get_by_role("button", name="Drop this nest").click()
    nested(page, 1)
    page.get_by_role("link", name="All orders").click()
    row = page.get_by_role("listitem").filter(has_text="Written while it nests")
    row.get_by_role("button", name="Throw").click()
    expect(row.get_by_role("button", name="Keep it")).to_be_focused()
    judged(page, "the list of orders")
    row.get_by_role("button", name="Yes").click()
    expect(row).to_have_count(0)


def test_two_windows_lose_nothing(watched: Callable[..., BrowserContext], site: str) -> None:
    context = watched()
    one = blank_order(context, site)
    other = watched().new_page()  # a browser of its own, which nobody tells of changes
    other.goto(one.url)
    expect(other.get_by_label("Title")).to_be_visible()
    part(one, "Cloth 1").get_by_label("Width").fill("44 in")
    kept(one)
    part(other, "Caps 1").get_by_label("How many").fill("12")
    expect(other.locator("#notices")).to_contain_text("Both are kept")
    kept(other)
    expect(other.locator("#f-cloth-0-width")).to_have_value("44 in")
    text = tomllib.loads(other.locator("#toml").input_value())
    assert (text["cloth"][0]["width"], text["caps"][0]["quantity"]) == ("44 in", 12)

    # the same place by both: nobody's is thrown away in silence
    part(other, "Cloth 1").get_by_label("Name").fill("gull print")
    kept(other)
    part(one, "Cloth 1").get_by_label("Name").fill("kelp print")
    expect(one.locator("#notices")).to_contain_text("There: gull print, here: kelp print")
    judged(one, "two windows")
    one.get_by_role("button", name="Keep what I wrote here").click()
    kept(one)
    assert tomllib.loads(one.locator("#toml").input_value())["cloth"][0]["name"] == "kelp print"
    one.get_by_role("button", name="Undo").click()
    expect(one.locator("#f-cloth-0-name")).to_have_value("gull print")
    one.get_by_role("button", name="Redo").click()
    expect(one.locator("#f-cloth-0-name")).to_have_value("kelp print")


def test_faults_stand_beside_their_fields(
    watched: Callable[..., BrowserContext], site: str
) -> None:
    page = blank_order(watched(), site)
    width = page.locator("#f-cloth-0-width")
    width.fill("wide")
    expect(page.locator("#f-cloth-0-width-faults")).to_contain_text("is not a length")
    expect(width).to_have_attribute("aria-invalid", "true")
    expect(width).to_have_value("wide")
    judged(page, "faults")
    page.get_by_role("button", name="Go to Cloth 1, width").click()
    expect(width).to_be_focused()
    step(page, "Lay").click()
    expect(page.locator("#nest-it")).to_be_disabled()
    width.fill("44 1/2 in")
    expect(width).to_have_attribute("aria-invalid", "false")
    page.locator("#f-cloth-0-fibre").fill("vinyl")
    expect(page.locator("#f-cloth-0-fibre-faults")).to_contain_text("refused on a laser")

    # the text is always at hand, and says in which line it cannot be read
    page.get_by_role("button", name="As text").click()
    text = page.locator("#toml").input_value()
    assert 'width = "44 1/2 in"' in text
    page.locator("#toml").fill("# for the gulls\n" + text + "\n[costs\n")
    expect(page.locator("#mend")).to_contain_text("not a TOML file")
    judged(page, "a text that is no TOML")
    page.locator("#toml").fill("# for the gulls\n" + text)
    page.get_by_role("button", name="As fields").click()
    page.locator("#f-cloth-0-fibre").fill("cotton")
    kept(page)
    changed = page.locator("#toml").input_value()
    assert changed == "# for the gulls\n" + text.replace('"vinyl"', '"cotton"')


def test_every_key_has_words_and_a_control(
    watched: Callable[..., BrowserContext], site: str
) -> None:
    page = blank_order(watched(), site)
    form = page.evaluate("async () => (await fetch('/api/form')).json()")
    words = page.evaluate("async () => (await import('/static/key_words.js')).KEY_WORDS")
    tables = {key["name"]: key["keys"] for key in form["keys"] if "keys" in key}
    tables["job"] = [key for key in form["keys"] if "keys" not in key]
    told = {table: set(keys) for table, keys in words.items()}
    roles = ("files.layers.", "files.colours.")
    for table, keys in tables.items():
        named = {name for name in _names(keys) if not name.startswith(roles)}
        assert named == told[table], table
    page.eval_on_selector_all("details", "all => all.forEach((one) => { one.open = true; })")
    for table in ("job", "cloth", "machine"):
        for key in tables[table]:
            count = page.locator(f'#fields [data-key="{key["name"]}"]').count()
            # what one machine alone has is asked where that is what cuts
            assert (count > 0) == ("laser" in key.get("only_for", ["laser"])), (table, key["name"])
    judged(page, "every fold open")


def _names(keys: list[dict[str, Any]], above: str = "") -> Iterator[str]:
    for key in keys:
        yield above + key["name"]
        yield from _names(key.get("keys", []), f"{above}{key['name']}.")


def tab_to(page: Page, aim: Locator, key: str = "Tab") -> None:
    """Go on by one key until the focus is there, as somebody without a pointer does."""
    for _ in range(300):
        page.keyboard.press(key)
        if aim.evaluate("one => one === document.activeElement"):
            return
    pytest.fail(f"{aim} is not reached by {key}")


def test_by_keys_alone(watched: Callable[..., BrowserContext], site: str) -> None:
    page = watched().new_page()
    page.goto(site)
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
    page.keyboard.type("1")
    page.keyboard.press("Tab")
    expect(page.locator("#nest-it")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#running")).to_be_visible()
    expect(page.get_by_role("button", name="Stop, and keep")).to_be_focused()
    nested(page, 1)

    # a piece is taken up, pushed off the cloth, refused and put back
    first = page.locator("svg.lay [data-piece][tabindex='0']")
    tab_to(page, first)
    piece = first.get_attribute("data-piece")
    taken_up = page.locator(f'[data-piece="{piece}"][aria-pressed=true]')
    page.keyboard.press("Enter")
    expect(taken_up).to_have_count(1)
    expect(page.locator("#said")).to_contain_text("is taken up")
    for _ in range(200):
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
    page.keyboard.press("ArrowRight")
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


def test_a_finger_on_a_narrow_screen(watched: Callable[..., BrowserContext], site: str) -> None:
    context = watched(viewport=PHONE, has_touch=True, is_mobile=True)
    page = blank_order(context, site)
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    part(page, "Caps 1").get_by_label("How many").fill("1")
    step(page, "Pieces").tap()
    expect(page.locator("#pieces-work svg.pattern")).to_have_count(3)  # crown, band, tie
    judged(page, "pieces on a narrow screen")
    nest(page, "1")
    nested(page, 1)
    judged(page, "a lay on a narrow screen")
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
    page.get_by_role("button", name="Pin it all the same").tap()
    expect(page.locator(f'[data-piece="{crown}"].pinned')).to_have_count(1)
    judged(page, "a pinned piece")
    expect(page.get_by_text("1 pinned piece moved since the nest")).to_be_visible()


def test_a_panel_of_ones_own(
    watched: Callable[..., BrowserContext], site: str, tmp_path: Path
) -> None:
    drawing = tmp_path / "pocket.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" '
        'viewBox="0 0 100 60"><path d="M5 5H95V55H5Z"/></svg>',
        "utf-8",
    )
    page = blank_order(watched(), site)
    page.get_by_label("Add a panel of your own").set_input_files(drawing)
    expect(part(page, "Panel of your own 1")).to_be_visible()
    expect(page.get_by_role("img", name=re.compile("drawn to scale"))).to_have_count(4)
    expect(page.locator("#pieces-work")).to_contain_text("90 mm by 50 mm")  # derived from its path
    panel = part(page, "Panel of your own 1")
    panel.get_by_label("How many").fill("10")
    kept(page)
    assert tomllib.loads(page.locator("#toml").input_value())["panels"][0]["quantity"] == 10
    panel.get_by_role("button", name="Take out").click()
    expect(part(page, "Panel of your own 1")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(part(page, "Panel of your own 1")).to_be_visible()
    # what cannot be read is refused beside its field
    drawing.write_text("no drawing", "utf-8")
    page.get_by_label("Add a panel of your own").set_input_files(drawing)
    expect(page.locator(".upload .finding.error")).to_be_visible()
