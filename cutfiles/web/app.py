"""The application: which call is answered by what."""

from __future__ import annotations

from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final

from jinja2 import Environment, PackageLoader
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from cutfiles.web import job_calls, piece_calls, result_calls, run_calls
from cutfiles.web.answers import HANDLERS, call
from cutfiles.web.desk import Desk
from cutfiles.web.drawing_calls import add_drawing
from cutfiles.web.guard import Address, Guard
from cutfiles.web.refusal import not_there

_MEDIA: Final = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}

_PAGES: Final = Environment(loader=PackageLoader("cutfiles.web"), autoescape=True)


def application(desk: Desk, address: Address) -> Guard:
    """The whole application over a desk, guarded."""
    app = Starlette(routes=routes(), exception_handlers=dict(HANDLERS))
    app.state.desk = desk
    return Guard(app, address)


def routes() -> list[Route]:
    """Every call, and the pages."""
    job = "/api/jobs/{job}"
    return [
        Route("/", _list_page),
        Route("/jobs/{job}", _job_page),
        Route("/static/{name}", _static),
        Route("/api/form", call(job_calls.form)),
        Route("/api/jobs", call(job_calls.list_jobs), methods=["GET"]),
        Route("/api/jobs", call(job_calls.create_job), methods=["POST"]),
        Route(job, call(job_calls.show_job), methods=["GET"]),
        Route(job, call(job_calls.change_job), methods=["PUT"]),
        Route(job, call(job_calls.remove_job), methods=["DELETE"]),
        Route(f"{job}/undo", call(job_calls.undo), methods=["POST"]),
        Route(f"{job}/redo", call(job_calls.redo), methods=["POST"]),
        Route(f"{job}/pattern", call(piece_calls.pattern)),
        Route(f"{job}/files", add_drawing, methods=["POST"]),
        Route(f"{job}/trial", call(piece_calls.trial), methods=["POST"]),
        Route(f"{job}/pin", call(piece_calls.pin), methods=["POST"]),
        Route(f"{job}/unpin", call(piece_calls.unpin), methods=["POST"]),
        Route(f"{job}/nest", call(run_calls.nest), methods=["POST"]),
        Route(f"{job}/run", call(run_calls.show_run)),
        Route(f"{job}/stop", call(run_calls.stop), methods=["POST"]),
        Route(f"{job}/cancel", call(run_calls.cancel), methods=["POST"]),
        Route(f"{job}/results", call(result_calls.list_results)),
        Route(f"{job}/results/{{number}}", call(result_calls.show_result)),
        Route(f"{job}/results/{{number}}/preview", call(result_calls.preview)),
        Route(f"{job}/results/{{number}}/files.zip", call(result_calls.all_files)),
    ]


def _list_page(_request: Request) -> Response:
    return HTMLResponse(_PAGES.get_template("jobs.html").render())


def _job_page(request: Request) -> Response:
    kept = request.app.state.desk.index.job(request.path_params["job"])
    return HTMLResponse(_PAGES.get_template("job.html").render(job=kept.id, title=kept.title))


def _static_files() -> dict[str, Traversable]:
    """The page's own files by name: nothing else is ever looked up."""
    folder = resources.files("cutfiles.web").joinpath("static")
    return {
        file.name: file
        for file in folder.iterdir()
        if any(file.name.endswith(ending) for ending in _MEDIA)
    }


_STATIC: Final = _static_files()


def _static(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in _STATIC:
        raise not_there(f"static file {name!r}")
    ending = name[name.rfind(".") :]
    return Response(_STATIC[name].read_bytes(), media_type=_MEDIA[ending])
