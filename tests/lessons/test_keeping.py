"""Two windows type at once, and neither writes over the other."""

from lessons.keeping import Typed, both, keep_notes, keep_remark, plain, say_to_all
from lessons.models import Assignment, Lesson
from tests import make
from tests.people import Cast


def notes(before: str, now: str) -> dict[str, Typed]:
    return {"notes": Typed(before, now)}


def test_what_is_typed_is_kept_and_counted(cast: Cast):
    kept = keep_notes(lesson=cast.lesson, typed=notes("", "Sing it."), revision=0)
    assert (kept.texts, kept.revision, kept.news) == ({"notes": "Sing it."}, 1, [])
    cast.lesson.refresh_from_db()
    assert (cast.lesson.notes, cast.lesson.revision) == ("Sing it.", 1)


def test_the_same_again_changes_nothing(cast: Cast):
    keep_notes(lesson=cast.lesson, typed=notes("", "Sing it."))
    assert keep_notes(lesson=cast.lesson, typed=notes("", "Sing it.")).revision == 1


def test_the_later_window_does_not_write_over_the_first(cast: Cast):
    keep_notes(lesson=cast.lesson, typed=notes("", "Sing it."), revision=0)
    kept = keep_notes(lesson=cast.lesson, typed=notes("", "Count aloud."), revision=0)
    assert kept.clashes == ["notes"]
    assert kept.texts == {"notes": "Sing it."}
    cast.lesson.refresh_from_db()
    assert cast.lesson.notes == "Sing it."


def test_a_clash_in_one_text_writes_neither(cast: Cast):
    keep_notes(lesson=cast.lesson, typed=notes("", "Sing it."))
    kept = keep_notes(
        lesson=cast.lesson, typed={**notes("", "Count aloud."), "private_notes": Typed("", "Tired.")}, revision=0
    )
    assert kept.clashes == ["notes"]
    cast.lesson.refresh_from_db()
    assert cast.lesson.private_notes == ""


def test_windows_that_change_different_texts_do_not_clash(cast: Cast):
    keep_notes(lesson=cast.lesson, typed=notes("", "Sing it."), revision=0)
    kept = keep_notes(lesson=cast.lesson, typed={**notes("", ""), "private_notes": Typed("", "Tired.")}, revision=0)
    assert kept.news == ["notes"], "the window is told what the other one wrote"
    assert kept.texts == {"notes": "Sing it.", "private_notes": "Tired."}


def test_a_window_that_has_seen_the_newest_revision_may_clear_a_text(cast: Cast):
    keep_notes(lesson=cast.lesson, typed=notes("", "Sing it."))
    keep_notes(lesson=cast.lesson, typed=notes("", ""), revision=1)
    cast.lesson.refresh_from_db()
    assert cast.lesson.notes == ""


def test_remarks_of_pieces_and_passages_are_guarded_the_same_way(cast: Cast):
    for row in (cast.assigned, cast.assigned.assignment):
        keep_remark(row=row, typed=Typed("", "Slowly."))
        kept = keep_remark(row=row, typed=Typed("", "Fast."))
        assert (kept.clashes, kept.texts) == (["remark"], {"remark": "Slowly."})
    assert Assignment.objects.get().remark == "Slowly."
    cast.lesson.refresh_from_db()
    assert cast.lesson.revision == 2


def test_both_texts_are_joined_without_saying_anything_twice():
    assert both("Sing it.", "Count.") == "Sing it.\n\nCount."
    assert both("Sing it.", "Sing it. Count.") == "Sing it. Count."
    assert both("Sing it. Count.", "Count.") == "Sing it. Count."


def test_a_browsers_line_ends_are_no_change():
    assert plain("one\r\ntwo\rthree\n") == "one\ntwo\nthree\n"


def test_notes_for_all_come_after_what_is_written_and_once(cast: Cast):
    cast.lesson.notes = "Play the duet."
    others = [make.lesson(student=cast.ilmari), make.lesson(student=cast.ravi, notes="Bring the other book.")]
    assert say_to_all(lesson=cast.lesson, others=others) == 2
    assert say_to_all(lesson=cast.lesson, others=others) == 0
    written = list(
        Lesson.objects.filter(pk__in=[one.pk for one in others]).order_by("pk").values_list("notes", flat=True)
    )
    assert written == ["Play the duet.", "Bring the other book.\n\nPlay the duet."]
