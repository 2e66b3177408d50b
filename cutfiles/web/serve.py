"""The server: one socket, one folder of jobs, until it is interrupted."""

from __future__ import annotations

import ipaddress
import socket
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Final

import uvicorn

from cutfiles.errors import Finding, JobError, OutputError
from cutfiles.web.app import application
from cutfiles.web.desk import Desk, usual_folder
from cutfiles.web.guard import LOOPBACK_NAMES, Address
from cutfiles.web.held import Held
from cutfiles.web.index import Index
from cutfiles.web.runs import Runs

_SERVED: Final = "served"
"""What a server holds in its folder of jobs."""


def serve_jobs(host: str, port: int, folder: Path | None, hear: Callable[[str], None]) -> None:
    """Serve the page until Ctrl-C. ``hear`` is told the address, and what is to be known of it.

    Raises
    ------
    JobError
        If the address cannot be served.
    OutputError
        If the folder cannot be written.
    """
    folder = folder or usual_folder()
    with _bound(host, port) as listening:
        port = listening.getsockname()[1]
        served, index = _opened(folder)
        runs = Runs(folder, index)
        address = Address(LOOPBACK_NAMES | {_in_url(host).lower()}, port)
        config = uvicorn.Config(
            application(Desk(folder, index, runs), address),
            log_level="error",
            access_log=False,
            server_header=False,
            date_header=False,
            ws="none",
            timeout_graceful_shutdown=5,
        )
        runs.start()
        try:
            if not _is_loopback(host):
                hear(
                    f"Caution: anybody who reaches {host} can read and change these jobs; there is "
                    "no password. Leave out --host to serve this machine only."
                )
            hear(f"http://{_in_url(host)}:{port}/ (jobs in {folder}; Ctrl-C ends it)")
            uvicorn.Server(config).run(sockets=[listening])
        finally:
            runs.close()
            index.close()
            served.let_go()


def _bound(host: str, port: int) -> socket.socket:
    """A socket on which the server listens."""
    try:
        family, kind, protocol, _, where = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.socket(family, kind, protocol)
        try:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listening.bind(where)
            listening.listen()  # whoever is told the address may ask at once, and waits
        except OSError:
            listening.close()
            raise
    except (OSError, UnicodeError, OverflowError) as error:
        reason = getattr(error, "strerror", None) or "cannot be found"
        text = f"--host {host} --port {port}: cannot be served: {reason}; give another port or host"
        raise JobError.of("address", text) from error
    return listening


def _opened(folder: Path) -> tuple[Held, Index]:
    """A folder's index, and the mark that keeps other servers off the folder."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        served = Held(folder / _SERVED)
        try:
            return served, Index(folder)
        except sqlite3.Error:
            served.let_go()
            raise
    except BlockingIOError:
        text = (
            f"--folder {folder}: is served already: use the page that is there, or name another "
            "folder"
        )
        raise OutputError([Finding("served", "error", text)]) from None
    except (OSError, sqlite3.Error) as error:
        reason = getattr(error, "strerror", None) or str(error)
        text = f"--folder {folder}: cannot be used: {reason}; name another folder"
        raise OutputError([Finding("output", "error", text)]) from error


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _in_url(host: str) -> str:
    return f"[{host}]" if ":" in host else host
