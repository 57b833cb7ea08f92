"""A sample of the random scenes of scripts/clash_trials.py: the kernel's solids find nothing else."""

from __future__ import annotations

import pytest
from clash_trials import try_scene

SCENES = range(1000, 1008)


@pytest.fixture(scope="module")
def tried():
    return [try_scene(seed) for seed in SCENES]


def test_no_clash_is_missed_and_none_invented(tried):
    assert [words for complaints, _ in tried for words in complaints] == []


@pytest.mark.parametrize("kind", ["in the build-up", "in the clear zone", "through hangers", "of none"])
def test_the_scenes_hold_clashes_of_every_kind_and_bodies_without_any(tried, kind):
    assert sum(counts[kind] for _, counts in tried) >= 5
