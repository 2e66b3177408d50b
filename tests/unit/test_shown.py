"""Lays as they are drawn: by shapely, outlines are the true ones but for less than a line's width,
and what a nest tells on its way is a lay of the same pieces."""

from __future__ import annotations

from collections import Counter

import pytest
import shapely
from shapely.affinity import rotate, translate

from cutfiles.effort import Effort, Progress, ShownLay
from cutfiles.job.cloth import Flaw, Remnant
from cutfiles.job.job import CapLine, Cloth, Job, PinnedPiece
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.lay.shown import shown
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import CutList
from tests.small_lay import LASER

CLOTH = Cloth("kelp", 800.0, 10.0, None, False, 1, 0.0, 0.0, "cotton")
FLAWED = Cloth(
    "kelp",
    800.0,
    10.0,
    3000.0,
    False,
    1,
    0.0,
    0.0,
    "cotton",
    flaws=(Flaw((100.0, 60.0), (20.0, 30.0)),),
)
SCRAPS = Cloth(
    "kelp", 700.0, 0.0, None, False, 1, 0.0, 0.0, "cotton",
    remnants=(
        Remnant(1, None, ((0.0, 0.0), (600.0, 0.0), (600.0, 700.0), (0.0, 700.0))),
        Remnant(2, None, ((0.0, 0.0), (600.0, 0.0), (300.0, 700.0), (0.0, 700.0))),
    ),
)  # fmt: skip


def cuts_of(cloth: Cloth, *pins: PinnedPiece) -> CutList:
    line = CapLine("tie-back", size_named("M"), 2, "hem", "kelp")
    return cut_list(Job("job.toml", "t", "mm", (cloth,), (line,), LASER, pinned=pins), cloth)


def nested(cuts: CutList) -> tuple[tuple[Lay, ...], list[Progress]]:
    heard: list[Progress] = []
    effort = Effort(0.2, 1, report=heard.append)
    return arrange(cuts, LASER, effort, unit="mm", source="job.toml"), heard


def names_in(lays: tuple[ShownLay, ...]) -> Counter[str]:
    return Counter(piece.id for lay in lays for piece in lay.pieces)


@pytest.mark.parametrize("cloth", [CLOTH, FLAWED, SCRAPS], ids=["plain", "flawed", "remnants"])
def test_a_lay_is_drawn_as_it_is(cloth: Cloth) -> None:
    cuts = cuts_of(cloth)
    lays, heard = nested(cuts)
    for lay in lays:
        drawn = shown(lay)
        assert (drawn.name, drawn.cloth, drawn.layers) == (lay.name, "kelp", 1)
        assert drawn.efficiency == pytest.approx(lay.efficiency, abs=1e-6)
        assert (drawn.remnant is None) == (not cloth.remnants)
        assert len(drawn.flaws) == len(lay.flaws)
        for piece, placed in zip(drawn.pieces, lay.placed, strict=True):
            assert piece.id == placed.ordered.id
            # derived: turned about its origin and moved there, not by the program's own motion
            true = shapely.Polygon(placed.ordered.piece.cut.flattened(0.001))
            true = translate(rotate(true, piece.turn_deg, origin=(0.0, 0.0)), *piece.at_mm)
            outline = shapely.Polygon(piece.outline)
            assert outline.hausdorff_distance(true) < 0.15
            assert len(piece.outline) < len(true.exterior.coords)
        if drawn.remnant is not None:
            room = shapely.Polygon(drawn.remnant).buffer(0.2)
            assert all(room.covers(shapely.Polygon(p.outline)) for p in drawn.pieces)
    assert heard
    for news in heard[-3:]:
        told = news.lays()
        assert names_in(told) == Counter(cuts.piece_ids)
        assert bool(told[0].remnant) == bool(cloth.remnants)
        if not cloth.remnants:
            (lay_now,) = told
            assert lay_now.length_mm == pytest.approx(news.length_mm, abs=0.01)


def test_pinned_pieces_are_told_where_they_stay() -> None:
    pin = PinnedPiece(1, "cap-001-crown", (300.0, 300.0), 180.0)
    _, heard = nested(cuts_of(CLOTH, pin))
    for news in heard:
        (lay,) = news.lays()
        (piece,) = [piece for piece in lay.pieces if piece.id == pin.piece]
        assert (piece.at_mm, piece.turn_deg) == (pin.at_mm, pin.turn_deg)
