"""What the models of our own JSON files have in common, and how such a file is read."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from cutfiles.errors import Finding, JobError

Place = tuple[float, float]
FileName = Annotated[str, Field(pattern=r"^[\w-][\w.-]{0,200}$")]


class Row(BaseModel):
    """A table of a file; numbers are finite."""

    model_config = ConfigDict(allow_inf_nan=False)


_File = TypeVar("_File", bound=Row)


def read_rows(path: Path, form: type[_File], code: str) -> _File:
    """Read a JSON file and check it by its form; its faults are findings of that code.

    Raises
    ------
    JobError
        If it cannot be read or is none; every fault at once.
    """
    try:
        return form.model_validate_json(path.read_bytes())
    except OSError as error:
        text = f"{path}: cannot be read: {error.strerror}; give a folder that cutfiles has written"
        raise JobError.of("unreadable", text) from error
    except ValidationError as error:
        raise JobError(
            Finding(
                code,
                "error",
                f"{path}: {'.'.join(str(part) for part in item['loc']) or 'file'}: {item['msg']}: "
                "it is not as it was written: make it again, or copy it again",
            )
            for item in error.errors(include_url=False)
        ) from None
