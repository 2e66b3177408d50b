"""What a call is refused with: a status and findings."""

from __future__ import annotations

from collections.abc import Iterable

from cutfiles.errors import Finding


class RefusedError(Exception):
    """A call that is not answered as asked, with the HTTP status that says so.

    ``revision`` is a job's newer one, where that is the reason.
    """

    def __init__(
        self, status: int, findings: Iterable[Finding], *, revision: int | None = None
    ) -> None:
        self.status, self.findings, self.revision = status, tuple(findings), revision
        super().__init__("\n".join(finding.text for finding in self.findings))

    @classmethod
    def of(cls, status: int, code: str, text: str) -> RefusedError:
        """A refusal of a single finding."""
        return cls(status, [Finding(code, "error", text)])


def not_there(what: str) -> RefusedError:
    """That there is nothing under the name that was asked for."""
    return RefusedError.of(404, "not-there", f"{what}: is not there: go back to the list of jobs")


def stale(revision: int) -> RefusedError:
    """That a job was changed since it was shown."""
    text = f"the job was changed in another window (revision {revision}): load it again"
    return RefusedError(409, [Finding("stale", "error", text)], revision=revision)
