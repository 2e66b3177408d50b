"""`draft`: the pattern alone, at full size."""

from __future__ import annotations

from pathlib import Path

import pyogrio
import pypdfium2
import shapely

from tests.cli.program import cutfiles, names
from tests.conftest import DEMO


def test_draft_writes_the_pattern_at_full_size(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "lay-01.dxf").write_text("a lay, not a pattern")
    (out / "pattern-shirt.dxf").write_text("somebody's pattern")
    run = cutfiles("draft", DEMO, "--out", out)
    assert run.returncode == 0, run.stderr
    lines = ("L-binding", "M-hem", "S-hem")
    kinds = (".astm.dxf", ".dxf", ".pdf", ".svg", "-sewing.txt")
    files = [f"pattern-tie-back-{line}{kind}" for line in lines for kind in kinds]
    assert names(out) == sorted(["lay-01.dxf", "pattern-shirt.dxf", "pattern.json", *files])
    assert cutfiles("check", out).returncode == 0
    _, _, shapes, (layers,) = pyogrio.raw.read(
        out / "pattern-tie-back-M-hem.dxf", columns=["Layer"]
    )
    outlines = [
        shapely.Polygon(shape).bounds
        for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True)
        if layer == "piece-outlines"
    ]
    sizes = sorted((round(x1 - x0), round(y1 - y0)) for x0, y0, x1, y1 in outlines)
    # as drafted, without the shrinkage of the demo's cloth: the tie is 12 x 1 1/2 in
    assert len(sizes) == 3
    assert (305, 38) in sizes


def test_draft_prints_all_sizes_together_on_letter_paper(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run = cutfiles("draft", DEMO, "--out", out, "--paper", "letter", "--together")
    assert run.returncode == 0, run.stderr
    papers = [name for name in names(out) if name.endswith(".pdf")]
    assert papers == [f"pattern-tie-back-{edge}-together.pdf" for edge in ("binding", "hem")]
    document = pypdfium2.PdfDocument(out / papers[1])
    # Letter, 8.5 x 11 in at 72 points an inch (ANSI/ASME Y14.1)
    assert {page.get_size() for page in document} == {(612.0, 792.0)}
    assert "Sizes: S, M." in document[0].get_textpage().get_text_range()


def test_draft_on_a_paper_that_is_not_known(tmp_path: Path) -> None:
    run = cutfiles("draft", DEMO, "--out", tmp_path / "out", "--paper", "A5")
    assert run.returncode == 2
    assert "--paper: 'A5' is not known: use A4 or Letter" in run.stderr
    assert not (tmp_path / "out").exists()
