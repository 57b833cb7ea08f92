"""A length from site that contradicts the others is a finding that fails, and the sheet says so."""

from measured_rooms import L_ROOM, corners_of, lengths_of, measures, zone_of

from ifcgrid.checks.measured import check_measured
from ifcgrid.design.measured import adjust_zone
from ifcgrid.domain.finding import Verdict
from ifcgrid.outputs.measured import measured_sentences, record_measured
from ifcgrid.pipeline.flow import hang_ceiling
from ifcgrid.pipeline.judging import judge_ceiling
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system


def ceiling_of(given):
    zone = adjust_zone(zone_of(L_ROOM), measures(given))
    return hang_ceiling(zone, read_system("lay-in-600x600"), read_policy("half-module"))


def test_a_length_set_aside_is_told_with_what_the_others_ask_for():
    true = lengths_of(corners_of(L_ROOM))
    ceiling = ceiling_of({**true, "C": true["C"] + 40})
    (finding,) = check_measured(ceiling)
    assert finding.verdict is Verdict.FAIL
    assert finding in [
        f for f in check_measured(ceiling) if f.rule in {g.rule for g in judge_ceiling(ceiling, ())}
    ]
    assert "wall C was measured as 2690.0 mm; the other lengths of the room agree on 2650.0 mm" in (
        finding.message
    )
    assert finding.value > finding.limit
    told = " ".join(measured_sentences(ceiling, lambda x: f"{x:.0f}"))
    assert "SET ASIDE: wall C 2690; the others agree on 2650. Measure it again." in told
    lengths = {one["name"]: one for one in record_measured(ceiling)["measured"]["lengths"]}
    assert [name for name, one in lengths.items() if one["set_aside"]] == ["C"]


def test_lengths_that_agree_are_no_finding():
    ceiling = ceiling_of(lengths_of(corners_of(L_ROOM)))
    assert not list(check_measured(ceiling))
    told = " ".join(measured_sentences(ceiling, lambda x: f"{x:.0f}"))
    assert "No wall and no border differs from the model." in told
