"""Two editions on one page, the other readings on the desk, and the ways from one to the other."""

import re

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scores import comparing
from scores.models import Edition, Passage, Replacement
from scores.workshop import WorkshopFailed
from tests import make
from tests.html import assert_clean
from tests.music import ATTRIBUTES, LAENDLER, note, score

CORRECTED = LAENDLER.replace(note("Eb5", "half."), note("C5", "half."))


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def second(cast):
    assert cast.edition
    return make.edition(piece=cast.edition.piece, music=CORRECTED, label="First print")


def test_a_piece_with_one_edition_says_what_will_stand_there(cast, teacher):
    text = teacher.get(reverse("compare", args=[cast.edition.piece_id])).content.decode()
    assert "When a piece has two editions" in text


def test_both_are_engraved_and_the_difference_is_named_and_marked_in_both(cast, teacher, second):
    text = teacher.get(reverse("compare", args=[cast.edition.piece_id])).content.decode()
    assert_clean(text)
    assert "1 difference in all." in text
    assert "E♭5 in the first, C5 in the second" in text
    assert text.count('class="differs"') == 2
    marked = set(re.findall(r'class="differs" data-note="([^"]+)"', text))
    pitches = {
        edition.score.by_id[one].pitch.midi
        for edition in (cast.edition, second)
        for one in marked
        if one in edition.score.by_id and edition.score.by_id[one].measure == 4
    }
    assert {75, 72} <= pitches  # E flat 5 and C 5 in MIDI's numbers


def test_a_kind_can_be_left_out(cast, teacher, second):
    text = teacher.get(reverse("compare", args=[cast.edition.piece_id]), {"no-pitch": "on"}).content.decode()
    assert "E♭5 in the first" not in text
    assert 'class="differs"' not in text


def test_editions_that_are_alike_are_said_to_be_so(cast, teacher):
    make.edition(piece=cast.edition.piece, label="First print")
    text = teacher.get(reverse("compare", args=[cast.edition.piece_id])).content.decode()
    assert "these two editions are alike" in text


def test_an_edition_of_another_piece_is_not_compared(cast, teacher, second):
    other = make.edition(piece=make.piece(studio=cast.studio, title="Air"))
    page = teacher.get(reverse("compare", args=[cast.edition.piece_id]), {"b": other.pk, "a": "x", "first": "99999"})
    assert (page.context["first"], page.context["second"]) == (cast.edition, second)


def test_more_differences_cost_no_more_queries(cast, teacher, second):
    def queries():
        with CaptureQueriesContext(connection) as seen:
            teacher.get(reverse("compare", args=[cast.edition.piece_id]))
        return len(seen)

    few = queries()
    for number in range(10):
        make.passage(edition=cast.edition, name=f"Passage {number}")
    assert queries() == few <= 12


def test_the_desk_shows_what_the_other_edition_has_in_these_measures(cast, teacher, second):
    text = teacher.get(reverse("readings", args=[cast.passage.pk])).content.decode()
    assert "First print" in text
    assert "E♭5 in the first, C5 in the second" in text
    first = cast.edition.score.notes[0]
    beginning = make.passage(edition=cast.edition, first=first.id, last=first.id)
    assert "the same, note for note" in teacher.get(reverse("readings", args=[beginning.pk])).content.decode()


def test_a_passage_is_looked_at_before_it_is_taken_over_and_can_be_brought_back(cast, teacher, second):
    address = reverse("reattach", args=[cast.passage.pk])
    text = teacher.get(address, {"to": second.pk}).content.decode()
    assert "it is shorter there" in text
    assert Passage.objects.count() == 1
    answer = teacher.post(address, {"to": second.pk}, follow=True)
    made = Passage.objects.get(edition=second)
    assert answer.redirect_chain[-1][0] == reverse("desk", args=[made.pk])
    undo = re.search(r'action="(/passages/back/[^"]+)"', answer.content.decode())[1]
    teacher.post(undo)
    assert list(Passage.objects.standing()) == [cast.passage]


def test_an_edition_of_another_piece_takes_no_passage(cast, teacher):
    other = make.edition(piece=make.piece(studio=cast.studio, title="Air"))
    assert teacher.post(reverse("reattach", args=[cast.passage.pk]), {"to": other.pk}).status_code == 404


def send(client, edition, music=CORRECTED):
    file = SimpleUploadedFile("corrected.musicxml", music.encode())
    return client.post(reverse("new-replacement", args=[edition.pk]), {"file": file})


def test_a_corrected_file_is_looked_at_exchanged_and_taken_back(cast, teacher):
    notes = [one.id for one in cast.edition.score.notes if one.side == "right" and one.is_attack]
    make.fingering(passage=cast.passage, fingers=dict.fromkeys(notes, "3"))
    page = teacher.get(send(teacher, cast.edition)["Location"])
    text = page.content.decode()
    assert_clean(text)
    count = len(cast.edition.score.notes)
    assert f"has {100 * (count - 1) // count} % of the edition" in text  # all but the one note, rounded down
    assert "E flat 5 is not there; its finger 3 is left out." in text
    assert bytes(Edition.objects.get().original) == LAENDLER.encode()
    row = Replacement.objects.get()
    done = teacher.post(reverse("exchange", args=[row.pk]), follow=True)
    assert "had no place in the new file" in done.content.decode()
    assert bytes(Edition.objects.get().original) == CORRECTED.encode()
    assert "look at" in teacher.get(reverse("edition", args=[cast.edition.pk])).content.decode()
    teacher.post(reverse("take-exchange-back", args=[row.pk]))
    assert bytes(Edition.objects.get().original) == LAENDLER.encode()


def test_what_was_looked_at_leaves_the_list(cast, teacher):
    send(teacher, cast.edition)
    row = Replacement.objects.get()
    teacher.post(reverse("exchange", args=[row.pk]))
    Replacement.objects.update(left=[{"kind": "cue", "row": 1, "measure": "4", "beat": "1", "what": "", "value": "x"}])
    address = reverse("edition", args=[cast.edition.pk])
    assert reverse("replacement", args=[row.pk]) in teacher.get(address).content.decode()
    teacher.post(reverse("exchange-looked-at", args=[row.pk]))
    assert reverse("replacement", args=[row.pk]) not in teacher.get(address).content.decode()


def test_another_piece_is_hardly_the_same_music(cast, teacher):
    strange = re.sub(r"<step>.</step>", "<step>D</step>", LAENDLER)
    page = teacher.get(send(teacher, cast.edition, strange)["Location"])
    assert "hardly the same music" in page.content.decode()


def test_a_file_that_cannot_be_read_is_an_error_at_the_file(cast, teacher):
    answer = send(teacher, cast.edition, "nothing of a score")
    assert answer.status_code == 422
    assert not Replacement.objects.exists()


def test_exchanged_twice_it_says_so(cast, teacher):
    send(teacher, cast.edition)
    row = Replacement.objects.get()
    teacher.post(reverse("exchange", args=[row.pk]))
    assert "exchanged already" in teacher.post(reverse("exchange", args=[row.pk]), follow=True).content.decode()


STEPS = [ATTRIBUTES + note("C5", "half."), *(note(f"{'CDEFGAB'[place % 7]}5", "half.") for place in range(1, 60))]


def test_the_way_leads_on_to_a_difference_further_off_and_back(cast, teacher):
    piece = make.piece(studio=cast.studio, title="Steps")
    make.edition(piece=piece, music=score(STEPS, title="Steps"))
    other = [*STEPS[:2], note("C4", "half."), *STEPS[3:50], note("C4", "half."), *STEPS[51:]]
    make.edition(piece=piece, music=score(other, title="Steps"), label="First print")
    address = reverse("compare", args=[piece.pk])
    text = teacher.get(address).content.decode()
    assert "2 differences in all." in text
    assert "To the difference before" not in text
    assert 'href="?&amp;first=50#d2"' in text
    text = teacher.get(address, {"first": 50}).content.decode()
    assert 'id="d2"' in text
    assert 'href="?&amp;first=2#d1"' in text
    assert "To the next difference" not in text


def test_an_edition_further_on_does_not_say_its_metre_again(cast, teacher):
    """Each row of the second is cut out by itself; only its beginning has a metre, as in print."""
    piece = make.piece(studio=cast.studio, title="Steps")
    for label in ("First print", "Second print"):
        make.edition(piece=piece, music=score(STEPS, title="Steps"), label=label)
    shown = teacher.get(reverse("compare", args=[piece.pk]), {"width": "500"}).context["shown"]
    three = [svg.count("#glyph-E083") for row in shown.rows for svg in row.second]
    assert (three[0] > 0, sum(three[1:]), len(three) > 2) == (True, 0, True)  # E083: SMuFL's timeSig3


def test_a_long_comparison_is_made_in_a_process_apart_and_says_when_it_takes_too_long(
    cast, teacher, second, monkeypatch
):
    monkeypatch.setattr(comparing, "AT_ONCE", 10)
    address = reverse("compare", args=[cast.edition.piece_id])

    def too_long(*args, **options):
        raise WorkshopFailed("time")

    cache.clear()
    with monkeypatch.context() as stopped:
        stopped.setattr(comparing.workshop, "run", too_long)
        assert "took too long" in teacher.get(address).content.decode()
    assert "1 difference in all." in teacher.get(address).content.decode()
