"""Who may import whom: the data flows one way, and the folder shows it."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import networkx
import pytest

from tests.conftest import ROOT

PACKAGE = ROOT / "cutfiles"
BASE = {"errors", "units", "tolerances", "effort", "chance", "asked"}
FLOW = [
    "geometry",
    "job",
    "pieces",
    "lay",
    "estimate",
    "plies",
    "cuts",
    "paper",
    "ruler",
    "sheets",
    "files",
    "verdict",
    "preview",
]
NOUNS = {
    "job": {"job.cloth", "job.job", "job.machine", "job.sizes", "job.written"},
    "pieces": {"pieces.piece", "pieces.ordered"},
    "lay": {"lay.lay", "lay.reach"},
    "estimate": {"estimate.plies"},
    "plies": {"plies.order"},
    "cuts": {"cuts.plan"},
    "paper": {"paper.sheet"},
    "ruler": {"ruler.plan"},
    "sheets": {"sheets.sheet"},
    "verdict": {"verdict.drawing"},
}
"""What of each package the packages to its right may know: its nouns, never its verbs."""

OUTSIDE = {
    "ezdxf": {"files.dxf", "pieces.panel_dxf"},
    "pyogrio": {"verdict.read_dxf", "verdict.read_astm"},
    "reportlab": {"files.pdf_pen"},
    "pypdfium2": {"verdict.read_pdf"},
    "svgpathtools": {"verdict.svg_path", "pieces.svg_shapes"},
    "tinycss2": {"pieces.svg_styles"},
    "defusedxml": {"verdict.svg_elements", "pieces.panel_svg"},
    "spyrrow": {"lay.strip_worker"},
    "numba": {
        "chance",
        "cuts.moves",
        "cuts.net",
        "cuts.search",
        "geometry.fit_arcs",
        "lay.convex_part",
        "lay.inside",
        "lay.untangle",
    },
    "platformdirs": {"pipeline.store", "web.desk"},
    "starlette": {
        "web.answers",
        "web.app",
        "web.drawing_calls",
        "web.guard",
        "web.result_calls",
    },
    "uvicorn": {"web.serve"},
    "jinja2": {"web.app"},
    "typer": {"cli"},
    "rich": {"cli"},
    "pydantic": {
        "job.document",
        "job.fields",
        "job.read",
        "job.shelf",
        "job.toml_text",
        "pipeline.job_form",
        "pipeline.job_text",
        "verdict.paper_rows",
        "verdict.read_ruler",
        "verdict.read_summary",
        "verdict.rows",
    },
    "tomllib": {"job.toml_text", "web.toml_lines"},
    "tomlkit": {"files.shelf_text", "files.lay_job", "web.edits"},
    "HersheyFonts": {"cuts.lettering", "verdict.letters"},
    "resvg_py": {"verdict.raster", "preview.png"},
    "PIL": {"verdict.raster"},
    "segno": {"files.tickets"},
    "zxingcpp": {"verdict.judge_sheets"},
}
"""Libraries that are kept to one place."""

PACKAGED_AS = {
    "HersheyFonts": "Hershey-Fonts",
    "PIL": "pillow",
    "resvg_py": "resvg-py",
    "zxingcpp": "zxing-cpp",
}
"""Libraries that are installed under another name than they are imported by."""


PATHS = {
    ".".join(path.relative_to(PACKAGE).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}


@cache
def modules() -> dict[str, ast.Module]:
    return {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in PATHS.items()}


def imports(tree: ast.Module) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            names.add(node.module or "")
        elif isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
    return names


@cache
def imported() -> dict[str, set[str]]:
    """What each module imports."""
    return {name: imports(tree) for name, tree in modules().items()}


@cache
def graph() -> dict[str, set[str]]:
    """What each module imports of ours."""
    return {
        name: {i.removeprefix("cutfiles.") for i in names if i.startswith("cutfiles.")}
        for name, names in imported().items()
    }


def test_the_graph_is_acyclic() -> None:
    arrows = networkx.DiGraph((a, b) for a, others in graph().items() for b in others)
    assert networkx.is_directed_acyclic_graph(arrows), networkx.find_cycle(arrows)


@pytest.mark.parametrize("name", PATHS)
def test_the_data_flows_one_way(name: str) -> None:
    package = name.split(".", maxsplit=1)[0]
    for other in graph()[name]:
        head = other.split(".")[0]
        if (
            other in BASE
            or head == package
            or package in ("pipeline", "web", "__main__", "cli", "__init__")
        ):
            continue
        assert package in FLOW, f"{name} imports {other}"
        assert head in FLOW, f"{name} imports {other}"
        assert FLOW.index(head) < FLOW.index(package), f"{name} imports {other}, against the flow"
        if head in NOUNS:
            assert other in NOUNS[head], f"{name} imports {other}, which is no noun of {head}"
        assert head != "files", f"{name} imports {other}: readers share nothing with writers"


def test_only_the_command_line_and_the_page_know_the_pipeline() -> None:
    users = {n for n, others in graph().items() if any(o.startswith("pipeline") for o in others)}
    users = {name for name in users if not name.startswith("pipeline")}
    assert {name.split(".")[0] for name in users} == {"cli", "web"}
    names = (
        "load", "make", "draft", "estimate", "plan", "ruler", "strips", "check", "store", "take",
        "sheets", "show",
    )  # fmt: skip
    rooms = {"pipeline." + room for room in names} | {"job.size_chart", "web.serve"}
    assert graph()["cli"] <= BASE | rooms


def test_the_page_works_through_the_pipeline() -> None:
    users = {n for n, others in graph().items() if any(o.startswith("web") for o in others)}
    assert {name for name in users if not name.startswith("web")} == {"cli"}
    for name, others in graph().items():
        if name.startswith("web."):
            beyond = {o for o in others if o.split(".")[0] not in ("web", "pipeline")}
            assert beyond <= BASE, f"{name} imports {beyond - BASE}"


@pytest.mark.parametrize("library", sorted(OUTSIDE))
def test_libraries_are_kept_to_one_place(library: str) -> None:
    users = {
        name
        for name, names in imported().items()
        if any(used.split(".")[0] == library for used in names)
    }
    assert users == OUTSIDE[library]


def test_only_the_command_line_prints() -> None:
    printing = {
        name
        for name, tree in modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "print"
    }
    assert printing == set()


def test_no_module_is_too_long() -> None:
    lengths = {p.name: len(p.read_text().splitlines()) for p in PACKAGE.rglob("*.py")}
    assert {name: n for name, n in lengths.items() if n > 600} == {}


def test_no_escape_from_the_graph() -> None:
    for path in PACKAGE.rglob("*.py"):
        assert "TYPE_CHECKING" not in path.read_text(encoding="utf-8"), path


def test_every_library_is_declared() -> None:
    declared = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    standard = {"__future__", "cutfiles"}
    import sys

    for name, tree in modules().items():
        for used in imports(tree):
            top = used.split(".")[0]
            if top in standard or top in sys.stdlib_module_names:
                continue
            assert f'"{PACKAGED_AS.get(top, top)}>=' in declared, (
                f"{name} uses {top}, which is not declared"
            )


def test_the_package_is_where_we_think() -> None:
    assert Path(PACKAGE / "pipeline" / "make.py").is_file()
