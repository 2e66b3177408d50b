"""Written files and folders, read again and judged."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cutfiles.errors import Finding, JobError
from cutfiles.pipeline.prove import LAYERS, PATTERN, READERS, SUMMARY
from cutfiles.verdict.judge import judge_alone, judge_lay
from cutfiles.verdict.read_summary import (
    LayRow,
    SummaryFile,
    expected_from,
    read_summary,
    summary_faults,
)


@dataclass(frozen=True, slots=True)
class Checked:
    """What `check_path` found, and in which files it looked."""

    files: tuple[str, ...]
    findings: tuple[Finding, ...]


def check_path(path: Path) -> Checked:
    """Judge a written file, or a whole output folder by its summary.

    Raises
    ------
    JobError
        If there is nothing there that can be judged.
    """
    try:
        return _check_folder(path) if path.is_dir() else _check_file(path)
    except OSError as error:
        reason = error.strerror or "cannot be read"
        raise JobError.of("no-file", f"{path}: cannot be read: {reason}") from error


def _check_file(path: Path) -> Checked:
    reader = READERS.get(path.suffix.lower())
    if not path.is_file() or reader is None:
        raise JobError.of(
            "no-file", f"{path}: is no DXF or SVG file, and no folder that cutfiles has written"
        )
    if path.name.endswith(".astm.dxf"):
        text = (
            f"{path}: is a pattern for exchange and no cut file: check the .dxf or .svg beside it"
        )
        raise JobError.of("no-file", text)
    for manifest in (SUMMARY, PATTERN):
        if (path.parent / manifest).is_file():
            summary = read_summary(path.parent / manifest)
            for row in summary.lays:
                if path.name in row.file_names():
                    return Checked((path.name,), tuple(_file_findings(path, summary, row)))
    alone = judge_alone(reader(path), LAYERS["outline"])
    text = (
        f"{path.name}: no summary beside it names it, so only closed outlines that do not overlap "
        "could be checked: its scale, pieces and grain are not known"
    )
    return Checked((path.name,), (*alone, Finding("no-summary", "warning", text)))


def _check_folder(folder: Path) -> Checked:
    manifests = [folder / name for name in (SUMMARY, PATTERN) if (folder / name).is_file()]
    if not manifests:
        text = f"{folder}: holds no {SUMMARY}: give a folder that cutfiles has written"
        raise JobError.of("no-file", text)
    files: list[str] = []
    findings: list[Finding] = []
    for manifest in manifests:
        summary = read_summary(manifest)
        findings.extend(summary_faults(summary, manifest.name))
        for row in summary.lays:
            for name in row.file_names():
                files.append(name)
                findings.extend(_file_findings(folder / name, summary, row))
    for path in sorted([*folder.glob("lay-*.dxf"), *folder.glob("lay-*.svg")]):
        if path.name not in files:
            text = f"{path.name}: is in the folder and no summary names it: do not cut it"
            findings.append(Finding("stray-file", "warning", text))
    return Checked(tuple(files), tuple(findings))


def _file_findings(path: Path, summary: SummaryFile, row: LayRow) -> Iterator[Finding]:
    """A listed file: there, unchanged since it was written, and right."""
    reader = READERS.get(path.suffix.lower())
    if reader is None or not path.is_file():
        text = f"{path.name}: is named in the summary and is not there as a DXF or SVG file"
        yield Finding("missing-file", "error", text)
        return
    kind = "dxf" if path.suffix.lower() == ".dxf" else "svg"
    if hashlib.sha256(path.read_bytes()).hexdigest() != row.sha256.get(kind):
        text = f"{path.name}: is not the file that was written: make it again, or copy it again"
        yield Finding("changed", "error", text)
    yield from judge_lay(reader(path), expected_from(summary, row))
