"""What is printed on the notes is listed, each thing once."""

from dataclasses import replace

from scores.music.fingering.hand import from_reach
from scores.music.notation import Grace, Ornament, Score
from scores.music.survey import Finding, Options, survey
from tests.scores.music import make_notes as make


def of(score: Score, *kinds: str, options: Options | None = None) -> list[Finding]:
    return [one for one in survey(score, options) if one.kind in kinds]


def rolled(*names: str, side: str = "right") -> Score:
    sign = (Ornament("arpeggiate"),)
    return make.score(
        *(make.note(f"c{place}", name, 0, 1, ornaments=sign, side=side) for place, name in enumerate(names))
    )


def test_a_group_of_graces_is_one_finding_with_the_note_they_lead_to():
    graces = [make.note(f"g{order}", name, 1, 0, grace=Grace(order)) for order, name in enumerate(("A4", "B4"))]
    score = make.score(make.note("a", "G4", 0, 1), *graces, make.note("b", "C5", 1, 1))
    [one] = of(score, "grace")
    assert (one.notes, one.hand, one.number, one.beat) == (("g0", "g1"), "right", "1", 2)
    assert str(one) == "2 grace notes before C5: A4 B4."


def test_graces_of_two_voices_are_two_findings_and_graces_at_the_end_are_listed_too():
    score = make.score(
        make.note("a", "G4", 0, 4),
        make.note("g0", "A4", 0, 0, grace=Grace(0)),
        make.note("g1", "E3", 0, 0, grace=Grace(0), side="left"),
        make.note("g2", "A4", 4, 0, grace=Grace(0)),
        measures=1,
    )
    found = of(score, "grace")
    assert [one.notes for one in found] == [("g0",), ("g1",), ("g2",)]
    assert str(found[2]).startswith("Grace notes after which")


def test_every_sign_is_a_finding_and_an_unknown_one_keeps_its_name():
    note = make.note("a", "C5", 0, 2, ornaments=(Ornament("turn"), Ornament("bebung")))
    found = of(make.score(note), "ornament")
    assert [(one.detail, str(one)) for one in found] == [
        ("bebung", "The sign “bebung” on C5."),
        ("turn", "Turn on C5."),
    ]


def test_the_wavy_line_after_a_trill_belongs_to_the_trill():
    start, stop = Ornament("wavy-line", (("type", "start"),)), Ornament("wavy-line", (("type", "stop"),))
    trill = make.note("a", "C5", 0, 2, ornaments=(Ornament("trill-mark"), start))
    score = make.score(trill, make.note("b", "D5", 2, 1, ornaments=(stop,)))
    assert [one.detail for one in of(score, "ornament")] == ["trill-mark"]
    alone = make.score(replace(trill, ornaments=(start,)))
    assert [one.detail for one in of(alone, "ornament")] == ["wavy-line"]


def test_a_rolled_chord_is_one_finding_a_hand_and_a_wide_one_is_listed_as_wide_only():
    [one] = of(rolled("C4", "E4", "G4"), "arpeggio", "wide-roll")
    assert (one.kind, one.notes) == ("arpeggio", ("c0", "c1", "c2"))
    [wide] = of(rolled("C3", "G3", "E4", side="left"), "arpeggio", "wide-roll")
    assert (wide.kind, wide.params["interval"], wide.params["reach"]) == ("wide-roll", 16, 13)


def test_a_wide_roll_stands_with_the_plain_ones_when_its_kind_is_switched_off():
    kinds = Options().kinds - {"wide-roll"}
    [one] = of(rolled("C3", "G3", "E4"), "arpeggio", "wide-roll", options=Options(kinds=kinds))
    assert one.kind == "arpeggio"


def test_what_is_wide_depends_on_the_hand():
    small = Options(hands=(from_reach("right", 7, 9), from_reach("left", 7, 9)))
    assert of(rolled("C4", "E4", "C5"), "wide-roll") == []
    assert len(of(rolled("C4", "E4", "C5"), "wide-roll", options=small)) == 1


def test_a_tremolo_between_two_notes_is_one_finding():
    signs = {way: (Ornament("tremolo", (("marks", "3"), ("type", way))),) for way in ("start", "stop", "single")}
    score = make.score(
        make.note("a", "C4", 0, 1, ornaments=signs["start"]),
        make.note("b", "G4", 1, 1, ornaments=signs["stop"]),
        make.note("c", "E4", 2, 1, ornaments=signs["single"]),
        make.note("d", "E4", 3, 1, ornaments=signs["stop"]),
    )
    assert [one.notes for one in of(score, "tremolo")] == [("a", "b"), ("c",), ("d",)]


def test_printed_fingers_go_together_until_a_moment_has_none():
    notes = make.line("C4 D4 E4 F4", (1, 1, 1, 1))
    fingered = [replace(note, printed=finger) for note, finger in zip(notes, ("1", "2", "", "4"), strict=True)]
    found = of(make.score(*fingered), "printed")
    assert [one.notes for one in found] == [("n0", "n1"), ("n3",)]
    assert str(found[0]) == "The edition prints fingers: 1 2."


def test_a_change_of_fingers_is_listed_once_and_does_not_part_the_row():
    notes = make.line("C4 D4 E4", (1, 1, 1))
    fingered = [replace(note, printed=finger) for note, finger in zip(notes, ("1", "4-5", "3"), strict=True)]
    found = of(make.score(*fingered), "printed", "substitution")
    assert [(one.kind, one.notes) for one in found] == [("printed", ("n0", "n2")), ("substitution", ("n1",))]
    off = of(make.score(*fingered), "printed", options=Options(kinds=Options().kinds - {"substitution"}))
    assert [one.notes for one in off] == [("n0", "n1", "n2")]
