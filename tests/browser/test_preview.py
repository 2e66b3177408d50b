"""The preview in a browser: moved, zoomed, chosen from, measured, played, printed; by keys, too."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
import shapely
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from cutfiles.effort import Effort
from cutfiles.pipeline.make import Made, make_job
from tests.browser.conftest import OpenPage
from tests.conftest import ONE_CAP, SMALL_JOB

JOB = SMALL_JOB.replace(ONE_CAP, ONE_CAP.replace("quantity = 1", "quantity = 2"))
HOSTILE = "</script><img src=x onerror='document.title=1'>&\\\"<!--"


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Two caps; read only."""
    folder = tmp_path_factory.mktemp("preview")
    job = folder / "job.toml"
    job.write_text(f'title = "{HOSTILE}"\nlength_unit = "cm"\n' + cm(JOB), encoding="utf-8")
    return make_job(job, folder / "out", Effort(0.0, 1))


def cm(job: str) -> str:
    """The small job's lengths, in centimetres."""
    return (
        job.replace("width = 1117.6", "width = 111.76")
        .replace("selvedge = 12.7", "selvedge = 1.27")
        .replace("kerf = 0.2", "kerf = 0.02")
    )


@pytest.fixture
def page(made: Made, open_page: OpenPage) -> Page:
    """The preview, opened and scrolled to its lay."""
    page = open_page(made.folder / "preview.html", viewport={"width": 1280, "height": 1000})
    page.locator(".stage").scroll_into_view_if_needed()
    return page


def box_of(page: Page, selector: str) -> dict[str, float]:
    """Where a shape of the picture is on the screen, its stroke not counted."""
    found = page.locator(selector).first.evaluate(
        """(shape) => {
          const box = shape.getBBox(), place = shape.getScreenCTM();
          const at = (x, y) => new DOMPoint(x, y).matrixTransform(place);
          const [one, other] = [at(box.x, box.y), at(box.x + box.width, box.y + box.height)];
          return {
            x: Math.min(one.x, other.x), y: Math.min(one.y, other.y),
            width: Math.abs(other.x - one.x), height: Math.abs(other.y - one.y),
          };
        }"""
    )
    return {key: float(value) for key, value in found.items()}


AT_REST = """
() => new Promise((done) => {
  const sheet = document.querySelector(".sheet");
  const look = () => (sheet.style.transform === "none" ? done() : requestAnimationFrame(look));
  requestAnimationFrame(() => requestAnimationFrame(look));
})
"""


def settled(page: Page) -> dict[str, float]:
    """Where the first outline is on the screen, the picture at rest."""
    page.evaluate(AT_REST)
    return box_of(page, ".role-outline [data-p='0']")


def outline_centre(page: Page, number: int) -> tuple[float, float]:
    box = box_of(page, f".role-outline [data-p='{number}']")
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_a_hostile_title_is_only_a_title(page: Page) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text(HOSTILE.replace('\\"', '"'))
    assert page.title() == HOSTILE.replace('\\"', '"')
    assert page.locator("img").count() == 0


def test_nothing_can_be_fetched(made: Made, browser: Browser) -> None:
    # the page's own policy stops it before the network is asked (Content Security Policy Level 3)
    page = browser.new_page()
    page.goto((made.folder / "preview.html").as_uri())
    tried = page.evaluate("() => fetch('data:text/plain,x').then(() => 'fetched', () => 'refused')")
    assert tried == "refused"
    page.close()


def test_keys_move_and_zoom(page: Page) -> None:
    stage = page.locator(".stage")
    before = settled(page)
    stage.focus()
    page.keyboard.press("+")
    page.keyboard.press("+")
    zoomed = settled(page)
    # two steps of 1.5
    assert zoomed["width"] == pytest.approx(2.25 * before["width"], rel=0.02)
    page.keyboard.press("ArrowUp")
    assert settled(page)["y"] == pytest.approx(zoomed["y"] + 60.0, abs=1.0)
    page.keyboard.press("-")
    page.keyboard.press("0")
    assert settled(page) == pytest.approx(before, abs=1.0)


def test_a_drag_and_the_wheel(page: Page) -> None:
    page.get_by_role("button", name="Zoom in").click()
    page.get_by_role("button", name="Zoom in").click()
    before = settled(page)
    edge = box_of(page, ".role-cloth .edge")
    x, y = edge["x"] + edge["width"] / 2, edge["y"] + edge["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 10, y - 50, steps=4)
    page.mouse.up()
    after = settled(page)
    assert after["y"] == pytest.approx(before["y"] - 50, abs=1.5)
    expect(page.locator(".chosen")).to_have_count(0)  # a drag chooses nothing
    page.locator(".stage").focus()
    page.mouse.wheel(0, -300)
    assert settled(page)["width"] > 1.3 * after["width"]


def test_a_drag_that_ends_beyond_the_picture_ends(page: Page) -> None:
    page.get_by_role("button", name="Zoom in").click()
    edge = page.locator(".stage").bounding_box()
    assert edge is not None
    x, y = edge["x"] + edge["width"] / 2, edge["y"] + edge["height"]
    page.mouse.move(x, y - 2)
    page.mouse.down()
    page.mouse.move(x, y + 9)
    page.mouse.up()
    before = settled(page)
    page.mouse.move(x, y - 50)
    page.mouse.move(x - 100, y - 200, steps=4)
    assert settled(page) == pytest.approx(before, abs=0.5)


def test_two_fingers_zoom(page: Page) -> None:
    before = settled(page)
    page.locator(".stage").evaluate(
        """(stage) => {
          const edge = stage.getBoundingClientRect();
          const middle = edge.left + edge.width / 2, y = edge.top + edge.height / 2;
          stage.setPointerCapture = () => {};
          const finger = (kind, pointerId, x) => stage.dispatchEvent(new PointerEvent(kind,
            { pointerId, pointerType: "touch", clientX: middle + x, clientY: y, bubbles: true }));
          finger("pointerdown", 1, -50); finger("pointerdown", 2, 50);
          for (let x = 60; x <= 100; x += 10) {
            finger("pointermove", 1, -x); finger("pointermove", 2, x);
          }
          finger("pointerup", 1, -100); finger("pointerup", 2, 100);
        }"""
    )
    # the fingers end twice as far apart
    assert settled(page)["width"] == pytest.approx(2.0 * before["width"], rel=0.05)


def test_roles_are_switched(page: Page) -> None:
    stitches = page.locator(".stage .role-stitch")
    expect(stitches).to_be_visible()
    page.get_by_label("stitch lines").uncheck()
    expect(stitches).to_be_hidden()
    page.get_by_label("cutting order").check()
    expect(page.locator(".role-order text").first).to_be_visible()
    page.get_by_label("way of the tool").check()
    expect(page.locator(".role-way.all .travel")).to_be_visible()
    assert page.get_by_label("stitch lines").is_checked() is False


def test_a_piece_is_chosen_and_told(page: Page, made: Made) -> None:
    plan, lay = made.plans[0], made.lays[0]
    first = next(s.piece_id for s in plan.strokes if s.role == "outline")
    placed = next(p for p in lay.placed if p.ordered.id == first)
    page.mouse.click(*outline_centre(page, 0))
    card = page.get_by_label("The chosen piece")
    said = page.locator("[aria-live=polite].said")
    expect(said).to_contain_text(f"1: {placed.ordered.name}, {placed.ordered.cap}")
    expect(card).to_contain_text(placed.ordered.label)
    expect(card).to_contain_text(f"{placed.outline.area / 100:.1f} cm²")
    # reference: shapely, between the pieces as nested, each with half a kerf round it
    others = [p for p in lay.placed if p is not placed]
    gap = min(placed.placed_outline.distance(p.placed_outline) for p in others) - 0.2
    told = re.search(r"([\d.]+) cm to", card.inner_text())
    assert told
    assert float(told[1]) == pytest.approx(gap / 10.0, abs=0.006)
    page.locator(".stage").focus()
    page.keyboard.press("n")
    expect(said).to_contain_text("2: ")
    page.keyboard.press("p")
    page.keyboard.press("p")
    expect(page.locator(".pick")).to_have_value(str(len(lay.placed) - 1))
    page.keyboard.press("Escape")
    expect(page.locator(".chosen")).to_have_count(0)
    page.locator(".pick").select_option("3")
    expect(page.locator(".chosen")).to_have_attribute("data-p", "3")
    card.get_by_role("button").first.focus()
    page.keyboard.press("Enter")
    expect(card).to_be_focused()
    expect(page.locator(".chosen")).not_to_have_attribute("data-p", "3")


def test_the_ruler_measures(page: Page, made: Made) -> None:
    lay = made.lays[0]
    edge = box_of(page, ".role-cloth .edge")
    scale = edge["width"] / lay.length_mm
    page.get_by_role("button", name="Ruler").click()
    x, y = edge["x"] + 0.3 * edge["width"], edge["y"] + 0.5 * edge["height"]
    page.mouse.click(x, y)
    page.mouse.click(x + 300, y + 40)
    told = page.locator(".measured output")
    expect(told).to_contain_text("across")
    figures = [float(figure) for figure in re.findall(r"([\d.]+) cm", told.inner_text())]
    wanted = [part / scale / 10.0 for part in ((300**2 + 40**2) ** 0.5, 300, 40)]
    assert figures == pytest.approx(wanted, rel=0.01)
    # by keys: ten steps of 10 pixels along
    page.locator(".stage").focus()
    page.keyboard.press("Enter")
    for _ in range(10):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    figures = [float(figure) for figure in re.findall(r"([\d.]+) cm", told.inner_text())]
    assert figures == pytest.approx([100 / scale / 10, 100 / scale / 10, 0], rel=0.01, abs=0.005)
    page.keyboard.press("Escape")
    expect(told).to_be_hidden()


def test_the_cutting_is_played(page: Page, made: Made) -> None:
    clock = page.get_by_label("Time")
    # the machine's own time, to rounding
    assert float(clock.get_attribute("max") or 0) == pytest.approx(made.plans[0].time_s, abs=0.05)
    clock.focus()
    clock.evaluate("(e) => { e.value = 0.5 * e.max; e.dispatchEvent(new Event('input')); }")
    half = page.locator(".role-way .done").count()
    assert 0 < half < len(page.locator(".role-way .cut, .role-way .mark").all())
    expect(page.locator(".now")).to_contain_text("step")
    page.keyboard.press("End")
    expect(page.locator(".now")).to_contain_text("done.")
    expect(page.locator(".role-way path:not(.done):not(.travel)")).to_have_count(0)
    page.keyboard.press("Home")
    expect(page.locator(".role-way .done")).to_have_count(0)
    page.get_by_label("Speed").select_option("1")
    page.get_by_role("button", name="Play the cutting").click()
    expect(page.locator(".now")).to_contain_text("step")
    page.get_by_role("button", name="Pause").click()
    stopped = clock.input_value()
    page.wait_for_timeout(60)
    assert clock.input_value() == stopped


def test_light_and_dark(made: Made, open_page: OpenPage) -> None:
    page = open_page(made.folder / "preview.html", color_scheme="dark")

    def ground() -> int:
        """How light the page is, 0 to 255."""
        colour = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
        return int(re.findall(r"\d+", colour)[0])

    assert ground() < 60
    page.get_by_label("Page colours").select_option("light")
    assert ground() > 200
    page.emulate_media(color_scheme="light")
    page.get_by_label("Page colours").select_option("dark")
    assert ground() < 60
    page.get_by_label("Page colours").select_option("")
    assert ground() > 200


def test_it_prints_all_of_the_lay_and_no_controls(page: Page, tmp_path: Path) -> None:
    page.get_by_role("button", name="Zoom in").click()
    page.get_by_label("Page colours").select_option("dark")
    page.emulate_media(media="print")
    for hidden in ("button", "select", "input", ".card"):
        assert not any(one.is_visible() for one in page.locator(hidden).all()), hidden
    page.pdf(path=tmp_path / "printed.pdf", format="A4", print_background=True)
    # reference: PDFium draws the pages and reads their text
    with pypdfium2.PdfDocument(tmp_path / "printed.pdf") as printed:
        words = "".join(sheet.get_textpage().get_text_range() for sheet in printed)
        pictures = [np.asarray(sheet.render(scale=1).to_pil().convert("RGB")) for sheet in printed]
    assert len(pictures) <= 3
    assert "not certified protective equipment" in words
    assert "Play the cutting" not in words
    assert all((picture[5, 5] == 255).all() for picture in pictures)
    # the picture of the lay: blue outlines, not cut off at the edges of their page
    blue = [abs(picture.astype(int) - (0, 114, 178)).sum(axis=2) < 90 for picture in pictures]
    (drawn,) = [where for where in blue if where.sum() > 200]
    rows, columns = np.nonzero(drawn)
    assert rows.min() > 10
    assert rows.max() < drawn.shape[0] - 10
    assert columns.min() > 10
    assert columns.max() < drawn.shape[1] - 10
    # of a lay that is higher than wide the height is bound; 85 of 100 of the page
    assert rows.max() - rows.min() > 0.6 * drawn.shape[0]


def test_it_is_of_use_without_script(made: Made, open_page: OpenPage) -> None:
    page = open_page(made.folder / "preview.html", java_script_enabled=False)
    for shown in (".stage .role-outline", ".stage .role-label", ".cautions"):
        expect(page.locator(shown)).to_be_visible()
    assert not any(one.is_visible() for one in page.locator("button, select, input").all())


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_fault_of_access(scheme: Any, made: Made, open_page: OpenPage) -> None:
    # reference: axe-core, the rules of WCAG 2 A and AA among them, contrast included
    page = open_page(made.folder / "preview.html", color_scheme=scheme)
    page.locator(".pick").select_option("1")
    results = Axe().run(page)
    wrong = [
        (fault["id"], node["html"])
        for fault in results.response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]
    assert wrong == []
    assert len(results.response["passes"]) > 10


def test_a_telephone_shows_it_without_scrolling_sideways(made: Made, open_page: OpenPage) -> None:
    page = open_page(
        made.folder / "preview.html", viewport={"width": 390, "height": 844}, has_touch=True
    )
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
    page.locator(".stage").scroll_into_view_if_needed()
    page.touchscreen.tap(*outline_centre(page, 1))
    expect(page.locator(".chosen")).to_have_attribute("data-p", "1")


def test_the_outlines_on_the_screen_are_those_of_the_lay(page: Page, made: Made) -> None:
    # reference: shapely, the pieces as nested with half a kerf round them; corners are mitred
    lay = made.lays[0]
    kerf = made.job.machine.kerf_mm
    shown = page.evaluate(
        """() => [...document.querySelectorAll(".stage .role-outline [data-p]")].map((path) => {
          const long = path.getTotalLength(), points = [];
          for (let k = 0; k < 600; k += 1) {
            const { x, y } = path.getPointAtLength((k / 600) * long);
            points.push([x / 100, y / 100]);
          }
          return points;
        })"""
    )
    wanted = [p.placed_outline.buffer(kerf / 2.0, join_style="mitre").area for p in lay.placed]
    areas = [shapely.Polygon(points).area for points in shown]
    assert sorted(areas) == pytest.approx(sorted(wanted), rel=2e-3)


def test_the_script_is_what_the_package_holds() -> None:
    # a page that imports the modules one by one runs the same code
    from cutfiles.preview.page import SCRIPTS, script_of_page

    folder = Path(__file__).parents[2] / "cutfiles" / "preview"
    assert {path.name for path in folder.glob("*.js")} == set(SCRIPTS)
    whole = script_of_page()
    for name in SCRIPTS:
        text = (folder / name).read_text("utf-8")
        body = [line for line in text.splitlines() if not line.startswith("import ")]
        assert "\n".join(body).strip() in whole
        for imported in re.findall(r'^import .* from "\./(.*)";$', text, re.MULTILINE):
            assert SCRIPTS.index(imported) < SCRIPTS.index(name)
