"""Drawn notches as slits: square to the outline, where the drawing has them."""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.path import Path
from cutfiles.geometry.roots import root_between
from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Point, Vector
from cutfiles.pieces.allowance import NOTCH_DEPTH_MM
from cutfiles.pieces.drawn import Notes
from cutfiles.pieces.piece import Edge, Notch
from cutfiles.tolerances import FLATTEN_MM, SPECK_MM

_NICK_MM = 1e-3
_FOOT_WITHIN_MM = 0.5
"""How far a flattened outline may mistake a place along it."""


def nick(place: Point) -> Path:
    """A single point (mm) as a line too short to show a depth."""
    return Path((Line(place, place + Vector(_NICK_MM, 0.0)),))


def notch_of(
    edge: Edge, drawn_at: Point, slit: Path, within_mm: float, notes: Notes
) -> Notch | None:
    """A slit square to the outline where a drawn notch touches it, as deep as that reaches in;
    of the usual depth where it is a single point.

    ``drawn_at`` is its place in the drawing, ``within_mm`` how far off the outline it may begin;
    None with a finding.
    """
    ring = shapely.LinearRing(edge.stitch.flattened(FLATTEN_MM))
    if slit.length() <= 2.0 * _NICK_MM:
        off = ring.distance(shapely.Point(slit.start.x, slit.start.y))
        if off <= max(within_mm, 2.0 * FLATTEN_MM):
            return _slit_at(edge, slit.start, ring, NOTCH_DEPTH_MM)
    inside = Polygon(ring)
    ends = sorted(
        (ring.distance(shapely.Point(p.x, p.y)), p.x, p.y) for p in (slit.start, slit.end)
    )
    reach = ends[1][0]
    if (
        ends[0][0] > max(within_mm, 2.0 * FLATTEN_MM)
        or reach <= SPECK_MM
        or (not inside.contains(shapely.Point(*ends[1][1:])))
    ):
        text = (
            "a notch must begin on the outline and end inside it: it begins "
            f"{ends[0][0]:.3f} mm off and ends {reach:.3f} mm off; draw it from edge to inside"
        )
        notes.say("bad-notch", "error", text, drawn_at)
        return None
    return _slit_at(edge, Point(*ends[0][1:]), ring, reach)


def _slit_at(edge: Edge, place: Point, ring: shapely.LinearRing, depth_mm: float) -> Notch:
    """A slit square to the edge at the place of it nearest to a point."""
    length = edge.stitch.length()
    guess = ring.project(shapely.Point(place.x, place.y)) / ring.length * length
    along = _foot_mm(edge.stitch, place, guess)
    at = edge.stitch.point_at(along)
    inward = edge.stitch.tangent_at(along).left
    return Notch(edge.name, along / length, at + inward * depth_mm, at, depth_mm)


def _foot_mm(path: Path, place: Point, guess_mm: float) -> float:
    """Where along a path the nearest point to a place is, near a guess."""

    def beyond(along: float) -> float:
        return path.tangent_at(along).dot(path.point_at(along) - place)

    low = max(guess_mm - _FOOT_WITHIN_MM, 0.0)
    high = min(guess_mm + _FOOT_WITHIN_MM, path.length())
    if beyond(low) * beyond(high) >= 0.0:
        return guess_mm
    return root_between(beyond, low, high, within=1e-9)
