"""A property of pinned pieces, by shapely: they have not moved, and the rest lies round them."""

from __future__ import annotations

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, translate

from cutfiles.job.job import PinnedPiece
from cutfiles.lay.pins import pin_faults
from tests.small_lay import LASER
from tests.unit.test_pins import CLOTH, cuts_of, laid

places = st.tuples(st.floats(-100.0, 700.0), st.floats(-100.0, 900.0))


@settings(max_examples=40)
@given(
    name=st.sampled_from(["crown", "band", "tie-2"]),
    at=places,
    turn=st.sampled_from([0.0, 180.0]),
    other_at=places,
)
def test_pinned_pieces_do_not_move(
    name: str, at: tuple[float, float], turn: float, other_at: tuple[float, float]
) -> None:
    pins = (
        PinnedPiece(1, f"cap-001-{name}", at, turn),
        PinnedPiece(2, "cap-002-crown", other_at, 0.0),
    )
    cuts = cuts_of(*pins)
    outlines = {}
    for pin in pins:
        (ordered,) = [p for cap in cuts.caps for p in cap.pieces if p.id == pin.piece]
        points = ordered.piece.cut.flattened(0.001)
        turned = rotate(shapely.Polygon(points), pin.turn_deg, origin=(0.0, 0.0))
        outlines[pin.piece] = translate(turned, *pin.at_mm)
    # derived: half a kerf outside the cut line the tool stays on the cloth, and 1 mm of cloth is
    # left between two kerfs; 0.05 mm are left open here, and half a millimetre for mitred corners
    # of the tool's path where a place is refused
    sheet = shapely.box(0.1, 0.1, 1e6, CLOTH.usable_width_mm - 0.1)
    apart = outlines[pins[0].piece].distance(outlines[pins[1].piece])
    faults = pin_faults(cuts, LASER, source="job.toml")
    if faults:
        tight = sheet.buffer(-0.5, join_style="mitre")
        assert apart < 2.2 or not all(map(tight.covers, outlines.values()))
        return
    assert apart > 1.15
    assert all(map(sheet.buffer(0.05).covers, outlines.values()))
    (lay,) = laid(cuts, seconds=0.05)
    assert len(lay.placed) == 8
    for placed in lay.placed:
        outline = placed.placed_outline
        if placed.ordered.id in outlines:
            assert outline.hausdorff_distance(outlines[placed.ordered.id]) < 0.02
        else:
            assert min(outline.distance(o) for o in outlines.values()) > 1.15
