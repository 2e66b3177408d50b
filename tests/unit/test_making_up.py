"""Sewing sheets: every step, length and thread that a draft calls for."""

from __future__ import annotations

import math
from typing import get_args

import pytest

from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.sizes import size_named
from cutfiles.pieces.making_up import sewing_sheet, steps, thread_lines, thread_mm, walk_lines
from cutfiles.pieces.piece import Draft
from cutfiles.pieces.styles import draft_style

ALL = [(style, edge) for style in get_args(Style) for edge in get_args(EdgeFinish)]


def drafted(style: Style, edge: EdgeFinish, longest_strip_mm: float = math.inf) -> Draft:
    line = CapLine(style, size_named("M"), 1, edge, "any")
    return draft_style(line, longest_strip_mm=longest_strip_mm)


def test_thread_for_a_lockstitched_seam() -> None:
    # the page "apparelscience" on thread: 1.2 m of 301 at 2.5 takes 3.0 m
    assert thread_mm(1200.0, "301") == 3000.0
    # the same page: 5.5 for the zigzag 304; another often quoted value is 7.0
    assert thread_mm(1000.0, "304") == 5500.0


@pytest.mark.parametrize(("style", "edge"), ALL)
def test_every_seam_is_sewn_and_every_length_said(style: Style, edge: EdgeFinish) -> None:
    draft = drafted(style, edge)
    text = " ".join(steps(draft, style, edge))
    for seam in draft.seams:
        assert f"{seam.name.capitalize()}: lay the {seam.first.piece}" in text
    assert f"cut {draft.fit.elastic_cut_mm:.0f} mm" in text
    assert f"{draft.fit.smallest_girth_mm:.0f} mm" in text
    assert ("Ties:" in text) == any(part.piece.name == "tie" for part in draft.parts)
    assert ("Binding:" in text) == any(part.piece.name == "binding" for part in draft.parts)


@pytest.mark.parametrize(("style", "edge"), ALL)
def test_the_walk_report_reads_clean(style: Style, edge: EdgeFinish) -> None:
    draft = drafted(style, edge)
    lines = list(walk_lines(draft))
    spans = [line for line in lines if "off by" in line]
    notches = sum(
        len(draft.piece(seam.first.piece).notches_on(seam.first.edge)) for seam in draft.seams
    )
    assert len(spans) == notches + len(draft.seams)
    assert all(line.endswith("off by 0.00 mm") for line in spans)
    corners = [line for line in lines if "the two corners make" in line]
    assert len(corners) == len(draft.corners)
    assert all("make 180.00 degrees" in line for line in corners)


def test_the_sheet_of_a_tie_back_cap() -> None:
    draft = drafted("tie-back", "hem")
    sheet = sewing_sheet(draft, "tie-back", "hem")
    assert sheet.startswith("tie-back M, hem\n\nCut: 1 x crown, 1 x band, 2 x tie.\n")
    assert "1. Ties: turn in 1/2 in" in sheet
    assert "38 mm (1.5) to 10 mm (0.4)" in sheet
    assert "cut 124 mm (4.9) of 1/2 in elastic" in sheet
    assert "not a medical device" in sheet
    # the same page: 2.5 of thread to 1 of seam
    seam = draft.piece("band").edge("crown seam").stitch.length() / 1000.0
    assert f"301: {seam * 2.5:.1f} m for {seam:.2f} m of seam (2.5 to 1)" in list(
        thread_lines(draft)
    )


def test_a_joined_binding_is_said_so() -> None:
    draft = drafted("tie-back", "binding", longest_strip_mm=700.0)
    assert "Join its 2 strips on the diagonal" in " ".join(steps(draft, "tie-back", "binding"))
