"""Findings and the errors that carry them.

A *finding* is one sentence about one thing: where it is, what its value is, what the limit
is and how to mend it. An error carries every finding of a stage at once, so that a user
mends a job in one round.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

Severity = Literal["error", "warning", "note"]

INTERRUPTED: Final = 130
TERMINATED: Final = 143
"""The exit status of a run that Ctrl-C, or SIGTERM, has ended: 128 and the signal's number."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One judgement with a stable ``code``.

    ``text`` names the file and field (or the lay and piece), the value, the limit and the mend.
    """

    code: str
    severity: Severity
    text: str

    def table(self) -> dict[str, str]:
        """As plain values."""
        return {"code": self.code, "severity": self.severity, "text": self.text}


def errors_of(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings that forbid going on."""
    return tuple(finding for finding in findings if finding.severity == "error")


def nearest(word: str, known: Iterable[str], *, cutoff: float = 0.5) -> str | None:
    """Of some known names the one most like a word; None where none is at all like it. A
    ``cutoff`` of 1 takes the same word only."""
    return next(iter(difflib.get_close_matches(word, list(known), n=1, cutoff=cutoff)), None)


def did_you_mean(word: str, known: Iterable[str], otherwise: str, *, cutoff: float = 0.5) -> str:
    """The mend for an unknown name: the nearest known one, or what else there is to say."""
    near = nearest(word, known, cutoff=cutoff)
    return f"did you mean {near!r}?" if near else otherwise


class CutfilesError(Exception):
    """Base of all errors that cutfiles raises for a reason outside its own code. What is found
    twice, such as in a line that is cut of two cloths, is said once."""

    exit_status = 2

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings: tuple[Finding, ...] = tuple(dict.fromkeys(findings))
        super().__init__("\n".join(finding.text for finding in self.findings))


class JobError(CutfilesError, ValueError):
    """The job, or the way the program was called, is wrong; nothing has been written."""

    @classmethod
    def of(cls, code: str, text: str) -> JobError:
        """An error of a single finding."""
        return cls([Finding(code, "error", text)])


class OutputError(CutfilesError, OSError):
    """The output folder cannot take the files; nothing is left half-written."""


class VerdictError(CutfilesError):
    """A check of the finished work found an error; no cut file is left under its final name."""

    exit_status = 1
