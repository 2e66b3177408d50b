"""Makes the pictures of the docs: ``python docs/pictures/make.py``. Needs Chromium on the path.

The lay is the demo's, nested anew, so its picture differs a little each time.
"""

from __future__ import annotations

import io
import re
import sys
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image
from tool_pictures import tool_pictures

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from cutfiles.effort import Effort
from cutfiles.pipeline.draft import draft_job
from cutfiles.pipeline.load import load_job
from cutfiles.pipeline.make import make_job
from cutfiles.pipeline.sheets import JOB_SHEET, TICKETS, print_sheets
from tests.browser.chromium import chromium

HERE = Path(__file__).resolve().parent
DEMO = HERE.parents[1] / "fixtures" / "jobs" / "wildlife-clinic.toml"
SHEET = (
    "<!DOCTYPE html><style>body{{margin:16px;background:#fff}}svg{{width:{width}px}}</style>{svg}"
)


def photograph(page: Path, picture: Path, width: int, height: int) -> None:
    """A picture of a page."""
    with chromium() as browser:
        opened = browser.new_page(viewport={"width": width, "height": height})
        opened.goto(page.as_uri())
        opened.screenshot(path=picture)


def lay_picture(job: Path, picture: str, work: Path) -> None:
    """The lays of a job below each other, as their preview shows them."""
    make_job(job, work, Effort(20.0, 1))
    parts = []
    with chromium() as browser:
        page = browser.new_page(
            viewport={"width": 1440, "height": 900}, java_script_enabled=False, color_scheme="light"
        )
        page.goto((work / "preview.html").as_uri())
        for stage in page.locator(".stage").all():
            parts.append(Image.open(io.BytesIO(stage.screenshot())).convert("RGB"))
    whole = Image.new("RGB", (parts[0].width, sum(part.height for part in parts)))
    for number, part in enumerate(parts):
        whole.paste(part, (0, sum(before.height for before in parts[:number])))
    save(whole, picture)


def preview_pictures(made: Path) -> None:
    """The preview of a folder with a piece chosen and the cutting played, wide and narrow."""
    with chromium() as browser:
        for name, width, scheme in (
            ("preview", 1280, "light"),
            ("preview-dark", 1280, "dark"),
            ("preview-narrow", 390, "light"),
        ):
            page = browser.new_page(
                viewport={"width": width, "height": 900},
                color_scheme="dark" if scheme == "dark" else "light",
            )
            page.goto((made / "preview.html").as_uri())
            page.locator(".stage").focus()
            page.keyboard.press("n")
            page.keyboard.press("n")
            page.locator(".clock").evaluate(PLAYED)
            page.wait_for_timeout(400)
            shot = page.screenshot(full_page=True)
            save(Image.open(io.BytesIO(shot)).convert("RGB"), name)


def save(picture: Image.Image, name: str) -> None:
    """As a file of few colours, rare ones kept."""
    few = picture.quantize(128, Image.Quantize.MAXCOVERAGE, kmeans=3, dither=Image.Dither.NONE)
    few.save(HERE / f"{name}.png", optimize=True)


PLAYED = "(clock) => { clock.value = 0.8 * clock.max; clock.dispatchEvent(new Event('input')); }"
CLOTHS = (
    ("folded", "folded-cloth"),
    ("printed", "printed-cloth"),
    ("remnants", "flaws-and-remnants"),
)
BIB = """
[[panels]]
file = "bib.svg"
quantity = 3
grain_deg = 0
on_fold = true
"""
DRAWINGS = {
    "bib.svg": (300, 120, "M 10 110 H 250 V 60 Q 200 10 100 20 L 10 60 Z"),
    "scrap.svg": (900, 600, "M 10 590 H 890 V 260 Q 600 10 300 20 L 10 160 Z"),
}


def cloth_picture(work: Path, picture: str, guide: str) -> None:
    """A lay on cloth of the kind that a guide tells of, of the last job file in it."""
    work.mkdir(parents=True)
    text = (HERE.parent / "how-to" / f"{guide}.md").read_text(encoding="utf-8")
    job = re.findall(r"^```toml\n(.*?)^```", text, re.DOTALL | re.MULTILINE)[-1]
    if picture == "folded":
        job += (
            "flaws = [{ at = [300, 300], size = [40, 30] }, { at = [700, 900], diameter = 60 }]\n"
        )
        job += '[[caps]]\nstyle = "tie-back"\nsize = "M"\nquantity = 6\n' + BIB
    (work / "job.toml").write_text(job + '[machine]\nkind = "laser"\n', encoding="utf-8")
    for name, (width, height, data) in DRAWINGS.items():
        (work / name).write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
            f'viewBox="0 0 {width} {height}"><g id="outline"><path d="{data}"/></g></svg>'
        )
    lay_picture(work / "job.toml", picture, work / "out")


ORDER = """
[[cloth]]
name = "any"
width = 1100
[[caps]]
style = "{style}"
size = "M"
quantity = 1
edge = "{edge}"
measures = {{ {measures} }}
[machine]
kind = "drag knife"
"""
PATTERNS = (
    ("tie-back", "tie-back", "hem", ""),
    ("tie-back-pleats", "tie-back", "hem", "pleat_depth = 10, pleats = 2, crown_back = 140"),
    ("three-panel", "three-panel", "hem", ""),
    ("bouffant", "bouffant", "binding", ""),
    ("long-hair", "long-hair", "hem", ""),
)


def pattern_picture(work: Path, picture: str, style: str, edge: str, measures: str) -> None:
    """The pieces of one style in size M."""
    work.mkdir(parents=True)
    job = work / "job.toml"
    job.write_text(ORDER.format(style=style, edge=edge, measures=measures), encoding="utf-8")
    draft_job(load_job(job), work, work)
    (drawing,) = work.glob("pattern-*.svg")
    svg = drawing.read_text(encoding="utf-8")
    svg = re.sub(r"<\?xml.*?\?>", "", svg).replace('stroke-width="0.3"', 'stroke-width="1"')
    page = work / "pattern.html"
    page.write_text(SHEET.format(width=760, svg=svg), encoding="utf-8")
    box = re.search(r'viewBox="\S+ \S+ (\S+) (\S+)"', svg)
    assert box
    page.write_text(page.read_text("utf-8").replace("svg{", "svg{height:auto;"), encoding="utf-8")
    height = round(800 * float(box[2]) / float(box[1]))
    photograph(page, HERE / f"{picture}.png", 832, height + 32)


def sheets_picture(made: Path) -> None:
    """A page of the job sheet of a folder, and its tickets, side by side."""
    print_sheets(made)
    pages = []
    for name, number in ((JOB_SHEET, 1), (TICKETS, 0)):
        with pypdfium2.PdfDocument(made / name) as document:
            pages.append(document[number].render(scale=1.25).to_pil().convert("RGB"))
    gap = 12
    size = (sum(page.width for page in pages) + 3 * gap, pages[0].height + 2 * gap)
    both, x = Image.new("RGB", size, (200, 200, 200)), gap
    for page in pages:
        both.paste(page, (x, gap))
        x += page.width + gap
    both.quantize(32).save(HERE / "sheets.png", optimize=True)


def main() -> None:
    """All pictures."""
    with tempfile.TemporaryDirectory() as work:
        lay_picture(DEMO, "lay", Path(work) / "lay")
        preview_pictures(Path(work) / "lay")
        sheets_picture(Path(work) / "lay")
        for picture, guide in CLOTHS:
            cloth_picture(Path(work) / f"cloth-{picture}", picture, guide)
        tool_pictures()
        for picture, style, edge, measures in PATTERNS:
            pattern_picture(Path(work) / picture, picture, style, edge, measures)


if __name__ == "__main__":
    main()
