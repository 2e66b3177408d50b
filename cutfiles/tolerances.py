"""Every tolerance of the program, by purpose. Lengths in millimetres, angles in degrees."""

from typing import Final

COINCIDENT_MM: Final = 1e-6
"""Two points nearer than this are one point."""

CURVE_FIT_MM: Final = 0.002
"""Largest deviation of a fitted curve (an offset, a stretched arc) from the exact one."""

FLATTEN_MM: Final = 0.01
"""Largest deviation of a chord from its curve where a curve becomes a polyline."""

REFIT_MM: Final = 0.02
"""Largest distance between a polyline and the lines and arcs that a file holds in its place."""

WALK_MM: Final = 0.1
"""Largest difference of two stitch lines between a pair of notches, beyond the stated ease."""

TRUE_DEG: Final = 1.0
"""Largest deviation of two sewn corners from a straight angle."""

MIRROR_MM: Final = 0.2
"""Largest distance between a piece and another's mirror image that are sewn as left and right."""

GRAIN_DEG: Final = 0.01
"""Largest deviation of a placed grain line from an allowed turn."""

PAST_FOLD_MM: Final = 5.0
"""How far a cut runs past the fold of the cloth into the air, so that the fold is never cut
(common practice, no source). It grows with the piece on cloth that shrinks."""

LAY_MM: Final = 0.01
"""How far a lay may fall short of its gap or overstep its margin before it is refused.

The strip engine works in single precision: 2**-23 of a 40 m lay is 0.005 mm."""

PINNED_MM: Final = 2e-4
"""How much nearer two pinned pieces may be than a lay lets them: places copied from a summary have
four decimals, in each of two directions."""

WRITE_DECIMALS: Final = 4
"""Decimals of a millimetre in every file written."""

SLIVER_MM: Final = 0.001
"""A flaw, or what of it lies on a lay, is drawn from this width on: ten times the last decimal."""

READ_BACK_MM: Final = 0.005
"""Largest distance between a planned contour and the same contour read from a file."""

ARC_ENDS_MM: Final = 0.005
"""Largest difference between the distances of an arc's two ends from its centre in motion code:
controllers refuse more (from memory)."""

KERF_MM: Final = 0.03
"""Largest distance between a piece and its read outline with the kerf taken off again: a fit
(`REFIT_MM`), the chords of its arcs as read (0.0055 mm in DXF, 0.002 mm in SVG), roundings,
and what is left for corners, whose sides may both be off. The piece and the tool's path come from
one flattening, which does not count."""

PAGE_MM: Final = 0.1
"""Largest error of a printed page's width or height."""

SQUARE_ERROR_MM: Final = 0.3
"""Largest error of a test square, measured on a picture of its page at 300 dots an inch."""

PRINTED_MM: Final = 0.02 + REFIT_MM
"""Largest distance between a line of the sheet and the same line in a file to print: two
flattenings and a rounding apart, and a fit where the sheet is known by the drawing beside it."""

PRINTED_EDGE_MM: Final = 0.05
"""How near the edge of a page's frame a line may be there or not."""

PRINTED_GAP_MM: Final = 3.0
"""Longest stretch of a printed cut line without ink: the widest dash gap, and a little."""

EXCHANGE_MM: Final = 0.01
"""Largest distance between a drafted line and the same line in an exchange file."""

DRAWN_JOIN_MM: Final = 1e-3
"""Ends of drawn lines nearer than this meet: what a drawing of few decimals leaves open."""

DRAWN_GAP_MM: Final = 0.1
"""The widest gap in a drawn outline that is closed where the job does not say."""

SPECK_MM: Final = 0.5
"""A drawn part no larger than this is a speck and left out."""

SHEET_LINE_MM: Final = 0.05
"""How far a line of a small picture may be off its place on the paper: a third of its width."""
