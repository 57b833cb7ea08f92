"""Measures the floor report of a floor of many rooms: how long it takes, its size, how fast it opens.

python scripts/bench.py report [--rooms 200]

Opening is measured in a headless browser (the Python package playwright and a Chromium):
from the start of the navigation to the end of the page's own scripts, the median of five.
Times are those of this machine and this run.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from floor_of_rooms import make_floor

from ifcgrid.outputs.report import draw_report

__all__ = ["FLAGS", "find_browser", "main"]

BROWSER = "IFCGRID_BROWSER"
"""Environment variable that names the browser to use."""

FLAGS = (
    "--no-sandbox",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
)
"""What a headless Chromium is started with: quiet, and with 3D by software where there is no other."""


def find_browser() -> str | None:
    """The Chromium to use: what the environment names, else one on the path, else None."""
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    return os.environ.get(BROWSER) or next(filter(None, map(shutil.which, names)), None)


def _open_times(path: Path, browser: str) -> list[float]:
    """Seconds from the start of the navigation to the end of the load event, five times."""
    from playwright.sync_api import sync_playwright

    times = []
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=browser, args=list(FLAGS))
        for _ in range(5):
            page = chromium.new_page(viewport={"width": 1280, "height": 800})
            page.goto(path.as_uri())
            page.wait_for_function("performance.getEntriesByType('navigation')[0].loadEventEnd > 0")
            times.append(page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd") / 1000)
            page.close()
        chromium.close()
    return times


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--rooms", type=int, default=200)
    given = parser.parse_args(arguments)
    begin = time.perf_counter()
    floor = make_floor(given.rooms, has_own_sheets=True)
    made = time.perf_counter()
    text = draw_report(floor)
    drawn = time.perf_counter()
    sheets = sum(map(len, floor.sheets.values())) / 1e6
    print(f"{given.rooms} rooms, {len(floor.findings)} findings, sheets of {sheets:.1f} MB as they are")
    print(f"  laid out and sheets drawn  {made - begin:6.2f} s")
    print(f"  report drawn               {drawn - made:6.2f} s")
    print(f"  file                       {len(text.encode('utf-8')) / 1e6:6.2f} MB")
    browser = find_browser()
    if browser is None:
        print("  not opened: no Chromium on the path")
        return 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "floor.html"
        path.write_text(text, encoding="utf-8")
        times = _open_times(path, browser)
    print(f"  opened                     {statistics.median(times):6.2f} s (slowest {max(times):.2f} s)")
    return 0
