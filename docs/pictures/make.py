"""Makes the pictures of the docs: ``python docs/pictures/make.py``. Needs Chromium on the path.

The lay is the demo's, nested anew, so its picture differs a little each time.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image
from tool_pictures import tool_pictures

from cutfiles.effort import Effort
from cutfiles.pipeline.draft import draft_job
from cutfiles.pipeline.make import make_job
from cutfiles.pipeline.sheets import JOB_SHEET, TICKETS, print_sheets

HERE = Path(__file__).resolve().parent
DEMO = HERE.parents[1] / "fixtures" / "jobs" / "wildlife-clinic.toml"
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
SHEET = (
    "<!DOCTYPE html><style>body{{margin:16px;background:#fff}}svg{{width:{width}px}}</style>{svg}"
)


def photograph(page: Path, picture: Path, width: int, height: int) -> None:
    """A picture of a page."""
    browser = shutil.which("chromium") or shutil.which("google-chrome")
    if browser is None:
        sys.exit("Chromium is needed to make the pictures")
    with tempfile.TemporaryDirectory() as profile:
        command = [browser, *QUIET, f"--user-data-dir={profile}", f"--window-size={width},{height}",
                   f"--screenshot={picture}", page.as_uri()]  # fmt: skip
        subprocess.run(command, check=True, capture_output=True, timeout=60)


def lay_picture(job: Path, picture: str, work: Path) -> None:
    """The first lay of a job, cut out of its preview."""
    make_job(job, work, Effort(20.0, 1))
    html = (work / "preview.html").read_text(encoding="utf-8")
    found = re.findall(r"<svg.*?</svg>", html, re.DOTALL)
    styles = re.search(r"<style>.*?</style>", html, re.DOTALL)
    assert found
    assert styles
    page = work / "lay.html"
    page.write_text(styles[0] + SHEET.format(width=1360, svg="".join(found)), encoding="utf-8")
    boxes = [re.search(r'viewBox="\S+ \S+ (\S+) (\S+)"', svg) for svg in found]
    height = sum(round(1360 * float(box[2]) / float(box[1])) for box in boxes if box)
    photograph(page, HERE / f"{picture}.png", 1392, height + 32)


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
    draft_job(job, work)
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
        sheets_picture(Path(work) / "lay")
        for picture, guide in CLOTHS:
            cloth_picture(Path(work) / f"cloth-{picture}", picture, guide)
        tool_pictures()
        for picture, style, edge, measures in PATTERNS:
            pattern_picture(Path(work) / picture, picture, style, edge, measures)


if __name__ == "__main__":
    main()
