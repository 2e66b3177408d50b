"""Calls on jobs: what is typed is judged by the job file's own checks, kept, and can be undone."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest
from starlette.testclient import TestClient

from cutfiles.job.document import JobDocument
from cutfiles.job.job import Style
from cutfiles.pipeline.job_text import job_of_text, place_of, text_findings
from cutfiles.pipeline.load import load_job
from cutfiles.web.desk import Desk
from cutfiles.web.index import Index
from tests.cli.test_bad_jobs import BAD_JOBS
from tests.conftest import SMALL_JOB
from tests.web.page import SVG, changed, nest, new_job, refusal


def test_a_blank_job_is_a_job_that_can_be_made(page: TestClient, tmp_path: Path) -> None:
    job = page.get(new_job(page)).json()
    assert (job["revision"], job["findings"], job["can_undo"], job["can_redo"]) == (
        1,
        [],
        False,
        False,
    )
    (tmp_path / "job.toml").write_text(job["toml"], encoding="utf-8")
    loaded = load_job(tmp_path / "job.toml")
    assert (len(loaded.cloths), len(loaded.caps), loaded.machine.kind) == (1, 1, "laser")
    assert page.get("/api/jobs").json()[0]["id"] == job["id"]
    assert page.get(f"/jobs/{job['id']}").status_code == 200
    assert page.get("/").status_code == 200


def test_a_job_from_a_file_is_kept_as_it_was_written(page: TestClient) -> None:
    text = f"\ufeff# ours\r\ntitle = 'Ours'\r\n{SMALL_JOB}"
    job = page.get(new_job(page, text)).json()
    assert job["toml"] == text.removeprefix("\ufeff")
    assert job["tables"]["title"] == "Ours"
    assert page.get("/api/jobs").json()[0]["title"] == "Ours"


def test_changes_keep_what_was_typed_and_say_what_is_wrong(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    table = changed(page, job, {"path": ["cloth", 0, "width"], "value": "900 yd"})
    (finding,) = table["findings"]
    assert (finding["code"], finding["path"]) == ("bad-value", ["cloth", 0, "width"])
    assert "at most 5000 mm" in finding["text"]
    assert table["tables"]["cloth"][0]["width"] == "900 yd"
    table = changed(page, job, {"path": ["cloth", 0, "width"], "value": "44 1/2 in"})
    assert table["findings"] == []
    assert table["toml"] == SMALL_JOB.replace("1117.6", '"44 1/2 in"')


@pytest.mark.parametrize("text", [bad[1] for bad in BAD_JOBS], ids=[bad[0] for bad in BAD_JOBS])
def test_the_page_refuses_what_the_command_line_refuses(text: str, tmp_path: Path) -> None:
    findings = text_findings(text, tmp_path, ())
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    try:
        load_job(tmp_path / "job.toml")
        said = []
    except ValueError as error:
        said = str(error).splitlines()
    if "is no file that was added" in "".join(f.text for f in findings):
        return  # the page opens no file that a job names
    assert [f.text for f in findings if f.severity == "error"] == said
    for finding in findings:
        place = place_of(finding)
        # derived: what a finding says first is its place, but for a text that is no job at all
        assert bool(place) == (finding.code not in ("not-toml", "too-large")), finding
        if place:
            assert finding.text.startswith(("job.toml: [", f"job.toml: {place[0]}")), finding


def test_the_place_of_a_finding() -> None:
    texts = {
        "shrinkage_percent = { along = 99 }": ["cloth", 0, "shrinkage_percent", "along"],
        "flaws = [{ at = [1, 2], diameter = 3 }, { at = 4 }]": ["cloth", 0, "flaws", 1, "at"],
        "flaws = [{ at = [1, 2], sise = 3 }]": ["cloth", 0, "flaws", 0, "sise"],
    }
    for line, place in texts.items():
        text = SMALL_JOB.replace("selvedge = 12.7", line)
        (finding,) = [f for f in text_findings(text, Path(), ()) if f.severity == "error"]
        assert list(place_of(finding)) == place


def test_undo_and_redo_go_along_all_texts(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    texts = [SMALL_JOB]
    for quantity in (2, 3, 4):
        change = {"path": ["caps", 0, "quantity"], "value": quantity}
        texts.append(changed(page, job, change)["toml"])
    revision = 4
    for way, seen in (("undo", texts[-2::-1]), ("redo", texts[1:])):
        for text in seen:
            table = page.post(f"{job}/{way}", json={"revision": revision}).json()
            revision = table["revision"]
            assert table["toml"] == text
        refusal(page.post(f"{job}/{way}", json={"revision": revision}), 409)
    page.post(f"{job}/undo", json={"revision": revision})
    table = changed(page, job, {"path": ["caps", 0, "quantity"], "value": 9})
    assert (table["can_undo"], table["can_redo"]) == (True, False)
    assert table["revision"] == revision + 2


def test_the_list_has_the_title_that_an_undo_brings_back(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    for title in ("one", "two"):
        changed(page, job, {"path": ["title"], "value": title})
    page.post(f"{job}/undo", json={"revision": 3})
    assert [row["title"] for row in page.get("/api/jobs").json()] == ["one"]
    page.post(f"{job}/redo", json={"revision": 4})
    assert [row["title"] for row in page.get("/api/jobs").json()] == ["two"]


def test_a_text_that_says_nothing_new_is_no_step(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    table = page.put(job, json={"revision": 1, "toml": SMALL_JOB}).json()
    assert (table["revision"], table["can_undo"]) == (1, False)


def test_the_second_window_is_told(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    changed(page, job, {"path": ["title"], "value": "first"})
    late = {"revision": 1, "changes": [{"path": ["title"], "value": "second"}]}
    for answer in (
        page.put(job, json=late),
        page.put(job, json={"revision": 1, "toml": ""}),
        page.post(f"{job}/undo", json={"revision": 1}),
        page.post(f"{job}/nest", json={"revision": 1, "seconds": 1, "seed": 1}),
        page.post(f"{job}/pin", json={"revision": 1, "pieces": []}),
        page.post(f"{job}/unpin", json={"revision": 1, "pieces": []}),
    ):
        assert refusal(answer, 409)["code"] == "stale"
        assert answer.json()["revision"] == 2
    assert page.get(job).json()["tables"]["title"] == "first"


def test_a_text_that_cannot_be_read_is_kept_too(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    table = page.put(job, json={"revision": 1, "toml": "title = = 3"}).json()
    assert (table["toml"], table["tables"]) == ("title = = 3", {})
    assert table["findings"][0]["code"] == "not-toml"
    change = {"revision": 2, "changes": [{"path": ["title"], "value": "x"}]}
    assert refusal(page.put(job, json=change), 422)["code"] == "no-change"


def test_what_json_does_not_have_is_shown_as_text(page: TestClient) -> None:
    job = new_job(page, "title = 1979-05-27\nlength_unit = inf\n")
    assert page.get(job).json()["tables"] == {"title": "1979-05-27", "length_unit": "inf"}


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"revision": 1},
        {"revision": True, "toml": ""},
        {"revision": "1", "toml": ""},
        {"revision": 1, "toml": 3},
        {"revision": 1, "toml": "a\0b"},
        {"revision": 1, "toml": "\0" * 100_000},
        {"revision": 1, "toml": "", "changes": []},
        {"revision": 1, "changes": {}},
        {"revision": 1, "changes": [{}]},
    ],
)
def test_a_body_that_asks_for_nothing(body: dict[str, Any], page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    finding = refusal(page.put(job, json=body), 400)
    assert len(finding["text"]) < 200
    assert page.get(job).json()["revision"] == 1


def test_a_value_that_is_nested_deep(page: TestClient) -> None:
    """Python lets functions go 1000 calls into each other by default (sys.setrecursionlimit)."""
    job = new_job(page, SMALL_JOB)
    value = b"[" * 900 + b"]" * 900
    content = b'{"revision": 1, "changes": [{"path": ["title"], "value": %s}]}' % value
    answer = page.put(job, content=content, headers={"content-type": "application/json"})
    assert refusal(answer, 422)["code"] == "no-change"
    assert page.get(job).json()["toml"] == SMALL_JOB


def test_an_index_that_has_no_room(page: TestClient, desk: Desk) -> None:
    """SQLite then says that the disk is full (pragma max_page_count, in its documentation)."""
    job = new_job(page, SMALL_JOB)
    desk.index._base.execute("pragma max_page_count = 1")  # which it takes as: no page more
    large = {"revision": 1, "toml": "#" * 500_000}
    finding = refusal(page.put(job, json=large), 507)
    assert (finding["code"], "is full" in finding["text"]) == ("output", True)
    assert page.get(job).json()["toml"] == SMALL_JOB


def test_a_text_that_no_file_can_hold(page: TestClient) -> None:
    job = new_job(page, SMALL_JOB)
    headers = {"content-type": "application/json"}
    half = b'{"revision": 1, "toml": "\\ud800"}'  # half a pair of UTF-16
    refusal(page.put(job, content=half, headers=headers), 400)
    assert page.get(job).json()["revision"] == 1


@pytest.mark.parametrize("content", [b"{", b"[]", b"3", b"[" * 100_000])
def test_a_body_that_is_no_table(content: bytes, page: TestClient) -> None:
    headers = {"content-type": "application/json"}
    refusal(page.post("/api/jobs", content=content, headers=headers), 400)
    assert page.get("/api/jobs").json() == []


def test_the_form_has_every_key_of_the_job_file(page: TestClient) -> None:
    """By pydantic's own description of the models, which the form is not made from."""
    form = page.get("/api/form").json()
    schema = JobDocument.model_json_schema()

    def compare(keys: list[dict[str, Any]], model: dict[str, Any]) -> int:
        assert [key["name"] for key in keys] == list(model["properties"])
        assert {key["name"] for key in keys if key["needed"]} == set(model.get("required", []))
        count = len(keys)
        for key in keys:
            if "keys" in key:
                said = model["properties"][key["name"]]
                parts = [said, said.get("items", {}), *said.get("anyOf", [])]
                (ref,) = {part["$ref"] for part in parts if "$ref" in part}
                count += compare(key["keys"], schema["$defs"][ref.rpartition("/")[2]])
        return count

    assert compare(form["keys"], schema) > 120
    assert set(form["measures"]) == set(get_args(Style))


def test_the_form_says_what_the_checks_say(page: TestClient) -> None:
    """Every limit and choice of the form, tried on a job: inside it is right, beyond it is not."""
    form = {key["name"]: key for key in page.get("/api/form").json()["keys"]}
    keys = [("cloth", key) for key in form["cloth"]["keys"]]
    keys += [("machine", key) for key in form["machine"]["keys"]]
    tried = 0
    for table, key in keys:
        if key["kind"] == "choice":
            bad: Any = "nothing like it"
            words = [f'"{choice}"' for choice in key["choices"]]
        elif key["kind"] in ("length", "count", "number", "speed", "acceleration"):
            unit = f" {key['unit']}" if key.get("unit") else ""
            bad = f"{key['high'] * 1.01}{unit}" if unit else round(key["high"] + 1)
            words = [f"{key['high']:.9g}"]
        else:
            continue
        text = '[[cloth]]\nname = "a"\nwidth = 900\n\n[machine]\nkind = "laser"\n'
        written = f'"{bad}"' if isinstance(bad, str) else str(bad)
        head = "[[cloth]]\n" if table == "cloth" else "[machine]\n"
        text = (
            "\n".join(line for line in text.splitlines() if not line.startswith(f"{key['name']} ="))
            + "\n"
        )
        text = text.replace(head, f"{head}{key['name']} = {written}\n")
        tomllib.loads(text)
        said = [f for f in text_findings(text, Path(), ()) if place_of(f)[-1:] == (key["name"],)]
        assert said, (table, key)
        assert all(word in said[0].text for word in words), said
        tried += 1
    assert tried > 25


def test_usual_values_are_those_of_a_machine_that_says_nothing(page: TestClient) -> None:
    """Every one of them, written into a job, changes nothing."""
    form = page.get("/api/form").json()
    for kind, usual in form["usual"].items():
        plain = SMALL_JOB.replace('"laser"', f'"{kind}"').replace("kerf = 0.2\n", "")
        written = [
            f"{key} = {value}" if value.isdecimal() else f'{key} = "{value}"'
            for key, value in usual.items()
        ]
        full = plain + "\n".join(written) + "\n"
        assert job_of_text(full, Path(), ()) == job_of_text(plain, Path(), ())
    only = {key["name"]: key.get("only_for") for key in form["keys"][-2]["keys"]}
    assert only["lead_in"] == ["laser", "drag knife"]
    for key, kinds in only.items():
        for kind in kinds or ():
            assert key in form["usual"][kind] or key == "tabs"
    assert form["sizes"][4] == {"name": "M", "from_mm": 554.0, "to_mm": 576.0}


def test_a_title_is_text_on_the_page(page: TestClient) -> None:
    job = new_job(page, 'title = "<script>alert(1)</script>"\n')
    for url in (job.removeprefix("/api"), "/"):
        assert "<script>alert" not in page.get(url).text


def test_a_job_is_thrown_away_with_all_that_it_had(page: TestClient, desk: Desk) -> None:
    job, other = new_job(page, SMALL_JOB), new_job(page, SMALL_JOB)
    page.post(f"{job}/files", files={"file": ("a.svg", SVG)})
    nest(page, job, 1.0)
    assert refusal(page.delete(job), 409)["code"] == "goes-on"
    page.post(f"{job}/cancel", json={})
    assert page.delete(job).status_code == 200
    refusal(page.get(job), 404)
    refusal(page.delete(job), 404)
    left = other.rpartition("/")[2]
    assert [row["id"] for row in page.get("/api/jobs").json()] == [left]
    assert [path.name for path in desk.folder.iterdir() if path.is_dir()] == [left]


def test_a_job_names_no_file_but_its_drawings(page: TestClient, tmp_path: Path) -> None:
    """Any name that is not in the index is refused before a path is made of it."""
    secret = tmp_path / "secret.svg"
    secret.write_bytes(b"<svg/>")
    for name in (
        str(secret),
        "../../secret.svg",
        "..\\secret.svg",
        "/etc/passwd.svg",
        "\\\\host\\x.svg",
    ):
        tables = (
            f"[[panels]]\nfile = '{name}'\nquantity = 1\n",
            f"[[cloth]]\nname = 'b'\noutline = '{name}'\n",
        )
        for table in tables:
            job = new_job(page, SMALL_JOB + table)
            (finding,) = page.get(job).json()["findings"]
            assert finding["code"] == "no-file"
            nest = page.post(f"{job}/nest", json={"revision": 1, "seconds": 1, "seed": 1})
            assert refusal(nest, 422)["code"] == "no-file"
            assert refusal(page.get(f"{job}/pattern"), 422)["code"] == "no-file"
    for text in (f"shelf = '{secret}'\n{SMALL_JOB}", f"{SMALL_JOB}file = '{secret}'\n"):
        (finding,) = page.get(new_job(page, text)).json()["findings"]
        assert finding["code"] == "no-file"


def test_jobs_are_there_when_the_folder_is_opened_again(page: TestClient, desk: Desk) -> None:
    job = new_job(page, SMALL_JOB)
    changed(page, job, {"path": ["title"], "value": "kept"})
    again = Index(desk.folder)
    kept = again.job(job.rpartition("/")[2])
    assert (kept.revision, kept.title, kept.can_undo) == (2, "kept", True)
    again.close()


@pytest.mark.parametrize(
    "name", ["0123456789abcdef", "..%2f..", "%2e%2e", "a/b", "index.sqlite", "x' or '1'='1"]
)
def test_no_job_is_found_by_another_name(name: str, page: TestClient) -> None:
    new_job(page)
    for tail in ("", "/run", "/pattern", "/results", "/results/1/files.zip"):
        refusal(page.get(f"/api/jobs/{name}{tail}"), 404)
    refusal(page.get(f"/jobs/{name}"), 404)
    assert len(page.get("/api/jobs").json()) == 1
