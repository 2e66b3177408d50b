"""Lays kept from run to run. What they must do is derived from what is promised of them."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from shapely.geometry import box

from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.lay.kept import KEPT, KeptLay, kept_text, nest_or_recall, problem_key, read_kept
from cutfiles.lay.problem import Obstacle, Register, Shape, Spot, StripLayout, StripProblem
from cutfiles.lay.rows import nest_in_rows
from cutfiles.pipeline.store import Store
from tests.cli.program import cutfiles
from tests.conftest import SMALL_JOB

BLOCKS = StripProblem(100.0, 1.0, 0.1, (Shape("block", box(0, 0, 30, 20), (0.0, 180.0), 6),))
SHAPE = BLOCKS.shapes[0]


def layout() -> StripLayout:
    return nest_in_rows(BLOCKS)


def test_a_kept_lay_comes_back_as_it_was() -> None:
    kept = read_kept(kept_text(KeptLay(layout(), {1: 10.0, 7: 2.5})), BLOCKS)
    assert kept is not None
    assert kept.layout == replace(layout(), engine=KEPT)
    assert kept.searched == {1: 10.0, 7: 2.5}


CHANGED = {
    "width": replace(BLOCKS, width=101.0),
    "gap": replace(BLOCKS, gap=1.1),
    "margin": replace(BLOCKS, margin=0.2),
    "count": replace(BLOCKS, shapes=(replace(SHAPE, count=5),)),
    "turns": replace(BLOCKS, shapes=(replace(SHAPE, turns_deg=(0.0,)),)),
    "outline": replace(BLOCKS, shapes=(replace(SHAPE, outline=box(0, 0, 30, 20.01)),)),
    "obstacle": replace(BLOCKS, obstacles=(Obstacle(box(0, 0, 5, 5), 0.1),)),
    "register": replace(
        BLOCKS, shapes=(replace(SHAPE, register=Register(Point(0, 0), Point(0, 0), 80.0)),)
    ),
}


@pytest.mark.parametrize("what", CHANGED)
def test_whatever_decides_a_lay_decides_its_name(what: str) -> None:
    assert problem_key(CHANGED[what]) != problem_key(BLOCKS)


def test_names_and_guards_of_shapes_decide_nothing() -> None:
    renamed = replace(SHAPE, name="brick", guard=box(-1, -1, 31, 21))
    assert problem_key(replace(BLOCKS, shapes=(renamed,))) == problem_key(BLOCKS)


def spots(*changed: Spot) -> str:
    return kept_text(KeptLay(replace(layout(), spots=(*changed, *layout().spots[1:])), {1: 1.0}))


NO_LAYS = {
    "empty": "",
    "no table": "[]",
    "no lay": "{}",
    "torn": kept_text(KeptLay(layout(), {1: 1.0}))[:-20],
    "overlapping": spots(layout().spots[1]),
    "other shape": spots(Spot(1, Motion(0.0, Vector(0.1, 0.1)))),
    "turned": spots(Spot(0, Motion(90.0, Vector(70.0, 0.1)))),
    "not finite": spots(Spot(0, Motion(0.0, Vector(float("nan"), 0.1)))),
    "no whole number": kept_text(KeptLay(layout(), {1: 1.0})).replace("[0, ", "[Infinity, ", 1),
    "deep": "[" * 100_000,
    "too few": kept_text(KeptLay(replace(layout(), spots=layout().spots[1:]), {1: 1.0})),
    "searched": json.dumps({"length": 1.0, "spots": [], "searched": 3}),
}


@pytest.mark.parametrize("what", NO_LAYS)
def test_what_is_no_allowed_lay_is_not_used(what: str) -> None:
    assert read_kept(NO_LAYS[what], BLOCKS) is None


class Searches:
    """Searches that find what they are told to, and how often they were asked."""

    def __init__(self, store: Store) -> None:
        self.count, self._store = 0, store

    def run(self, found: StripLayout, *, seed: int, seconds: float) -> StripLayout:
        def nest() -> tuple[StripLayout, float]:
            self.count += 1
            return found, seconds

        return nest_or_recall(
            BLOCKS,
            seed=seed,
            seconds=seconds,
            recall=self._store.recall,
            keep=self._store.keep,
            nest=nest,
        )


def test_a_search_is_not_repeated_and_the_better_lay_stays(tmp_path: Path) -> None:
    searches = Searches(Store(tmp_path / "kept"))
    long = replace(layout(), length=200.0)
    assert searches.run(long, seed=1, seconds=10.0) == long
    assert searches.run(layout(), seed=1, seconds=10.0).engine == KEPT
    assert searches.run(layout(), seed=1, seconds=3.0).length == 200.0
    assert searches.count == 1
    # longer, or from another seed, it is searched again, and what is shorter stays
    assert searches.run(layout(), seed=1, seconds=20.0) == layout()
    assert searches.run(long, seed=2, seconds=20.0).length == layout().length
    assert searches.count == 3
    for seed in (1, 2):
        assert searches.run(long, seed=seed, seconds=20.0).length == layout().length
    assert searches.count == 3


def test_a_folder_that_cannot_be_is_done_without(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder", encoding="utf-8")
    searches = Searches(Store(tmp_path / "file" / "kept"))
    for _ in range(2):
        assert searches.run(layout(), seed=1, seconds=1.0) == layout()
    assert searches.count == 2


def test_make_says_that_a_lay_was_kept(job_file: Callable[[str], Path], tmp_path: Path) -> None:
    job = job_file(SMALL_JOB)
    first, again, anew = (
        cutfiles("make", job, "--out", tmp_path / name, "--seconds", "0.1", *words)
        for name, words in (("first", ()), ("again", ()), ("anew", ("--anew",)))
    )
    said = "lay-01: this lay was found before and kept; --anew searches again"
    assert [run.returncode for run in (first, again, anew)] == [0, 0, 0]
    assert [said in run.stderr for run in (first, again, anew)] == [False, True, False]
    for name in ("lay-01.dxf", "lay-01.svg"):
        one, other = ((tmp_path / out / name).read_bytes() for out in ("first", "again"))
        assert one == other
