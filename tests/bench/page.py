"""Time the preview in a browser; print one JSON line a row.

``python tests/bench/page.py [--caps 60 250]``. Tie-back caps of size M in rows on 44 in cotton (250
caps are 1,000 pieces), made by `make`. For each order: the size of ``preview.html``; the time from
the start of loading to the first paint with content, and from the end of loading to two frames
later, when the script has drawn the lay; and frames a second while it is dragged, and while it is
zoomed, as the page itself counts them over 3 s, with the longest frame. Needs Chromium on the path.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from cutfiles.effort import Effort
from cutfiles.pipeline.make import make_job
from tests.browser.chromium import chromium

JOB = """
title = "Caps to look at"
[[cloth]]
name = "cotton"
width = 1117.6
selvedge = 12.7
fibre = "cotton"
[[caps]]
style = "tie-back"
size = "M"
quantity = {caps}
[machine]
kind = "laser"
kerf = 0.2
"""

FRAMES = """
([act, seconds]) => new Promise((done) => {
  const stage = document.querySelector(".stage");
  const edge = stage.getBoundingClientRect();
  const [cx, cy] = [edge.left + edge.width / 2, edge.top + edge.height / 2];
  const pointer = (kind, dx, dy) => stage.dispatchEvent(new PointerEvent(kind, {
    pointerId: 1, clientX: cx + dx, clientY: cy + dy, bubbles: true, isPrimary: true }));
  const wheel = (by) => stage.dispatchEvent(new WheelEvent("wheel", {
    deltaY: by, clientX: cx, clientY: cy, ctrlKey: true, bubbles: true, cancelable: true }));
  stage.setPointerCapture = () => {};
  const times = [];
  const step = (now) => {
    times.push(now);
    const t = (now - times[0]) / 1000;
    if (t >= seconds) {
      pointer("pointerup", 0, 0);
      const gaps = times.slice(1).map((at, k) => at - times[k]);
      return done([1000 * gaps.length / (times.at(-1) - times[0]), Math.max(...gaps)]);
    }
    if (act === "pan") pointer("pointermove", 300 * Math.sin(2 * t), 60 * Math.sin(3 * t));
    else wheel(Math.sin(2 * t) > 0 ? -10 : 10);
    requestAnimationFrame(step);
  };
  if (act === "pan") pointer("pointerdown", 0, 0);
  requestAnimationFrame(step);
})
"""
LOADED = """
() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => {
  const [load] = performance.getEntriesByType("navigation");
  const [paint] = performance.getEntriesByName("first-contentful-paint");
  done([paint.startTime, performance.now() - load.loadEventEnd]);
})))
"""


def measured(page: Page, path: Path, caps: int) -> list[dict[str, object]]:
    """The rows of one preview."""
    page.goto(path.as_uri())
    paint_ms, drawn_ms = page.evaluate(LOADED)
    rows: list[dict[str, object]] = [
        {"caps": caps, "mb": round(path.stat().st_size / 1e6, 2)},
        {"caps": caps, "first_paint_ms": round(paint_ms), "after_load_ms": round(drawn_ms)},
    ]
    for zoomed in (0, 4):
        page.locator("[data-do=whole]").click()
        for _ in range(zoomed):
            page.locator("[data-do=in]").click()
        page.wait_for_timeout(500)
        for act in ("pan", "zoom"):
            frames, longest_ms = page.evaluate(FRAMES, [act, 3.0])
            row = {"caps": caps, "zoomed": round(1.5**zoomed, 1), "act": act}
            rows.append(row | {"frames_s": round(frames, 1), "longest_ms": round(longest_ms)})
    return rows


def main() -> None:
    """Print the rows."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--caps", type=int, nargs="*", default=[60, 250])
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        for caps in parser.parse_args().caps:
            job = Path(folder) / "job.toml"
            job.write_text(JOB.format(caps=caps), encoding="utf-8")
            out = Path(folder) / f"caps-{caps}"
            make_job(job, out, Effort(0.0, 1))
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            for row in measured(page, out / "preview.html", caps):
                print(json.dumps(row), flush=True)
            page.close()


if __name__ == "__main__":
    main()
