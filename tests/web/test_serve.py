"""`cutfiles serve` as a process of its own: its socket, its end, and its end by force."""

from __future__ import annotations

import importlib.util
import json
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import httpx2
import pytest
import uvicorn

from cutfiles.pipeline.check import check_path
from cutfiles.web.index import Index
from cutfiles.web.serve import _bound
from tests.cli.program import cutfiles
from tests.conftest import LASER, ONE_CLOTH
from tests.web.page import nest, run_in, with_panels

Server = subprocess.Popen[str]


@contextmanager
def served(folder: Path) -> Iterator[tuple[Server, str]]:
    """A server on a free port, and its address as it says it; killed if it is still there."""
    command = [sys.executable, "-m", "cutfiles", "serve", "--port", "0", "--folder", str(folder)]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert server.stdout is not None
        yield server, server.stdout.readline().partition("/ ")[0]
    finally:
        server.kill()
        server.communicate()


def ended(server: Server) -> tuple[int, str]:
    """Ctrl-C, and what the server said on its way out."""
    server.send_signal(signal.SIGINT)
    _, said = server.communicate(timeout=30)
    return server.returncode, said


def browser(address: str) -> httpx2.Client:
    return httpx2.Client(base_url=address, headers={"origin": address}, timeout=30)


def test_a_run_outlives_its_server_and_ends_with_the_next(tmp_path: Path) -> None:
    folder = tmp_path / "jobs"
    with served(folder) as (server, address), browser(address) as page:
        assert address.startswith("http://127.0.0.1:")
        job, _ = with_panels(page, ONE_CLOTH + LASER)
        nest(page, job, 120.0)
        run_in(page, job, ("nesting",), lays=True)
        refused = cutfiles("serve", "--port", "0", "--folder", folder)
        assert refused.returncode == 2
        assert "is served already" in refused.stderr
        server.send_signal(signal.SIGKILL)
        server.wait()
    with served(folder) as (server, address), browser(address) as page:
        seen = run_in(page, job, ("nesting",), lays=True)
        assert seen["run"] == 1
        assert page.get(job).json()["revision"] == 2
        answer = page.get("/api/jobs", headers={"host": "evil.example"})
        assert answer.status_code == 421
        assert "server" not in answer.headers
        assert ended(server) == (0, "")
    index = Index(folder)
    run = index.last_run(job.rpartition("/")[2])
    index.close()
    assert run is not None
    assert run.state == "stopped"
    (out,) = folder.glob("*/run-0001/out")
    assert [f for f in check_path(out).findings if f.severity == "error"] == []
    (lay,) = json.loads((out / "summary.json").read_bytes())["lays"]
    assert len(lay["pieces"]) == 3
    # the best so far was kept
    assert lay["length_mm"] <= seen["lays"][0]["length_mm"] + 0.01


def test_another_address_is_served_with_a_caution(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(uvicorn.Server, "run", lambda *_, **__: None)
    for host, is_told in (("0.0.0.0", True), ("127.0.0.1", False), ("localhost", False)):
        run = cutfiles("serve", "--host", host, "--port", "0", "--folder", tmp_path)
        assert run.returncode == 0, run.stderr
        assert ("there is no password" in run.stdout) == is_told
        assert f"http://{host}:" in run.stdout


def test_without_the_extra_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    find = importlib.util.find_spec

    def without(name: str) -> object:
        return None if name in ("starlette", "uvicorn") else find(name)

    monkeypatch.setattr(importlib.util, "find_spec", without)
    run = cutfiles("serve")
    assert run.returncode == 2
    assert "serve needs starlette, uvicorn, which are not installed" in run.stderr
    assert "pip install 'cutfiles[web]'" in run.stderr


def test_a_port_that_is_taken(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        run = cutfiles("serve", "--port", port, "--folder", tmp_path / "jobs")
    assert run.returncode == 2
    assert f"--port {port}: cannot be served: Address already in use" in run.stderr
    assert not (tmp_path / "jobs").exists()


@pytest.mark.parametrize("host", ["nowhere.invalid", "203.0.113.1"])
def test_a_host_that_is_not_this_machine(host: str, tmp_path: Path) -> None:
    """Names under ``.invalid`` (RFC 6761) and numbers of 203.0.113.0/24 (RFC 5737) are nobody's."""
    run = cutfiles("serve", "--host", host, "--port", "0", "--folder", tmp_path)
    assert run.returncode == 2
    assert "cannot be served" in run.stderr
    assert "Traceback" not in run.stderr


def test_a_folder_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder", encoding="utf-8")
    run = cutfiles("serve", "--port", "0", "--folder", tmp_path / "file")
    assert run.returncode == 2
    assert "cannot be used" in run.stderr
    (tmp_path / "served").write_text("no database, but a long text " * 100)
    run = cutfiles("serve", "--port", "0", "--folder", tmp_path)
    assert run.returncode == 2
    assert "cannot be used: file is not a database" in run.stderr
    (tmp_path / "served").unlink()
    (tmp_path / "index.sqlite").write_text("no database, but a long text " * 100)
    run = cutfiles("serve", "--port", "0", "--folder", tmp_path)
    assert run.returncode == 2
    assert "cannot be used" in run.stderr
    assert "Traceback" not in run.stderr


def test_who_asks_before_the_server_runs_waits_for_it() -> None:
    # the reference is the operating system: it refuses where nobody listens
    with (
        closing(_bound("127.0.0.1", 0)) as listening,
        socket.create_connection(listening.getsockname(), timeout=5.0) as asking,
    ):
        assert asking.getpeername() == listening.getsockname()
