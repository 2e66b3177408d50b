"""Drawings that are added: read by the program's readers, kept under our names, never served."""

from __future__ import annotations

import io
from typing import Any

import pytest
import shapely
from ezdxf.filemanagement import new
from starlette.testclient import TestClient

from cutfiles.web.desk import Desk
from tests.conftest import SMALL_JOB
from tests.web.page import SVG, changed, new_job, refusal


def added(page: TestClient, job: str, name: str, content: bytes) -> Any:
    return page.post(f"{job}/files", files={"file": (name, content)})


def dxf(unit: int) -> bytes:
    """A rectangle of 60 by 40 in a unit of a DXF (``$INSUNITS``, of Autodesk's DXF reference)."""
    document = new("R2000")
    document.header["$INSUNITS"] = unit
    corners = [(0, 0), (60, 0), (60, 40), (0, 40)]
    document.modelspace().add_lwpolyline(corners, close=True)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


@pytest.mark.parametrize(
    ("name", "content"),
    [("pocket.svg", SVG), ("POCKET.SVG", SVG), ("p.dxf", dxf(4)), ("../../../etc/x.svg", SVG)],
)
def test_a_drawing_becomes_a_panel(name: str, content: bytes, page: TestClient, desk: Desk) -> None:
    job = new_job(page, SMALL_JOB)
    answer = added(page, job, name, content)
    assert answer.status_code == 200, answer.text
    table = answer.json()
    ending = name[-4:].lower()
    assert table["name"].startswith("drawing-")
    assert table["name"].endswith(ending)
    assert "etc" not in table["name"]
    folder = desk.folder / job.rpartition("/")[2]
    assert [path.name for path in folder.iterdir()] == [table["name"]]
    (panel,) = table["panels"]
    # derived: the rectangle that was drawn
    assert shapely.Polygon(panel["outline"]).area == pytest.approx(60.0 * 40.0)
    row = {"file": table["name"], "quantity": 2, "grain_deg": 0}
    job_now = changed(page, job, {"path": ["panels"], "append": row})
    assert job_now["findings"] == []
    assert job_now["drawings"] == [table["name"]]
    (shown,) = page.get(f"{job}/pattern").json()["panels"]
    assert (shown["quantity"], shown["line"], sorted(shown["size_mm"])) == (2, 1, [40.0, 60.0])


def test_a_drawing_is_never_served(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    name = added(page, job, "a.svg", SVG).json()["name"]
    for url in (f"{job}/files/{name}", f"{job}/files", f"/static/{name}", f"{job}/{name}"):
        assert page.get(url).status_code in (404, 405)
    assert b"<rect" not in page.get(f"{job}/pattern").content


def test_a_drawing_belongs_to_its_job(page: TestClient) -> None:
    one, other = new_job(page, SMALL_JOB), new_job(page, SMALL_JOB)
    name = added(page, one, "a.svg", SVG).json()["name"]
    row = {"file": name, "quantity": 2}
    table = changed(page, other, {"path": ["panels"], "append": row})
    assert [finding["code"] for finding in table["findings"]] == ["no-file"]


def test_a_drawing_without_a_unit_is_kept_and_said_so(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    table = added(page, job, "a.svg", SVG.replace(b"mm", b"")).json()
    assert table["panels"] == []
    assert [finding["code"] for finding in table["findings"]] == ["unknown-unit"]
    row = {"file": table["name"], "quantity": 1, "unit": "cm", "grain_deg": 0}
    changed(page, job, {"path": ["panels"], "append": row})
    (panel,) = page.get(f"{job}/pattern").json()["panels"]
    assert panel["size_mm"] == [600.0, 400.0]


_BOMB = b"".join(
    [
        b'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a0 "lol">',
        *(b'<!ENTITY a%d "%s">' % (n, b"&a%d;" % (n - 1) * 10) for n in range(1, 10)),
        b']><svg xmlns="http://www.w3.org/2000/svg"><text>&a9;</text></svg>',
    ]
)
"""Entities that grow tenfold nine times: a billion laughs."""


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("a.svg", _BOMB, "unreadable"),
        (
            "a.svg",
            b'<!DOCTYPE s [<!ENTITY f SYSTEM "file:///etc/passwd">]><svg>&f;</svg>',
            "unreadable",
        ),
        ("a.svg", b"<svg" * 100_000, "unreadable"),
        ("a.svg", b"\x00\x01\x02", "unreadable"),
        ("a.svg", b"", "unreadable"),
        ("a.svg", b"<html><script>alert(1)</script></html>", "unreadable"),
        ("a.dxf", b"\x00" * 1000, "unreadable"),
        ("a.dxf", b"0\nSECTION\n2\nENTITIES\n0\n" * 10, "unreadable"),
        ("a.dxf", SVG, "unreadable"),
        ("a.html", b"<svg/>", "bad-value"),
        ("", SVG, "bad-value"),
        ("svg", SVG, "bad-value"),
        ("a.svg\x00.png", SVG, "bad-value"),
    ],
)
def test_a_hostile_drawing_is_refused_and_not_kept(
    name: str, content: bytes, code: str, page: TestClient, desk: Desk
) -> None:
    job = new_job(page, SMALL_JOB)
    answer = page.post(f"{job}/files", files={"file": (name or "x", content)})
    assert answer.status_code == 422, answer.text
    assert answer.json()["findings"][0]["code"] == code
    assert "root:" not in answer.text
    assert list((desk.folder / job.rpartition("/")[2]).iterdir()) == []
    assert page.get(job).json()["drawings"] == []


def test_a_script_in_a_drawing_goes_nowhere(page: TestClient) -> None:
    """What comes back are points: nothing that was in the file but its lines."""
    hostile = SVG.replace(
        b"<rect", b'<script>alert(1)</script><a href="javascript:alert(1)"/><rect onload="alert(1)"'
    )
    job = new_job(page, SMALL_JOB)
    answer = added(page, job, "<img src=x onerror=alert(1)>.svg", hostile)
    assert answer.status_code == 200
    assert "alert" not in str(answer.json()["panels"])
    assert "onerror" not in answer.text


def test_forms_that_hold_no_drawing(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    for files in ({"other": ("a.svg", SVG)}, {"file": (None, "text")}):
        assert page.post(f"{job}/files", files=files).status_code == 400
    two = [("file", ("a.svg", SVG)), ("file", ("b.svg", SVG))]
    assert page.post(f"{job}/files", files=two).status_code == 400
    headers = {"content-type": "multipart/form-data; boundary=x"}
    assert page.post(f"{job}/files", content=b"junk", headers=headers).status_code == 400
    refusal(page.post("/api/jobs/0123456789abcdef/files", files={"file": ("a.svg", SVG)}), 404)
    assert page.get(job).json()["drawings"] == []
