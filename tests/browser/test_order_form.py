"""The form of an order in a browser: two windows, faults, every key, panels of one's own.

Its states are judged by axe-core (WCAG 2 A and AA), light and dark.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import expect

from tests.browser.conftest import Site
from tests.browser.orders import Window, blank_order, judged, kept, part, step


def test_two_windows_lose_nothing(watched: Window, site: Site) -> None:
    context = watched()
    one = blank_order(context, site.address)
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
    judged(one, "two windows", "#top")
    one.get_by_role("button", name="Keep what I wrote here").click()
    kept(one)
    assert tomllib.loads(one.locator("#toml").input_value())["cloth"][0]["name"] == "kelp print"
    # two steps at once: the second waits for the first
    one.get_by_role("button", name="Undo").dblclick()
    expect(one.locator("#f-cloth-0-name")).to_have_value("cloth")
    one.get_by_role("button", name="Redo").dblclick()
    expect(one.locator("#f-cloth-0-name")).to_have_value("kelp print")
    expect(one.locator("#notice-refused")).to_have_count(0)


def test_faults_stand_beside_their_fields(watched: Window, site: Site) -> None:
    page = blank_order(watched(), site.address)
    width = page.locator("#f-cloth-0-width")
    width.fill("wide")
    expect(page.locator("#f-cloth-0-width-faults")).to_contain_text("is not a length")
    expect(width).to_have_attribute("aria-invalid", "true")
    expect(width).to_have_value("wide")
    judged(page, "faults", "#order")
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
    judged(page, "a text that is no TOML", "#order")
    # a slip that is TOML, and yet no list: its fault is told, and the fields can be shown
    page.locator("#toml").fill(text.replace("[[caps]]", "[caps]"))
    expect(page.locator("#mend")).to_contain_text("must be a list")
    page.get_by_role("button", name="As fields").click()
    expect(part(page, "Caps 1")).to_have_count(0)
    expect(page.locator("#f-cloth-0-width")).to_have_value("44 1/2 in")
    page.get_by_role("button", name="As text").click()
    page.locator("#toml").fill("# for the gulls\n" + text)
    page.get_by_role("button", name="As fields").click()
    page.locator("#f-cloth-0-fibre").fill("cotton")
    kept(page)
    changed = page.locator("#toml").input_value()
    assert changed == "# for the gulls\n" + text.replace('"vinyl"', '"cotton"')


def test_every_key_has_words_and_a_control(watched: Window, site: Site) -> None:
    page = blank_order(watched(), site.address)
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


def test_a_panel_of_ones_own(watched: Window, site: Site, tmp_path: Path) -> None:
    drawing = tmp_path / "pocket.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" '
        'viewBox="0 0 100 60"><path d="M5 5H95V55H5Z"/></svg>',
        "utf-8",
    )
    page = blank_order(watched(), site.address)
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
