"""Ruler plans drawn, read again and judged: sound plans pass, tampered drawings do not."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.files.ruler_svg import ruler_svg_bytes
from cutfiles.pipeline.ruler import expected_ruler
from cutfiles.ruler.blocks import PieceBox, block_kinds, block_rows
from cutfiles.ruler.fill import positions
from cutfiles.ruler.lay_out import laid_out
from cutfiles.ruler.patterns import Patterns
from cutfiles.ruler.plan import ClothRules, RulerPlan, Stages
from cutfiles.ruler.solve import Solver
from cutfiles.ruler.steps import Edges, numbered_cuts, steps_of
from cutfiles.units import parse_length_mm
from cutfiles.verdict.judge_ruler import judge_ruler
from cutfiles.verdict.read_svg import read_svg

Planned = tuple[RulerPlan, tuple[PieceBox, ...], tuple[str, ...], str]


def planned(
    pieces: list[tuple[float, float, int]],
    width: int,
    stages: Stages,
    *,
    layers: int = 1,
    unit: str = "mm",
) -> Planned:
    """A plan for pieces of so many mm along and across, its boxes, steps and drawing."""
    boxes = tuple(
        PieceBox(f"piece {n}", "along", ((along, across),))
        for n, (along, across, count) in enumerate(pieces)
        for _ in range(count)
    )
    kinds = block_kinds(block_rows(boxes, unit))
    fold = 3 if layers == 2 else 0
    rules = ClothRules(width, 900, stages)
    solver = Solver(Patterns([kind.sizes for kind in kinds], rules))
    wanted = positions([kind.wanted for kind in kinds], [0] * len(kinds), 0, layers)
    plan = laid_out(
        solver.shortest(wanted), kinds, rules, cloth="kelp", unit=unit, layers=layers,
        start_across=fold, on_hand=None,
    )  # fmt: skip
    steps = steps_of(plan, Edges("10 mm", layers == 2, one_way=False))
    content = ruler_svg_bytes(plan, tuple(numbered_cuts(plan, steps)), "title")
    return plan, boxes, tuple(step.text for step in steps), content.decode()


def faults(made: Planned, drawing: str | None = None) -> list[str]:
    plan, boxes, steps, content = made
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ruler-plan.svg"
        path.write_text(drawing if drawing is not None else content, encoding="utf-8")
        found = judge_ruler(read_svg(path), expected_ruler(plan, boxes, len(steps)))
    return [finding.code for finding in found]


PIECES = st.lists(
    st.tuples(st.floats(20, 400), st.floats(20, 250), st.integers(1, 4)), min_size=1, max_size=3
)


@given(PIECES, st.integers(260, 1100), st.sampled_from([2, 3]), st.integers(1, 3))
@settings(max_examples=25)
def test_every_plan_is_cut_free(
    pieces: list[tuple[float, float, int]], width: int, stages: Stages, layers: int
) -> None:
    made = planned(pieces, width, stages, layers=layers)
    assert faults(made) == []
    plan, _, steps, _ = made
    # what is said of strips adds up to the length that the plan takes
    said = [re.match(r"Cut (\d+) strips? (.+?) wide across", text) for text in steps]
    total = sum(int(m[1]) * parse_length_mm(m[2], default_unit="mm") for m in said if m)
    assert total == pytest.approx(plan.length)
    assert plan.bound <= plan.length


SOUND = [(238.4, 189.0, 2), (159.1, 536.3, 2), (304.8, 38.1, 4)]


def shifted(group: str) -> Callable[[str], str]:
    """Moves the first path of a group by 5 mm along the cloth."""

    def move(drawing: str) -> str:
        def by(match: re.Match[str]) -> str:
            return f"{match[1]}{float(match[2]) + 5:g},"

        start = drawing.index(f'id="{group}"')
        end = drawing.index("</g>", start)
        first = drawing.index("/>", start)
        path = re.sub(r"([ML])([\d.]+),", by, drawing[start:first])
        return drawing[:start] + path + drawing[first:end] + drawing[end:]

    return move


def without_first(group: str) -> Callable[[str], str]:
    def drop(drawing: str) -> str:
        start = drawing.index("\n", drawing.index(f'id="{group}"')) + 1
        return drawing[:start] + drawing[drawing.index("\n", start) + 1 :]

    return drop


TAMPERED: list[tuple[str, Callable[[str], str], str]] = [
    ("a block moved", shifted("blocks"), "not-free"),
    ("a cut moved", shifted("ruler-cuts"), "number"),
    (
        "a cut that stops short",
        lambda d: re.sub(r'(<path d="M\d+,1092 L\d+),0"/>', r'\1,300"/>', d),
        "cut",
    ),
    ("a block gone", without_first("blocks"), "count"),
    ("a cut gone", without_first("ruler-cuts"), "number"),
    ("a number gone", without_first("cut-numbers"), "number"),
    ("a label gone", without_first("block-labels"), "label"),
    ("another piece", lambda d: d.replace(">piece 0<", ">piece 7<", 1), "label"),
    ("pieces swapped", lambda d: d.replace(">piece 0<", ">piece 1<", 1), "size"),
    ("other measures", lambda d: d.replace(">239 mm x ", ">293 mm x ", 1), "measures"),
    ("a step that is none", lambda d: re.sub(r">2</text>", ">99</text>", d, count=1), "number"),
    ("cuts out of order", lambda d: re.sub(r">2</text>", ">6</text>", d), "cut"),
    ("another cloth", lambda d: d.replace('id="usable-cloth"', 'id="blocks"'), "cloth"),
    ("a strange group", lambda d: d.replace('id="ruler-cuts"', 'id="lines"'), "strange-layer"),
]


@pytest.mark.parametrize(
    ("change", "code"), [t[1:] for t in TAMPERED], ids=[t[0] for t in TAMPERED]
)
def test_a_tampered_drawing_is_found_out(change: Callable[[str], str], code: str) -> None:
    made = planned(SOUND, 1092, 3)
    assert faults(made) == []
    assert change(made[3]) != made[3]
    assert code in faults(made, change(made[3]))


def test_cuts_that_free_no_block_are_found_out() -> None:
    # the pinwheel: four blocks round a fifth, which no cut from end to end divides (derived)
    #   +--------+----+
    #   |   1    | 2  |
    #   +----+---+    |
    #   | 4  | 5 |    |
    #   |    +---+----+
    #   |    |   3    |
    #   +----+--------+
    made = planned([(60.0, 30.0, 2), (30.0, 60.0, 2)], 91, 3)
    blocks = [(0, 0, 30, 60), (30, 0, 90, 30), (60, 30, 90, 90), (0, 60, 60, 90)]
    names = [2, 1, 2, 1]
    drawing = made[3]
    rows = [
        f'<path d="M{a},{91 - b} L{c},{91 - b} L{c},{91 - d} L{a},{91 - d} Z"/>'
        for a, b, c, d in blocks
    ]
    texts = [
        f'<text x="{(a + c) / 2}" y="{91 - (b + d) / 2}">{words}</text>'
        for (a, b, c, d), name in zip(blocks, names, strict=True)
        for words in (f"piece {name - 1}", f"{c - a} mm x {d - b} mm")
    ]
    for group, lines in (("blocks", rows), ("block-labels", texts)):
        start = drawing.index("\n", drawing.index(f'id="{group}"')) + 1
        end = drawing.index("</g>", start)
        drawing = drawing[:start] + "\n".join(lines) + "\n" + drawing[end:]
    assert "not-free" in faults(made, drawing)
    assert not {"overlap", "outside", "label", "size", "count"} & set(faults(made, drawing))


def test_stages_are_counted() -> None:
    made = planned(SOUND, 1092, 3)
    plan, boxes, steps, content = made
    expected = expected_ruler(plan, boxes, len(steps))
    assert expected.stages == 3
    two = planned(SOUND, 1092, 2)
    assert two[0].length > plan.length
    assert faults((two[0], boxes, steps, content)).count("cut") >= 1
