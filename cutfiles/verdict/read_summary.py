"""Reading ``summary.json`` again, for `check`: by a strict model of its own."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, cast

from pydantic import BaseModel, Field, ValidationError

from cutfiles.cuts.plan import Role
from cutfiles.errors import Finding, JobError
from cutfiles.verdict.expected import ExpectedLay, ExpectedPiece


class PieceRow(BaseModel):
    """One of ``pieces``."""

    id: str
    name: str
    cap: str
    grain_deg: float = Field(ge=0, lt=360)
    area_mm2: float = Field(gt=0)
    cut_outs_mm2: list[float] = []


class LayRow(BaseModel):
    """One of ``lays``."""

    name: str
    cloth: str
    plies: int = Field(ge=1)
    width_mm: float = Field(gt=0)
    length_mm: float = Field(gt=0)
    efficiency: float = Field(gt=0, le=1)
    pieces: list[PieceRow] = Field(min_length=1)
    files: dict[Literal["dxf", "svg"], str]


class MachineRow(BaseModel):
    """``machine``."""

    kind: str
    kerf_mm: float = Field(ge=0)


class SummaryFile(BaseModel):
    """The whole file, as far as a check needs it."""

    format: Literal["cutfiles-summary/1"]
    machine: MachineRow
    roles: dict[str, str]
    lays: list[LayRow]


def read_summary(path: Path) -> SummaryFile:
    """Read and check a summary.

    Raises
    ------
    JobError
        If it cannot be read or is no summary; every fault at once.
    """
    try:
        return SummaryFile.model_validate_json(path.read_bytes())
    except OSError as error:
        raise JobError.of("unreadable", f"{path}: cannot be read: {error.strerror}") from error
    except ValidationError as error:
        raise JobError(
            Finding(
                "summary",
                "error",
                f"{path}: {'.'.join(str(part) for part in item['loc']) or 'file'}: {item['msg']}",
            )
            for item in error.errors(include_url=False)
        ) from None


def expected_from(summary: SummaryFile, lay: LayRow) -> ExpectedLay:
    """What the files of one lay must hold, by the summary's figures."""
    return ExpectedLay(
        name=lay.name,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        kerf_mm=summary.machine.kerf_mm,
        layers={cast(Role, role): layer for role, layer in summary.roles.items()},
        pieces=tuple(
            ExpectedPiece(
                row.id,
                row.name,
                row.cap,
                row.grain_deg,
                row.area_mm2,
                cut_out_areas_mm2=tuple(row.cut_outs_mm2),
            )
            for row in lay.pieces
        ),
    )
