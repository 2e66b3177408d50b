"""Drawings added to a job: read by the program's own readers, and kept under names of our own."""

from __future__ import annotations

import secrets
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from cutfiles.pipeline.added_drawing import added_drawing, drawing_ending
from cutfiles.web.answers import finding_rows
from cutfiles.web.desk import Desk
from cutfiles.web.guard import DRAWING_BYTES
from cutfiles.web.refusal import RefusedError

_MOST_DRAWINGS: Final = 200


async def add_drawing(request: Request) -> Response:
    """Take one drawing of a form, under ``file``."""
    try:
        async with request.form(max_files=1, max_fields=1) as form:
            upload = form.get("file")
            if not isinstance(upload, UploadFile):
                raise RefusedError.of(400, "bad-value", "file: is missing: add one drawing")
            said, content = upload.filename or "", await upload.read(DRAWING_BYTES + 1)
    except HTTPException as error:
        raise RefusedError.of(400, "bad-form", f"the form cannot be read: {error.detail}") from None
    if len(content) > DRAWING_BYTES:
        text = f"file: has more than {DRAWING_BYTES / 1e6:g} million bytes: keep to the outlines"
        raise RefusedError.of(413, "too-large", text)
    desk, job = request.app.state.desk, request.path_params["job"]
    return JSONResponse(await run_in_threadpool(_add, desk, job, said, content))


def _add(desk: Desk, job: str, said: str, content: bytes) -> Any:
    kept = desk.index.job(job)
    if len(desk.index.drawings(kept.id)) >= _MOST_DRAWINGS:
        text = f"the job has {_MOST_DRAWINGS} drawings already: begin another job"
        raise RefusedError.of(422, "too-many", text)
    name = f"drawing-{secrets.token_hex(4)}{drawing_ending(said)}"
    read = added_drawing(content, name)
    (desk.job_folder(kept.id) / name).write_bytes(content)
    desk.index.add_drawing(kept.id, name)
    return {"name": name, "panels": list(read.panels), "findings": finding_rows(read.findings)}
