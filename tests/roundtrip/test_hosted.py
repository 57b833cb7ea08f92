"""A host program does everything on the models it holds open: no file, no print, and it can stop."""

from __future__ import annotations

import builtins
import io
from pathlib import Path

import ifcopenshell
import pytest

import ifcgrid
from ifcgrid.domain.judging import Judging

OWN = Path(__file__).parents[2] / "models"


class StoppedError(Exception):
    """What a host raises when its user has pressed a button."""


def _open(name: str) -> ifcopenshell.file:
    return ifcopenshell.open(str(OWN / f"{name}.ifc"))


def test_every_step_works_on_open_models(monkeypatch: pytest.MonkeyPatch, capfd) -> None:
    model, services = _open("gatehouse"), _open("gatehouse-services")
    written: list[str] = []
    opened = builtins.open

    def watch(path, mode="r", *rest, **named):
        if set(mode) & set("wax+"):
            written.append(str(path))
        return opened(path, mode, *rest, **named)

    monkeypatch.setattr(builtins, "open", watch)
    monkeypatch.setattr(io, "open", watch)
    rooms = ifcgrid.read_rooms(model).rooms
    seen: list[tuple[str, int, int]] = []
    read: list[tuple[str, int, int]] = []
    done = ifcgrid.build(
        model,
        others=[services],
        on_room=lambda *step: seen.append(step),
        on_model=lambda *step: read.append(step),
    )
    report = ifcgrid.write_ceilings(model, done.ceilings, done.findings)
    back = ifcgrid.read_back(model, [services])
    _, ceilings = ifcgrid.ceilings_in(model, [services])
    taken = ifcgrid.take_off(ceilings)
    record = ifcgrid.check(model, Judging(sets=("layout-1",)), [services])
    sheet = ifcgrid.draw_setout(back.ceilings[0], stamp={})
    assert len(done.ceilings) == len(back.ceilings) == len(rooms)
    assert report.counts["covering"] == len(rooms)
    assert [step[1:] for step in seen] == [(k, len(rooms)) for k in range(1, len(rooms) + 1)]
    assert [step[1:] for step in read] == [(1, 2), (2, 2)]
    assert taken.quantities
    assert record["rooms"]
    assert sheet
    assert written == []
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("callback", ["on_room", "on_model"])
def test_what_a_callback_raises_stops_the_work_and_leaves_the_model(callback: str) -> None:
    model = _open("gatehouse")
    before = model.to_string()

    def stop(name: str, done: int, total: int) -> None:
        raise StoppedError(f"{name} {done} of {total}")

    with pytest.raises(StoppedError, match=r"1 of \d"):
        ifcgrid.build(model, **{callback: stop})
    assert model.to_string() == before


def test_what_was_written_goes_away_whole() -> None:
    model = _open("gatehouse")
    before = sorted(str(entity) for entity in model)
    ifcgrid.write_ceilings(model, ifcgrid.build(model).ceilings)
    assert ifcgrid.remove_ceilings(model).elements
    assert sorted(str(entity) for entity in model) == before


def test_two_models_at_once_do_not_mix() -> None:
    one, two = _open("gatehouse"), _open("gatehouse")
    first, second = ifcgrid.build(one), ifcgrid.build(two)
    ifcgrid.write_ceilings(two, second.ceilings)
    ifcgrid.write_ceilings(one, first.ceilings)
    assert one.to_string().partition("DATA;")[2] == two.to_string().partition("DATA;")[2]
