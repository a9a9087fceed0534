"""Another file for an edition: what keeps its place, what is named, and the way back."""

import re
from datetime import UTC, datetime
from fractions import Fraction

import pytest

from lessons.handouts.gathering import gather
from scores import carrying, inheriting, noting, ornamenting, replacing
from scores.models import Cue, Edition, Fingering, Passage, Replacement
from scores.music.refusal import Refusal
from scores.reading_files.reading import read
from tests import make
from tests.music import BACK, LAENDLER, note

AT = datetime(2020, 12, 1, tzinfo=UTC)
WHOLE = note("F5", "quarter.", extra="<ornaments><turn/></ornaments>")
EXTRA = '<measure number="9">' + note("C6", "half.") + BACK + note("C3", "half.", staff=2) + "</measure>"


def sent(edition: Edition, music: str) -> Replacement:
    data = music.encode()
    return replacing.propose(edition=edition, read=read("a.musicxml", data), name="corrected.musicxml", original=data)


def done(edition: Edition, music: str) -> tuple[Replacement, Edition]:
    row = replacing.exchange(studio=edition.studio, replacement=sent(edition, music).pk, at=AT)
    return row, Edition.objects.get(pk=edition.pk)


def words(row: Replacement) -> list[str]:
    return [one.words for one in carrying.from_data(row.left)]


def with_measure_in_front(music: str) -> str:
    """A measure more before the second measure, so that all after it are numbered on."""
    first, second = music.split('<measure number="2">')
    numbered = re.sub(
        r'number="(\d)">', lambda found: f'number="{int(found[1]) + 1}">', '<measure number="2">' + second
    )
    return first + EXTRA.replace('"9"', '"2"') + numbered


def state(edition: Edition) -> list[object]:
    return [
        list(model.objects.filter(**{path: edition}).order_by("pk").values())
        for model, path in ((Passage, "edition"), (Fingering, "passage__edition"), (Cue, "passage__edition"))
    ]


@pytest.fixture
def fingered(cast):
    """A finger on every note of the right hand."""
    notes = [one.id for one in cast.edition.score.notes if one.side == "right" and one.is_attack]
    return make.fingering(passage=cast.passage, fingers={one: str(place % 5 + 1) for place, one in enumerate(notes)})


def test_a_file_that_was_sent_changes_nothing_yet(cast, fingered):
    before = state(cast.edition)
    row = sent(cast.edition, LAENDLER.replace("<alter>-1</alter>", "", 1))
    assert row.state == "sent"
    assert state(cast.edition) == before
    assert bytes(Edition.objects.get().original) == LAENDLER.encode()


def test_a_second_file_takes_the_place_of_one_that_was_not_taken(cast):
    sent(cast.edition, LAENDLER)
    sent(cast.edition, LAENDLER)
    assert Replacement.objects.count() == 1


def test_a_note_that_both_files_have_keeps_its_id_though_the_file_has_none(cast):
    _, after = done(cast.edition, with_measure_in_front(LAENDLER))
    before = cast.edition.score.by_id
    assert before.keys() <= after.score.by_id.keys()
    assert all(before[one].pitch == after.score.by_id[one].pitch for one in before)
    assert len(after.score.notes) == len(before) + 2
    # The music says the same as the score: ids are those of its note elements.
    assert {one.id for one in after.score.notes} <= set(re.findall(r'<note[^>]* id="([^"]+)"', after.music.decode()))


def test_passages_and_notes_move_along_with_a_measure_put_in(cast, fingered):
    last = make.passage(edition=cast.edition, first=cast.edition.score.notes[-1].id, hands="both")
    cue = noting.write_cue(passage=last, text="Let it ring", measure=last.first_measure)
    row, after = done(cast.edition, with_measure_in_front(LAENDLER))
    last.refresh_from_db()
    cue.refresh_from_db()
    fingered.refresh_from_db()
    assert (last.first_number, last.first_measure) == ("5", 5)
    assert after.score.by_id[last.first_note].measure == 5
    assert cue.measure == 5
    assert len(fingered.fingers) == len(cast.edition.score.notes) - len(
        [one for one in cast.edition.score.notes if one.side == "left" or not one.is_attack]
    )
    assert row.left == []


def test_a_finger_whose_note_is_gone_is_left_out_and_named(cast, fingered):
    row, after = done(cast.edition, LAENDLER.replace(note("Eb5", "half."), note("C5", "half.")))
    gone = next(one for one in cast.edition.score.notes if one.measure == 4 and one.side == "right")
    fingered.refresh_from_db()
    assert gone.id not in fingered.fingers
    assert fingered.last_note in after.score.by_id
    assert any(
        "E flat 5 is not there; its finger" in one and one.startswith("Measure 4, beat 1:") for one in words(row)
    )
    cast.passage.refresh_from_db()
    assert cast.passage.last_note in after.score.by_id


def test_taken_back_everything_is_as_it_was(cast, fingered):
    noting.write_cue(passage=cast.passage, text="Loose wrist", note=cast.passage.last_note)
    before, music = state(cast.edition), cast.edition.music
    row, _ = done(cast.edition, LAENDLER.replace(note("Eb5", "half."), note("C5", "half.")))
    assert state(cast.edition) != before
    replacing.take_back(studio=cast.studio, replacement=row.pk, at=AT)
    stamped = [[{k: v for k, v in one.items() if k != "changed_at"} for one in rows] for rows in state(cast.edition)]
    assert stamped == [[{k: v for k, v in one.items() if k != "changed_at"} for one in rows] for rows in before]
    assert Edition.objects.get().music == music
    assert bytes(Edition.objects.get().original) == LAENDLER.encode()


def test_what_was_written_since_stays_when_the_file_is_taken_back(cast, fingered):
    row, _ = done(cast.edition, LAENDLER.replace(note("Eb5", "half."), note("C5", "half.")))
    fingered.refresh_from_db()
    first = next(iter(fingered.fingers))
    Fingering.objects.filter(pk=fingered.pk).update(fingers={**fingered.fingers, first: "4"})
    replacing.take_back(studio=cast.studio, replacement=row.pk, at=AT)
    fingered.refresh_from_db()
    gone = next(one for one in cast.edition.score.notes if one.measure == 4 and one.side == "right")
    assert fingered.fingers[first] == "4"
    assert gone.id in fingered.fingers


def test_an_ornament_a_drill_and_a_line_without_notes_are_named_and_come_back(cast):
    both = make.passage(edition=cast.edition, hands="both")
    turn = next(one for one in cast.edition.score.notes if one.ornaments)
    ornamenting.keep_ornament(passage=both, note=turn.id, placement="before", at=AT)
    crossing = next(one for one in cast.edition.score.measures if one.number == "2")
    noting.plan_drill(passage=both, start=crossing.start, end=crossing.end, tempo_now=40, tempo_goal=72)
    make.fingering(passage=both, fingers={turn.id: "3"}, first_note=turn.id, last_note=turn.id)
    other = LAENDLER.replace(WHOLE, note("A5", "quarter.")).replace("<duration>9</duration>", "<duration>12</duration>")
    other = other.replace(note("G5", "quarter", duration=9).replace("9</dur", "12</dur"), "", 1)
    row, _ = done(cast.edition, other)
    assert (both.ornament_choices.standing().count(), both.drills.standing().count()) == (0, 0)
    assert both.fingerings.standing().count() == 0
    assert {one["kind"] for one in row.left} == {"ornament", "drill", "fingering"}
    replacing.take_back(studio=cast.studio, replacement=row.pk, at=AT)
    assert both.ornament_choices.standing().get().note == turn.id
    assert Fraction(both.drills.standing().get().start) == crossing.start
    assert both.fingerings.standing().get().fingers == {turn.id: "3"}


def test_a_passage_of_which_no_note_is_left_still_has_a_place(cast):
    end = next(one for one in cast.edition.score.notes if one.measure == 4 and one.side == "right")
    last = make.passage(edition=cast.edition, first=end.id, last=end.id)
    row, after = done(cast.edition, LAENDLER.replace(note("Eb5", "half."), note("C5", "half.")))
    last.refresh_from_db()
    assert last.first_note in after.score.by_id
    assert last.first_number == "4"
    assert [one["kind"] for one in row.left] == ["passage"]


def test_what_a_student_was_given_can_still_be_shown(cast, fingered):
    make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=[fingered])
    done(cast.edition, LAENDLER.replace(note("Eb5", "half."), note("C5", "half.")))
    content = gather(cast.lesson)
    assert content.works[0].trouble == ""
    assert content.works[0].music


def test_done_twice_or_taken_back_twice_is_refused(cast):
    row, _ = done(cast.edition, with_measure_in_front(LAENDLER))
    with pytest.raises(Refusal, match="exchanged already"):
        replacing.exchange(studio=cast.studio, replacement=row.pk, at=AT)
    replacing.take_back(studio=cast.studio, replacement=row.pk, at=AT)
    with pytest.raises(Refusal, match="exchanged already"):
        replacing.take_back(studio=cast.studio, replacement=row.pk, at=AT)


def test_only_the_newest_exchange_can_be_taken_back(cast):
    first, after = done(cast.edition, with_measure_in_front(LAENDLER))
    done(after, LAENDLER)
    with pytest.raises(Refusal, match="another one after it"):
        replacing.take_back(studio=cast.studio, replacement=first.pk, at=AT)


def test_another_studio_exchanges_nothing(cast):
    row = sent(cast.edition, LAENDLER)
    with pytest.raises(Refusal):
        replacing.exchange(studio=cast.next_door, replacement=row.pk, at=AT)


def test_another_piece_hardly_agrees(cast):
    assert replacing.agreement(sent(cast.edition, LAENDLER)) == 1
    strange = re.sub(r"<step>.</step>", "<step>D</step>", LAENDLER)
    assert replacing.agreement(sent(cast.edition, strange)) < 0.3


def test_what_returns_and_what_needs_a_word_are_found_anew(cast):
    inheriting.weave_of(cast.edition)
    done(cast.edition, with_measure_in_front(LAENDLER))
    assert cast.edition.difficulties.filter(kind="cross-rhythm", detail="4:3").exists()


def test_ids_of_the_new_file_never_meet_those_of_other_notes(cast):
    """The corrected file has ids of its own, and they are the old ones in another order."""
    ids = [one.id for one in cast.edition.score.notes]
    music = cast.edition.music.decode()
    turned = dict(zip(ids, reversed(ids), strict=True))
    other = re.sub(r'id="([^"]+)"', lambda found: f'id="{turned.get(found[1], found[1])}"', music)
    _, after = done(cast.edition, other)
    assert {one: note.pitch for one, note in after.score.by_id.items()} == {
        one: note.pitch for one, note in cast.edition.score.by_id.items()
    }
