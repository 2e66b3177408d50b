"""Tables of the lists that a run leaves beside its files, read again by strict models."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from cutfiles.errors import Finding, JobError

Place = tuple[float, float]
FileName = Annotated[str, Field(pattern=r"^[\w-][\w.-]{0,200}$")]


class Row(BaseModel):
    """A table of a list; numbers are finite."""

    model_config = ConfigDict(allow_inf_nan=False)


Listed = TypeVar("Listed", bound=Row)


def read_list(path: Path, model: type[Listed]) -> Listed:
    """Read and check a list.

    Raises
    ------
    JobError
        If it cannot be read or is no such list; every fault at once.
    """
    try:
        return model.model_validate_json(path.read_bytes())
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
