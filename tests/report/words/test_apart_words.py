"""Words for what does not belong: who, what it looks like, what it costs, and the verdict without it."""

from spectra.apart.groups import Outsider
from spectra.apart.likeness import LooksLike
from spectra.report.words.comparing import apart_headline, apart_line, without_lines
from spectra.verification.result import ApartFinding, VerdictWithout

OPENED = VerdictWithout("dip", "gelatin", "cannot tell", "present", "cannot tell", "unchanged", 0.09, 0.11)
SAME = VerdictWithout("spray", "gelatin", "present", "present", "unchanged", "unchanged", 0.110, 0.128)
BARE = ApartFinding(
    "bare", "substrate", Outsider("B7", LooksLike("coating", "gelatin", 0.082, 0.99), 1e-6), ("bare/B7.csv",),
    "apart", {"gelatin": 0.65}, {"gelatin": 0.0007}, (OPENED, SAME),
)  # fmt: skip
SPOT = ApartFinding(
    "coated", "spray", Outsider("spray/a.csv", LooksLike("bare", "gelatin"), 1e-5), ("spray/a.csv",), "apart",
    verdicts=(SAME,),
)  # fmt: skip


def test_a_bare_file_is_told_with_its_cost_and_the_verdict_without_it():
    assert apart_line(BARE) == (
        "In the bare set, B7 does not belong: holds 0.082 of the neat gelatin (99 % of the difference). With "
        "it 65 % of the neat gelatin can be detected, without it 0.070 %. Without it dip gelatin is present "
        "and unchanged (with it: cannot tell). The amount on spray is then 13 % of the neat gelatin instead "
        "of 11 %. Nothing was left out; if it is a mistake, write leave_out = "
        '[{ file = "bare/B7.csv", reason = "..." }].'
    )


def test_a_question_is_no_sentence_with_two_ends_and_a_bare_piece_is_a_result():
    line = apart_line(SPOT)
    assert "left bare, or a bare spectrum? Without it every verdict is the same. The amount on spray" in line
    assert line.endswith("A piece that the process left bare is a result, not a mistake.")


def test_the_verdict_without_it_stands_beside_the_one_it_changes_only():
    (line,) = without_lines((BARE, SPOT), "dip", "gelatin")
    assert line == (
        "Without B7 in the bare set, which does not belong, the verdict would be: present and unchanged."
    )
    assert without_lines((BARE, SPOT), "spray", "gelatin") == []


def test_the_headline_names_who_does_not_belong():
    assert apart_headline(()) == []
    assert apart_headline((BARE, SPOT)) == [
        "B7 in the bare set and spray/a.csv in sample spray do not belong"
    ]
    assert apart_headline((SPOT,)) == ["spray/a.csv in sample spray does not belong"]
    many = [
        ApartFinding("bare", "s", Outsider(f"b{i}", LooksLike("gas"), 0.0), (), "apart") for i in range(5)
    ]
    assert "and 2 more do not belong" in apart_headline(many)[0]
