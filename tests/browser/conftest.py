"""The browser, and the report of a floor of 200 rooms made once a session."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_report import FLAGS, find_browser
from floor_of_rooms import make_floor

from ifcgrid.outputs.report import draw_report

HERE = Path(__file__).resolve().parent


@pytest.fixture(scope="session")
def report(tmp_path_factory) -> Path:
    """The report of 200 rooms as a file."""
    path = tmp_path_factory.mktemp("report") / "floor.html"
    path.write_text(draw_report(make_floor(200)), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def small_report(tmp_path_factory) -> Path:
    """The report of 12 rooms, with a room of every kind in it, for what takes long."""
    path = tmp_path_factory.mktemp("small-report") / "floor.html"
    path.write_text(draw_report(make_floor(12)), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def chromium():
    """A headless Chromium; skips where playwright or a Chromium is missing."""
    playwright = pytest.importorskip("playwright.sync_api", reason="the extra test brings playwright")
    browser = find_browser()
    if browser is None:
        pytest.skip("no Chromium on the path (set IFCGRID_BROWSER to one)")
    with playwright.sync_playwright() as play:
        started = play.chromium.launch(executable_path=browser, args=list(FLAGS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def axe() -> str:
    """The source of the accessibility audit; skips where npm has not installed it."""
    source = HERE / "node_modules" / "axe-core" / "axe.min.js"
    if not source.is_file():
        pytest.skip("axe-core is not installed here (scripts/test.py does it, by npm)")
    return source.read_text(encoding="utf-8")


class Watched:
    """A page with everything that it complained of and asked the network for."""

    def __init__(self, page) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", lambda m: self.complaints.append(f"{m.type}: {m.text}"))
        page.on("pageerror", lambda e: self.complaints.append(str(e)))
        page.on("dialog", lambda d: (self.complaints.append(f"dialog {d.message}"), d.dismiss()))
        page.on("request", lambda r: self.requests.append(r.url))


@pytest.fixture
def opened(chromium, report):
    """The report in a fresh page; when the test is done the page must not have complained."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800}, reduced_motion="reduce")
    watched = Watched(context.new_page())
    watched.page.goto(report.as_uri())
    yield watched
    context.close()
    assert watched.complaints == []
    outside = [u for u in watched.requests if not u.startswith(("file:", "blob:", "data:"))]
    assert outside == []
    files = {u.partition("#")[0] for u in watched.requests if u.startswith("file:")}
    assert all(u.endswith("/floor.html") for u in files)


@pytest.fixture
def page(opened):
    """The page alone."""
    return opened.page
