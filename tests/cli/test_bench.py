"""The benchmark scripts run and judge; their speed is measured elsewhere, never asserted."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from shapely.geometry import box

from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.problem import Shape, Spot, StripLayout, StripProblem
from tests.bench.strip import is_valid, read_instance
from tests.conftest import ROOT


def test_strip_prints_the_agreed_line(tmp_path: Path) -> None:
    square = [[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]
    instance = tmp_path / "squares.json"
    instance.write_text(
        json.dumps(
            {
                "name": "squares",
                "strip_height": 30.0,
                "items": [
                    {"id": 0, "demand": 9, "allowed_orientations": [0.0, 180.0], "shape": square}
                ],
            }
        )
    )
    script = ROOT / "tests" / "bench" / "strip.py"
    command = [sys.executable, str(script), str(instance), "--seconds", "1", "--seed", "3"]
    run = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    row = json.loads(run.stdout)
    assert row["seconds"] < 30
    del row["seconds"]
    assert row == {"instance": "squares", "length": 30.0, "density": 1.0, "valid": True}


def test_the_check_of_a_benchmark_sees_overlap_and_overhang() -> None:
    problem = StripProblem(30.0, 0.0, 0.0, (Shape("a", box(0, 0, 10, 10), (0.0,), 2),))

    def valid(x: float, y: float, length: float = 20.0) -> bool:
        spots = (Spot(0, Motion(0.0, Vector(0, 0))), Spot(0, Motion(0.0, Vector(x, y))))
        return is_valid(problem, StripLayout(spots, length, "test"))

    assert valid(10.0, 0.0)
    assert not valid(9.999, 0.0)
    assert not valid(10.0, 20.1)
    assert not valid(10.1, 0.0)
    assert not is_valid(problem, StripLayout((), 1.0, "test"))


@pytest.mark.parametrize(
    ("name", "pieces"),
    [("albano", 24), ("dagli", 30), ("fu", 12), ("marques", 24), ("shirts", 99), ("trousers", 64)],
)
def test_published_instances_are_read(outside_data: Path, name: str, pieces: int) -> None:
    # piece counts: data/strip/best_known.csv, after Gardeyn et al. 2025 (arXiv:2509.13329)
    problem = read_instance(outside_data / "strip" / f"{name}.json")
    assert sum(shape.count for shape in problem.shapes) == pieces
