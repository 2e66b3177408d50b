"""The docs say what is so: commands run, job snippets parse, links lead somewhere."""

from __future__ import annotations

import csv
import re
import shlex
import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import get_args

import pytest

from cutfiles.effort import Effort
from cutfiles.files.astm_dxf import LAYERS
from cutfiles.files.roles import INKS
from cutfiles.files.ruler_svg import RULER_GROUPS
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.document import (
    CapsTable,
    ClothTable,
    CostsTable,
    FilesTable,
    FlawTable,
    JobDocument,
    MachineTable,
    PanelsTable,
    PinnedTable,
    RolesTable,
)
from cutfiles.job.job import THICKNESS_MM
from cutfiles.job.machine import (
    DEFAULT_FITTINGS,
    DEFAULT_KERF_MM,
    DragKnife,
    Laser,
    MachineKind,
    RotaryBlade,
)
from cutfiles.job.read import read_job
from cutfiles.job.sizes import size_named
from cutfiles.paper.sheet import OVERLAP_MM, PAPERS
from cutfiles.pieces.bias import join_loss
from cutfiles.pieces.tie_back import crown_pleats, draft_tie_back, tie_back_for, tie_back_with
from cutfiles.pipeline.make import make_job
from cutfiles.preview.lay_data import MOST_NEIGHBOURS, NEAR_MM
from cutfiles.preview.png import LONGEST_PX, MOST_PX_PER_MM
from cutfiles.tolerances import MIRROR_MM, PAST_FOLD_MM
from tests.cli.program import NestsHere, Run, cutfiles, cutfiles_alone
from tests.conftest import ONE_CAP, ONE_CLOTH, ROOT

PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")])
FENCE = re.compile(r"^```(\w+)\n(.*?)^```", re.MULTILINE | re.DOTALL)


Follow = Callable[[Iterable[str]], list[Run]]


def blocks(page: Path, language: str) -> list[str]:
    return [body for kind, body in FENCE.findall(page.read_text("utf-8")) if kind == language]


def commands_of(page: Path) -> list[str]:
    return [line.strip() for block in blocks(page, "sh") for line in block.splitlines()]


@pytest.fixture
def follow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Follow:
    """Runs commands of a page in a folder beside the fixtures, their nests as quick as can be."""
    (tmp_path / "fixtures").symlink_to(ROOT / "fixtures")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("cutfiles.cli.QUICK_SECONDS", 0.1)

    def followed(commands: Iterable[str]) -> list[Run]:
        runs = []
        for command in commands:
            program, *words = shlex.split(command)
            assert program == "cutfiles"
            for search in {"--seconds", "--nest"} & set(words):
                words[words.index(search) + 1] = "0.1"
            run = cutfiles(*words)
            assert run.returncode == 0, (command, run.stderr)
            runs.append(run)
        return runs

    return followed


def test_the_tutorial_runs(tmp_path: Path) -> None:
    # as a person runs it, each command a process of its own
    (tmp_path / "fixtures").symlink_to(ROOT / "fixtures")
    commands = commands_of(ROOT / "docs" / "tutorials" / "first-lay.md")
    assert len(commands) == 3
    for command in commands:
        program, *words = shlex.split(command)
        assert program == "cutfiles"
        run = cutfiles_alone(*words, folder=tmp_path)
        assert run.returncode == 0, (command, run.stderr)
    assert (tmp_path / "first-lay" / "preview.html").is_file()


def test_the_guide_to_the_sheets_runs(follow: Follow, tmp_path: Path) -> None:
    page = ROOT / "docs" / "how-to" / "paper-for-the-table.md"
    assert len(follow(commands_of(page))) == 3
    named = {path.name for path in (tmp_path / "caps-out").iterdir()}
    assert named >= set(re.findall(r"`([\w-]+\.(?:pdf|csv))`", page.read_text("utf-8")))
    # the count of the ticket that the page shows
    assert "lay-01-b02: 20 pieces of 5 caps, cut file " in page.read_text("utf-8")
    with (tmp_path / "caps-out" / "pieces.csv").open(encoding="utf-8", newline="") as stream:
        bundles = [row["bundle"] for row in csv.DictReader(stream)]
    assert bundles.count("lay-01-b02") == 20


def test_the_guide_to_looking_runs(follow: Follow, tmp_path: Path) -> None:
    page = ROOT / "docs" / "how-to" / "look-before-you-cut.md"
    made, shown = follow(commands_of(page))
    assert made.stdout
    assert (tmp_path / "caps-out" / "lay-01.png").is_file()
    assert "crown, tie-back M: " in shown.stdout
    text = page.read_text("utf-8")
    assert f"up to {LONGEST_PX} pixels wide" in text
    output = (ROOT / "docs" / "reference" / "output.md").read_text("utf-8")
    assert f"{MOST_PX_PER_MM:g} pixels a millimetre, or {LONGEST_PX} on the longer" in output
    assert f"up to {MOST_NEIGHBOURS} pieces within {NEAR_MM:g} mm" in output


def test_the_evening_runs(follow: Follow, tmp_path: Path) -> None:
    page = ROOT / "docs" / "tutorials" / "an-evening.md"
    shelf, job = blocks(page, "text")
    (tmp_path / "shelf.toml").write_text(shelf, "utf-8")
    (tmp_path / "caps.toml").write_text(job, "utf-8")
    commands = commands_of(page)
    assert [command.split()[1] for command in commands] == [
        "estimate", "make", "check", "sheets", "take", "estimate",
    ]  # fmt: skip
    said = [run.stdout for run in follow(commands)]
    assert said[2].startswith("Sound: ")
    assert "2 bundles, 18 pieces" in said[3]  # derived: 3 caps of 4 pieces, 2 of 3
    (left, other) = tomllib.loads((tmp_path / "shelf.toml").read_text("utf-8"))["stock"]
    assert 0.0 < float(left["length"].removesuffix(" yd")) < 2.0
    assert other["length"] == "1 yd"
    assert "# a gift of the harbour museum" in (tmp_path / "shelf.toml").read_text("utf-8")
    # "Two yards give more than five caps", at the least
    (least,) = re.findall(r"72.0 in on hand for about \d+ caps \(at least (\d+)", said[0])
    assert int(least) > 5


def test_the_estimate_of_the_guide_runs(follow: Follow, tmp_path: Path) -> None:
    runs = follow(commands_of(ROOT / "docs" / "how-to" / "how-much-cloth.md"))
    assert len(runs) == 2
    assert all("12 caps" in run.stdout for run in runs)
    assert (tmp_path / "figures.json").is_file()


@pytest.mark.usefixtures("short_nests_of_plans")
def test_the_plan_of_the_guide_runs(
    follow: Follow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cutfiles.pipeline.plan.nests_on", NestsHere)
    follow(commands_of(ROOT / "docs" / "how-to" / "plan-many-lays.md"))
    assert (tmp_path / "tern-street-plan" / "plan.json").is_file()
    assert (tmp_path / "tern-street-lay-01" / "lay-01.dxf").is_file()


@pytest.mark.parametrize("kind", ["laser", "drag-knife", "rotary-blade"])
def test_the_jobs_of_each_machine_run(kind: str, follow: Follow, tmp_path: Path) -> None:
    page = ROOT / "docs" / "how-to" / "cut-on-each-machine.md"
    (command,) = (one for one in commands_of(page) if f"-{kind}.toml" in one)
    follow([command])
    (out,) = re.findall(r"--out (\S+)", command)
    assert (tmp_path / out / "lay-01.dxf").is_file()


def test_the_defaults_of_the_machines_page() -> None:
    text = (ROOT / "docs" / "reference" / "machines.md").read_text("utf-8")
    rows = {line.split("|")[1].strip(): line.split("|")[2:5] for line in text.splitlines()
            if line.startswith("| `")}  # fmt: skip
    kinds = get_args(MachineKind)
    for column, kind in enumerate(kinds):
        pace, tool = DEFAULT_FITTINGS[kind].pace, DEFAULT_FITTINGS[kind].tool
        figures = {
            "`kerf`": DEFAULT_KERF_MM[kind],
            "`cut_speed`": pace.cut_mm_s,
            "`travel_speed`": pace.travel_mm_s,
            "`mark_speed`": pace.mark_mm_s,
            "`acceleration`": pace.acceleration_mm_s2,
            "`start_time`": pace.start_stroke_s,
            "`thickness`, of cloth": THICKNESS_MM,
        }
        if not isinstance(tool, RotaryBlade):
            figures["`lead_in`"] = tool.lead_in_mm
        if isinstance(tool, Laser):
            figures["`overlap`"] = tool.overlap_mm
        elif isinstance(tool, DragKnife):
            figures |= {"`blade_offset`": tool.offset_mm, "`overrun`": tool.overrun_mm,
                        "`swing_from_deg`": tool.swing_from_deg}  # fmt: skip
        else:
            figures |= {"`blade_diameter`": tool.diameter_mm, "`bed_depth`": tool.bed_depth_mm,
                        "`scrub`": tool.scrub_mm, "`most_stack`": tool.most_stack_mm}  # fmt: skip
        for key, figure in figures.items():
            said = rows[key][column].split()[0]
            assert float(said) == pytest.approx(figure), (kind, key)
        assert rows["`marks`"][column].strip() == DEFAULT_FITTINGS[kind].marks
    for key in MachineTable.model_fields:
        assert f"`{key}`" in text or key in ("kind", "file", "bed", "most_plies"), key


def test_the_ruler_guide_runs(follow: Follow, tmp_path: Path) -> None:
    page = ROOT / "docs" / "how-to" / "cut-by-ruler.md"
    (job,) = blocks(page, "toml")
    (tmp_path / "one-yard.toml").write_text(job, "utf-8")
    said = [run.stderr + run.stdout for run in follow(commands_of(page))]
    assert len(said) == 4
    assert "gives 5 caps with their ties, and 4 in two stages" in page.read_text("utf-8")
    assert "as blocks: 5 caps, proved" in said[0]
    assert "as blocks: 4 caps, proved" in said[1]
    assert "2.83 times" in page.read_text("utf-8")
    assert join_loss(100.0) == pytest.approx(283.0, abs=0.5)


@pytest.mark.parametrize("group", RULER_GROUPS.values())
def test_every_group_of_a_ruler_drawing_is_in_the_reference(group: str) -> None:
    assert f"| `{group}` |" in (ROOT / "docs" / "reference" / "output.md").read_text("utf-8")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_job_snippets_are_read(page: Path) -> None:
    for snippet in blocks(page, "toml"):
        table = tomllib.loads(snippet)
        text = snippet if "cloth" in table else ONE_CLOTH + snippet
        text += "" if "caps" in table else ONE_CAP
        text += "" if "machine" in table else '[machine]\nkind = "laser"\n'
        if "title" in table:
            text = snippet + text[len(snippet) :]
        assert read_job(text.encode(), source=page.name).caps


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
        if not target.startswith("http"):
            assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_the_readme_commands_are_the_ones_we_run() -> None:
    first, second = blocks(ROOT / "README.md", "sh")
    assert "cutfiles make fixtures/jobs/wildlife-clinic.toml --out caps-out" in first
    ci = (ROOT / ".ci" / "run").read_text("utf-8")
    assert second.strip() in ci


def test_every_key_is_in_the_reference() -> None:
    text = (ROOT / "docs" / "reference" / "job-file.md").read_text("utf-8")
    tables = (
        JobDocument,
        ClothTable,
        CapsTable,
        MachineTable,
        PanelsTable,
        PinnedTable,
        FilesTable,
        CostsTable,
    )
    for table in tables:
        for key in (field.alias or name for name, field in table.model_fields.items()):
            assert f"`{key}`" in text or f"[{key}]" in text, key
    for key in (*RolesTable.model_fields, *FlawTable.model_fields):
        assert f"{key} = " in text, key


def test_the_example_for_a_controller_runs(tmp_path: Path) -> None:
    page = ROOT / "docs" / "how-to" / "send-to-a-controller.md"
    (snippet,) = blocks(page, "toml")
    (tmp_path / "job.toml").write_text(snippet, "utf-8")
    out = tmp_path / "out"
    make_job(tmp_path / "job.toml", out, Effort(0.0, 1))
    named = {path.name for path in out.glob("lay-*")}
    assert named >= set(re.findall(r"`(lay-01\S*)`", page.read_text("utf-8")))
    assert cutfiles("check", out).returncode == 0


def test_how_far_a_cut_runs_past_the_fold() -> None:
    text = (ROOT / "docs" / "how-to" / "folded-cloth.md").read_text("utf-8")
    assert f"runs straight on, {PAST_FOLD_MM:g} mm into the air" in text
    assert f"within {MIRROR_MM:g} mm" in text


def test_every_code_of_a_drawing_is_in_the_guide() -> None:
    text = (ROOT / "docs" / "how-to" / "own-panels.md").read_text("utf-8")
    sources = [*(ROOT / "cutfiles" / "pieces").glob("*.py")]
    said = [re.findall(r"\.say\(\s*\"([\w-]+)\"", path.read_text("utf-8")) for path in sources]
    codes = {code for codes in said for code in codes}
    assert len(codes) > 20
    for code in codes:
        assert f"`{code}`" in text, code


def test_every_layer_is_in_the_reference() -> None:
    text = (ROOT / "docs" / "reference" / "output.md").read_text("utf-8")
    for role, ink in INKS.items():
        assert f"| {role} | `{ink.layer}` |" in text


def test_the_papers_and_layers_of_the_pattern_page() -> None:
    text = (ROOT / "docs" / "reference" / "pattern-files.md").read_text("utf-8")
    a4, letter = PAPERS["A4"], PAPERS["Letter"]
    inches = f"{letter.window_width_mm / 25.4:g} x {letter.window_height_mm / 25.4:g} in"
    assert f"| {a4.width_mm:g} x {a4.height_mm:g} mm | 8.5 x 11 in |" in text
    assert f"| {a4.margin_mm:g} mm | {letter.margin_mm / 25.4:g} in |" in text
    assert f"| {a4.window_width_mm:g} x {a4.window_height_mm:g} mm | {inches} |" in text
    assert f"| {OVERLAP_MM:g} mm | {OVERLAP_MM:g} mm |" in text
    for layer in LAYERS:
        assert f"\n| {layer} |" in text


def test_the_measures_of_the_tie_back_page() -> None:
    text = (ROOT / "docs" / "reference" / "tie-back.md").read_text("utf-8")
    size = size_named("M")
    draft, cap = draft_tie_back(size, "hem"), tie_back_for(size.girth_mm)
    crown = draft.piece("crown").edge("crown seam").stitch
    length = crown.point_at(crown.length() / 2).x
    for figure in (
        f"{cap.lower_edge_mm:.0f} mm",
        f"{draft.fit.elastic_relaxed_mm:.0f} mm, {draft.fit.elastic_cut_mm:.0f} mm",
        f"{draft.fit.smallest_girth_mm:.0f} mm, {draft.fit.largest_girth_mm:.0f} mm",
        f"{cap.front_height_mm:.0f} mm",
        f"{cap.end_height_mm:.0f} mm",
        f"{cap.crown_width_mm:.0f} mm, {cap.crown_back_mm:.0f} mm",
        f"{length:.0f} mm | solved for",
    ):
        assert f"| {figure}" in text, figure
    assert polygon_of(draft.piece("crown").cut).area > 0


def test_the_pleats_of_the_tie_back_page() -> None:
    text = (ROOT / "docs" / "reference" / "tie-back.md").read_text("utf-8")
    size = size_named("M")
    changed = {"pleat_depth_mm": 10.0, "crown_back_mm": 140.0}
    caps = [tie_back_with(size.girth_mm, {**changed, "pleats": n}) for n in (1.0, 2.0)]
    firsts = [crown_pleats(cap)[0] for cap in caps]
    middle = caps[0].crown_back_flat_mm / 2.0
    for words, box, knife in (
        ("taken up", *(cap.take_up_mm for cap in caps)),
        ("back edge as cut, pleated to 140 mm", *(cap.crown_back_flat_mm for cap in caps)),
        ("fold notches, from the centre back", *(abs(p.fold_mm - middle) for p in firsts)),
        ("laid on the notches at", *(abs(p.meet_mm - middle) for p in firsts)),
        ("crown at its widest", *(cap.crown_width_mm for cap in caps)),
    ):
        assert f"| {words} | {box:.0f} mm | {knife:.0f} mm |" in text
