"""What ``ruler-plan.json`` says of its drawings, by a strict model of its own."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from cutfiles.verdict.judge_ruler import ExpectedPieceBlock, ExpectedRuler
from cutfiles.verdict.rows import FileName, Place, Row, read_rows


class RulerBlockRow(Row):
    """One of ``blocks``."""

    name: str
    count: int = Field(ge=1)
    sizes_mm: Annotated[list[Place], Field(min_length=1)]


class RulerPlanRow(Row):
    """One of ``plans``."""

    stages: Literal[2, 3]
    layers: int = Field(ge=1, le=400)
    step_mm: float = Field(gt=0, le=10)
    width_mm: float = Field(gt=0)
    length_mm: float = Field(gt=0)
    blocks: Annotated[list[RulerBlockRow], Field(min_length=1)]
    steps: Annotated[list[str], Field(min_length=1)]
    drawing: FileName
    sha256: str


class RulerFile(Row):
    """The whole file, as far as a check needs it."""

    format: Literal["cutfiles-ruler/1"]
    plans: Annotated[list[RulerPlanRow], Field(min_length=1)]


def read_ruler(path: Path) -> RulerFile:
    """Read and check the list of a ruler plan.

    Raises
    ------
    JobError
        If it cannot be read or is none; every fault at once.
    """
    return read_rows(path, RulerFile, "summary")


def expected_ruler_from(row: RulerPlanRow, groups: Mapping[str, str]) -> ExpectedRuler:
    """What the drawing of one plan must show, by the list's figures."""
    return ExpectedRuler(
        width_mm=row.width_mm,
        length_mm=row.length_mm,
        step_mm=row.step_mm,
        layers=row.layers,
        stages=row.stages,
        steps=len(row.steps),
        pieces={
            block.name: ExpectedPieceBlock(block.count, tuple(block.sizes_mm))
            for block in row.blocks
        },
        groups=groups,
    )
