"""``summary.json``: what was cut, in figures (format ``cutfiles-summary/1``)."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from shapely.geometry import Polygon

from cutfiles.cuts.plan import CUT_ROLES, ROLES, CutPlan, Lettering
from cutfiles.errors import Finding
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.job.job import Job, ShelfUse
from cutfiles.job.machine import SLIT, Machine
from cutfiles.lay.lay import Lay, PlacedPiece, caps_of, cut_outs_of

SUMMARY_FORMAT = "cutfiles-summary/1"
PATTERN_FORMAT = "cutfiles-pattern/1"
_DECIMALS = 4


def summary_table(
    job: Job,
    lays: Sequence[Lay],
    plans: Sequence[CutPlan],
    findings: Sequence[Finding],
    *,
    seed: int,
    contents: Mapping[str, bytes],
    written: Sequence[str],
    panels_ordered: int = 0,
    shelf_path: str | None = None,
    form: str = SUMMARY_FORMAT,
) -> dict[str, Any]:
    """The summary as a table of plain values; lengths in mm, areas in mm2, times in s.

    ``contents`` gives the bytes of every lay file by name, ``written`` all names of the run;
    ``panels_ordered`` counts every outline of every drawing; ``shelf_path`` leads from the
    folder to the shelf of the job.
    """
    rows = [_lay_table(lay, plan, job, contents) for lay, plan in zip(lays, plans, strict=True)]
    table: dict[str, Any] = {
        "format": form,
        "title": job.title,
        "length_unit": job.length_unit,
        "seed": seed,
        "machine": _machine_table(job.machine),
        "roles": {role: job.machine.written.layer_names[role] for role in ROLES},
        **({"apart": list(job.machine.written.apart)} if job.machine.written.apart else {}),
        "lays": rows,
        "totals": {
            "caps_ordered": sum(line.quantity for line in job.caps),
            "caps": caps_of(lays),
            "panels_ordered": panels_ordered,
            "panels": sum(lay.panel_count for lay in lays),
            "cloth_length_mm": round(sum(lay.taken_mm for lay in lays), 3),
        },
        "findings": [finding.table() for finding in findings],
        "written": sorted(written),
    }
    if job.shelf is not None:
        table["shelf"] = {
            "file": shelf_path,
            "sha256": job.shelf.sha256,
            "takes": _taken_off(job.shelf, lays),
        }
    return table


def _taken_off(shelf: ShelfUse, lays: Sequence[Lay]) -> list[dict[str, Any]]:
    """What the lays take off a shelf: of every table of stock the length, ends of plies not
    counted, or what is left of a remnant."""
    lengths: dict[int, float] = {}
    names: dict[int, str] = {}
    rests: dict[int, Lay] = {}
    for lay in lays:
        stock = _stock_of(shelf, lay)
        if lay.remnant is not None:
            rests[stock] = lay
        else:
            end = (lay.starts_at_mm + lay.length_mm) * lay.cloth.plies
            lengths[stock] = max(lengths.get(stock, 0.0), end)
        names[stock] = lay.cloth.called
    return [
        {"stock": stock, "name": names[stock]}
        | (_left_of(rests[stock]) if stock in rests else _length_off(lengths[stock]))
        for stock in sorted(names)
        if stock
    ]


def _stock_of(shelf: ShelfUse, lay: Lay) -> int:
    """The number of the table of stock that a lay is cut of, 0 if of none."""
    return shelf.stock_of(lay.remnant_number or lay.cloth.number)


def _left_of(lay: Lay) -> dict[str, Any]:
    rest = lay.rest
    return {"lay": lay.name} | ({} if rest is None else {"rest_mm": _corners(rest)})


def _length_off(length_mm: float) -> dict[str, Any]:
    return {"length_mm": round(length_mm, _DECIMALS)}


def _machine_table(machine: Machine) -> dict[str, Any]:
    table: dict[str, Any] = {"kind": machine.kind, "kerf_mm": machine.kerf_mm}
    bed = {"along": machine.bed_along_mm, "across": machine.bed_across_mm}
    if bed != {"along": None, "across": None}:
        table["bed_mm"] = bed
    if machine.advances:
        table["bed_advances"] = True
    if machine.shares_edges:
        table["shared_edges"] = True
    if machine.notch is not None and machine.notch != SLIT:
        table["notch"] = {"shape": machine.notch.shape, "width_mm": machine.notch.width_mm}
    return table


def _lay_table(lay: Lay, plan: CutPlan, job: Job, contents: Mapping[str, bytes]) -> dict[str, Any]:
    pins = {pin.piece for pin in job.pinned}
    labels = {label.piece_id: _label_table(label) for label in plan.letterings if plan.letters}
    frames = plan.frame_numbers
    written = job.machine.written
    stock = _stock_of(job.shelf, lay) if job.shelf is not None else 0
    files = {kind: lay.name + ending for kind, ending in written.endings.items()}
    table: dict[str, Any] = {
        "name": lay.name,
        "cloth": lay.cloth.name,
        **({} if lay.cloth.roll is None else {"roll": lay.cloth.roll}),
        **({"stock": stock} if stock else {}),
        "plies": lay.cloth.layers,
        "spread": lay.cloth.spread,
        "one_way": lay.cloth.one_way,
        "width_mm": round(lay.width_mm, _DECIMALS),
        "length_mm": round(lay.length_mm, _DECIMALS),
        "starts_at_mm": round(lay.starts_at_mm, _DECIMALS),
        "clearance_mm": round(lay.gap_mm - job.machine.kerf_mm, _DECIMALS),
        "efficiency": round(lay.efficiency, 6),
        "pieces": [
            _piece_table(placed)
            | {"time_s": round(plan.piece_s.get(placed.ordered.id, 0.0), 2)}
            | ({"frame": frames[placed.ordered.id]} if frames else {})
            | ({"pinned": True} if placed.ordered.id in pins else {})
            | labels.get(placed.ordered.id, {})
            for placed in lay.placed
        ],
        "cut_length_mm": round(plan.cut_length_mm, 2),
        "travel_mm": round(plan.travel_mm, 2),
        "nodes": sum(len(stroke.spans) for stroke in plan.strokes if stroke.role in CUT_ROLES),
        "time_s": round(plan.time_s, 1),
        "marking_s": round(plan.marking_s, 1),
        "caps": _cap_times(lay, plan),
        "nested_by": lay.engine,
        "labels": job.machine.labels,
        "files": files,
        "sha256": {
            kind: hashlib.sha256(contents[name]).hexdigest() for kind, name in files.items()
        },
    }
    if lay.remnant is None:
        table["selvedge_mm"] = round(lay.cloth.selvedge_mm, _DECIMALS)
        table["usable_width_mm"] = round(lay.cloth.lay_width_mm, _DECIMALS)
    setting = job.machine.fittings.setting_for(lay.cloth.layers)
    if setting is not None:
        table["setting"] = setting.note
    if job.machine.shares_edges:
        table["shared_mm"] = round(plan.shared_mm, 2)
    if written.shows_passes:
        table["tool_off_mm"] = round(plan.tool_off_mm, _DECIMALS)
    repeat = lay.cloth.print_repeat
    if plan.frames:
        table["frames_mm"] = [round(frame.start_mm, _DECIMALS) for frame in plan.frames]
    if lay.flaws:
        table["flaws_mm"] = [_corners(flaw) for flaw in lay.flaws]
    if lay.remnant is not None:
        table["remnant_mm"] = _corners(lay.remnant)
        table["remnant_number"] = lay.remnant_number
    if repeat is not None:
        table["print_repeat_mm"] = {"along": repeat.along_mm, "across": repeat.across_mm}
        along, across = lay.cloth.print_starts_mm
        table["print_starts_mm"] = {"along": along, "across": across}
    return table


def _label_table(label: Lettering) -> dict[str, Any]:
    """Where a drawn label stands."""
    return {
        "label_at_mm": [round(c, _DECIMALS) for c in label.centre],
        "label_turn_deg": label.angle_deg,
        "label_height_mm": round(label.height_mm, _DECIMALS),
    }


def _cap_times(lay: Lay, plan: CutPlan) -> list[dict[str, Any]]:
    """What each cap of a lay takes, its pieces together."""
    caps: dict[int, float] = {}
    for placed in lay.placed:
        number = placed.ordered.cap_number
        if number is not None:
            caps[number] = caps.get(number, 0.0) + plan.piece_s.get(placed.ordered.id, 0.0)
    return [{"cap_number": n, "time_s": round(taken, 2)} for n, taken in sorted(caps.items())]


def _corners(region: Polygon) -> list[list[float]]:
    return [[round(c, _DECIMALS) for c in corner] for corner in list(region.exterior.coords)[:-1]]


def _piece_table(placed: PlacedPiece) -> dict[str, Any]:
    outline, piece = placed.placed_outline, placed.ordered.piece
    ends = [placed.motion.point(n.at + n.inward * n.depth_mm) for n in piece.notches]
    table: dict[str, Any] = {
        "id": placed.ordered.id,
        "name": placed.ordered.name,
        "cap": placed.ordered.cap,
        "label": placed.ordered.label,
        "grain_deg": placed.grain_deg,
        "grain": placed.ordered.grain.grain,
        "tilt_deg": placed.ordered.grain.tilt_deg,
        "at_mm": [round(c, _DECIMALS) for c in (placed.motion.shift.x, placed.motion.shift.y)],
        "turn_deg": placed.motion.turn_deg,
        "area_mm2": round(outline.area, 3),
        "perimeter_mm": round(outline.length, 3),
        "centre_mm": _place(outline),
        "notch_ends_mm": [[round(end.x, _DECIMALS), round(end.y, _DECIMALS)] for end in ends],
        "stitch_lines": len(piece.stitch_lines),
        "cap_number": placed.ordered.cap_number,
    }
    if placed.ordered.cap_number is not None:
        table["cap_pieces"] = placed.ordered.cap_pieces
    line = placed.ordered.line
    if line is not None:
        table |= {"style": line.style, "size": line.size.name, "edge": line.edge}
        table["order_line"] = line.number
    cut_outs = [moved_polygon(hole, placed.motion) for hole in cut_outs_of(placed.ordered)]
    match, place = placed.ordered.match, placed.match_place
    if match is not None and place is not None:
        table["match_mm"] = [round(place.x, _DECIMALS), round(place.y, _DECIMALS)]
        table["matched_by"] = "notch" if match.is_notch else "middle"
    if placed.lies_on_fold:
        table["past_fold_mm"] = round(-outline.bounds[1], _DECIMALS)
        table["past_fold_mm2"] = round(outline.area - placed.cloth_mm2, 3)
    if cut_outs:
        table["cut_outs_mm2"] = [round(cut_out.area, 3) for cut_out in cut_outs]
        table["cut_outs_centre_mm"] = [_place(cut_out) for cut_out in cut_outs]
    return table


def _place(region: Polygon) -> list[float]:
    """The centroid."""
    return [round(c, _DECIMALS) for c in region.centroid.coords[0]]
