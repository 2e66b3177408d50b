"""What is not from this page, or too much, is refused; what is answered lets nothing else run."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.testclient import TestClient

from cutfiles.web.answers import HANDLERS
from cutfiles.web.desk import Desk
from cutfiles.web.guard import DRAWING_BYTES, JSON_BYTES, LOOPBACK_NAMES, Address, Guard
from tests.web.page import ORIGIN, PORT, SVG, new_job, refusal


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        f"127.0.0.1.evil.example:{PORT}",
        "127.0.0.1",
        "127.0.0.1:80",
        f"10.0.0.1:{PORT}",
        f"localhost.:{PORT}",
        "",
    ],
)
def test_a_host_that_is_not_ours(host: str, page: TestClient) -> None:
    """A name server can point any name at this machine; only our own are answered."""
    for url in ("/", "/api/jobs", "/static/page.css"):
        assert refusal(page.get(url, headers={"host": host}), 421)["code"] == "host"
    headers = {"host": host, "origin": f"http://{host}"}
    assert refusal(page.post("/api/jobs", json={}, headers=headers), 421)["code"] == "host"
    assert page.get("/api/jobs").json() == []


@pytest.mark.parametrize("name", sorted(LOOPBACK_NAMES))
def test_this_machine_by_any_of_its_names(name: str, page: TestClient) -> None:
    host = f"{name}:{PORT}"
    answer = page.post("/api/jobs", json={}, headers={"host": host, "origin": f"http://{host}"})
    assert answer.status_code == 200


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        f"https://127.0.0.1:{PORT}",
        "http://127.0.0.1:1",
        f"http://localhost:{PORT}",
        f"{ORIGIN}/",
        f"{ORIGIN}.evil.example",
        "",
    ],
)
def test_a_change_from_another_page(origin: str, page: TestClient) -> None:
    """By the Fetch standard a browser sends the page's origin with every POST and PUT."""
    job = new_job(page)
    headers = {"origin": origin}
    for answer in (
        page.post("/api/jobs", json={}, headers=headers),
        page.put(job, json={"revision": 1, "toml": ""}, headers=headers),
        page.post(f"{job}/nest", json={}, headers=headers),
        page.post(f"{job}/files", files={"file": ("a.svg", SVG)}, headers=headers),
        page.request("DELETE", job, headers=headers),
    ):
        assert refusal(answer, 403)["code"] == "origin"
    assert page.get(job).json()["revision"] == 1


def test_a_change_without_origin(desk: Desk) -> None:
    from cutfiles.web.app import application

    client = TestClient(application(desk, Address(LOOPBACK_NAMES, PORT)), base_url=ORIGIN)
    assert refusal(client.post("/api/jobs", json={}), 403)["code"] == "origin"


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"]
)
def test_a_form_of_another_page_is_no_change(kind: str, page: TestClient) -> None:
    """These kinds of body any page may send anywhere without being asked (Fetch standard)."""
    answer = page.post("/api/jobs", content=b"{}", headers={"content-type": kind})
    assert refusal(answer, 415)["code"] == "not-json"


def test_a_body_that_is_too_large(page: TestClient) -> None:
    job = new_job(page)
    large = {"revision": 1, "toml": "#" * JSON_BYTES}
    assert refusal(page.put(job, json=large), 413)["code"] == "too-large"
    parts = (b"#" * 100_000 for _ in range(12))  # sent without its length
    headers = {"content-type": "application/json"}
    assert refusal(page.put(job, content=parts, headers=headers), 413)["code"] == "too-large"
    form = {"file": ("a.svg", b"#" * (DRAWING_BYTES + 1))}
    assert refusal(page.post(f"{job}/files", files=form), 413)["code"] == "too-large"
    for length in ("x", "9" * 5000):  # of more digits than Python reads as a number
        answer = page.get("/", headers={"content-length": length})
        assert refusal(answer, 413)["code"] == "too-large"
    assert page.get(job).json()["revision"] == 1


def test_every_answer_lets_only_the_pages_own_scripts_run(page: TestClient) -> None:
    """Each header by its standard: CSP 3, Fetch (nosniff, CORP), Referrer Policy."""
    job = new_job(page)
    for answer in (
        page.get("/"),
        page.get(job),
        page.get("/static/page.css"),
        page.get("/nowhere"),
        page.get("/", headers={"host": "evil.example"}),
        page.put(job, json={}),
    ):
        policy = answer.headers["content-security-policy"].split("; ")
        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
        assert "frame-ancestors 'self'" in policy
        assert not any("unsafe" in rule for rule in policy)
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize(
    "name",
    ["../app.py", "..%2fapp.py", "%2e%2e/app.py", "nothing.js", "page.css/..", "__init__.py"],
)
def test_only_the_pages_own_files_are_static(name: str, page: TestClient) -> None:
    answer = page.get(f"/static/{name}")
    refusal(answer, 404)
    assert "import " not in answer.text


def test_a_mistake_of_our_own_shows_no_traceback() -> None:
    def broken(_request: Request) -> Response:
        raise RuntimeError("secret of the program")

    app = Starlette(routes=[Route("/", broken)], exception_handlers=dict(HANDLERS))
    guarded = Guard(app, Address(LOOPBACK_NAMES, PORT))
    client = TestClient(guarded, base_url=ORIGIN, raise_server_exceptions=False)
    finding = refusal(client.get("/"), 500)
    assert "secret" not in finding["text"]
    assert str(Path(__file__).parent) not in finding["text"]


def test_a_number_that_was_connected_to_is_our_own() -> None:
    """Derived: served on all addresses, the one that a browser has connected to may be asked for;
    another number, or a name, may not."""
    address = Address(LOOPBACK_NAMES | {"0.0.0.0"}, PORT)
    assert address.is_own(f"192.168.1.7:{PORT}", "192.168.1.7")
    assert address.is_own(f"[fd00::7]:{PORT}", "fd00:0::7")
    assert not address.is_own(f"192.168.1.8:{PORT}", "192.168.1.7")
    assert not address.is_own(f"host.example:{PORT}", "192.168.1.7")
    assert not address.is_own(f"192.168.1.7:{PORT}", None)
    assert Address(LOOPBACK_NAMES, 80).is_own("localhost", None)
