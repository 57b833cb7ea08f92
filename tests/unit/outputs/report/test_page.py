"""The report's file: whole, the same every time, and closed to whatever it does not name."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
import shutil
import subprocess
from importlib.resources import files

import pytest
from floor_of_rooms import HOSTILE, make_floor

from ifcgrid.outputs.report import draw_report

ASSETS = files("ifcgrid.outputs.report").joinpath("assets")


@pytest.fixture(scope="module")
def floor():
    return make_floor(12)


@pytest.fixture(scope="module")
def page(floor) -> str:
    return draw_report(floor)


def _between(page: str, tag: str) -> list[str]:
    return re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)


def test_equal_floors_give_equal_bytes(floor, page):
    assert draw_report(floor) == page


def test_the_policy_names_the_style_and_the_script_by_their_hashes(page):
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', page)[1].replace(
        "&#x27;", "'"
    )
    assert policy.startswith("default-src 'none'; ")
    for kind, tag in (("script-src", "script"), ("style-src", "style")):
        (text,) = _between(page, tag)
        digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
        assert f"{kind} 'sha256-{digest}'" in policy


def test_nothing_in_the_file_points_out_of_it(page):
    outside = re.findall(r"(?:href|src|action)=\"(?!#|data:,)([^\"]*)\"", page)
    assert outside == []
    assert "http://" not in page.replace("http://www.w3.org/", "")
    assert "https://" not in page
    assert " style=" not in page  # the policy would not let it in
    assert not re.search(r"<[^>]* on[a-z]+=", page)


def test_names_that_try_to_be_markup_are_only_names(page):
    for name in HOSTILE[:1]:
        assert name not in page
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert page.count("<script") == 1 + page.count('<script type="text/plain"')
    assert page.count("<template") == 12


def test_every_ceiling_brings_its_sheet_and_its_3d_look_packed(floor, page):
    packs = dict(re.findall(r'<script type="text/plain" data-pack="([^"]*)">([^<]*)</script>', page))
    assert set(packs) == {ceiling.key for ceiling in floor.ceilings}
    for ceiling in floor.ceilings:
        told = json.loads(gzip.decompress(base64.b64decode(packs[ceiling.key])))
        assert told["sheet"] == floor.sheets[ceiling.key]
        look = told["look"]
        assert len(look["bars"]) == len(ceiling.members) + len(ceiling.hangers)
        # Triangles of the panels cover what is hung: areas to rounding of their corners.
        area = sum(abs((c - a) * (f - b) - (e - a) * (d - b)) / 2 for a, b, c, d, e, f in look["faces"])
        assert area == pytest.approx(float(ceiling.panels.area.sum()), rel=2e-3)


def test_cautions_and_where_it_comes_from_are_in_it(page):
    assert "Local codes apply; the authority having jurisdiction decides which" in page
    assert "floor.ifc, invented" in page
    assert "No document was named, so no rule of one was checked" in page


@pytest.mark.parametrize("word", ["is safe", "complies", "approved", "in order"])
def test_no_word_says_that_a_ceiling_is_right(page, word):
    assert word not in page


def test_the_script_can_be_read(page, tmp_path):
    node = shutil.which("node")
    if node is None:
        pytest.skip("no node here")
    (text,) = _between(page, "script")
    path = tmp_path / "report.js"
    path.write_text(text, encoding="utf-8")
    run = subprocess.run([node, "--check", str(path)], capture_output=True, text=True, check=False)
    assert run.stderr == ""


@pytest.mark.parametrize("asset", sorted(p.name for p in ASSETS.iterdir()))
def test_no_asset_can_end_its_own_element_or_calls_out(asset):
    text = ASSETS.joinpath(asset).read_text(encoding="utf-8")
    assert not re.search(
        r"</|<!--|\b(fetch|XMLHttpRequest|WebSocket|eval|innerHTML|insertAdjacentHTML)\b", text
    )
    assert len(text.splitlines()) <= 300
