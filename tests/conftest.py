"""What the tests share: the demo job, one finished output folder, outside data."""

from __future__ import annotations

import gc
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pyogrio
import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

from cutfiles.cuts import order
from cutfiles.effort import Effort
from cutfiles.lay.race import SEARCHES_VARIABLE
from cutfiles.pipeline.make import make_job
from cutfiles.pipeline.store import FOLDER_VARIABLE

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "fixtures" / "jobs" / "wildlife-clinic.toml"
OUTSIDE_DATA = ROOT.parent / "shared" / "data"

ONE_CLOTH = """
[[cloth]]
name = "kelp-print cotton"
width = 1117.6
selvedge = 12.7
fibre = "cotton"
"""
ONE_CAP = """
[[caps]]
style = "tie-back"
size = "M"
quantity = 1
"""
LASER = """
[machine]
kind = "laser"
kerf = 0.2
"""
SMALL_JOB = ONE_CLOTH + ONE_CAP + LASER

BROWSERS = "tests/browser/"
"""Tests with a browser."""

_KICKS = {name: getattr(order, name) for name in ("_KICKS", "_FEW_KICKS")}

# the same examples in every run, on a busy machine too; "wander" looks for others
settings.register_profile("gate", deadline=None, derandomize=True)
settings.register_profile("wander", deadline=None, print_blob=True)
settings.load_profile("gate")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """A file's tests stay in one worker, so that what they share is made once; those with a browser
    all share one, and two would slow each other down."""
    return _ByFile(config, log)


class _ByFile(LoadFileScheduling):  # type: ignore[misc]  # pytest-xdist carries no types
    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.split("::", maxsplit=1)[0]
        return BROWSERS if file.startswith(BROWSERS) else file


def pytest_collection_finish() -> None:
    """What was loaded stays: it is left out of every search for garbage."""
    gc.freeze()


@pytest.fixture(scope="session", autouse=True)
def one_search_at_once() -> Iterator[None]:
    """Nests leave the other cores to the tests beside them, in processes of their own as well."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(SEARCHES_VARIABLE, "1")
        yield


@pytest.fixture(scope="session", autouse=True)
def few_kicks() -> Iterator[None]:
    """Cuts are put in a fair order, in this process, where no test asks for a short one."""
    with pytest.MonkeyPatch.context() as patch:
        for name in _KICKS:
            patch.setattr(order, name, 2)
        yield


@pytest.fixture
def all_kicks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cuts are put in as short an order as outside the tests."""
    for name, count in _KICKS.items():
        monkeypatch.setattr(order, name, count)


@pytest.fixture
def searches_side_by_side(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nests search twice at once, however many cores there are: by each of the engines."""
    monkeypatch.setenv(SEARCHES_VARIABLE, "2")


@pytest.fixture
def short_last_try(monkeypatch: pytest.MonkeyPatch) -> None:
    """What fits in no nest, however long, is refused after a short one."""
    monkeypatch.setattr("cutfiles.lay.tries._LAST_TRY_S", 0.1)


@pytest.fixture
def short_nests_of_plans(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plans nest for a tenth of a second each, where no lay need be short."""
    monkeypatch.setattr("cutfiles.pipeline.plan_search._SHORTEST_S", 0.1)


@pytest.fixture(autouse=True)
def no_lays_of_the_user(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tests neither use nor leave lays in the user's own folder."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "kept lays"))


@pytest.fixture
def fine_arcs() -> Iterator[None]:
    """GDAL turns arcs into chords of 4 degrees otherwise, which costs 0.08 % of a circle."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.25"})
    yield
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})


@pytest.fixture
def job_file(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a job file and gives its path."""

    def write(text: str) -> Path:
        path = tmp_path / "job.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture(scope="session")
def demo_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo job made once, quickly. Read only: copy it to change it."""
    out = tmp_path_factory.mktemp("demo")
    make_job(DEMO, out, Effort(0.3, 1))
    return out


@pytest.fixture
def demo_copy(demo_made: Path, tmp_path: Path) -> Path:
    """A copy of the finished demo to tamper with."""
    copy = tmp_path / "demo-copy"
    shutil.copytree(demo_made, copy)
    return copy


@pytest.fixture(scope="session")
def outside_data() -> Path:
    """Published data that lies beside a checkout of the project, where it does."""
    if not OUTSIDE_DATA.is_dir():
        pytest.skip("the published data sets are not beside this checkout")
    return OUTSIDE_DATA
