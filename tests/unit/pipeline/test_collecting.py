"""The search for cycles is put off for as long as asked, and no longer."""

import gc

import pytest

from ifcgrid.pipeline.collecting import without_collection


@pytest.fixture(autouse=True)
def _as_before():
    was_on = gc.isenabled()
    yield
    (gc.enable if was_on else gc.disable)()


@pytest.mark.parametrize("is_on", [True, False])
def test_it_is_off_inside_and_as_before_afterwards(is_on):
    (gc.enable if is_on else gc.disable)()
    with without_collection():
        assert not gc.isenabled()
    assert gc.isenabled() is is_on


def test_an_error_turns_it_on_again():
    gc.enable()
    with pytest.raises(ZeroDivisionError), without_collection():
        raise ZeroDivisionError
    assert gc.isenabled()


def test_a_function_can_be_marked_with_it():
    @without_collection()
    def is_on() -> bool:
        return gc.isenabled()

    gc.enable()
    assert [is_on(), is_on()] == [False, False]
    assert gc.isenabled()
