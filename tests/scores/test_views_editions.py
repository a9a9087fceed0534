"""Sending an edition, reading it on the screen, taking it away as a file."""

import re
import socket
import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from scores.models import Edition, Passage, Piece, Upload
from scores.workshop import WorkshopFailed, run
from tests import make
from tests.music import LAENDLER, note, score
from tests.people import gather
from tests.scores.hostile import HOSTILE


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio)


def score_file(name="laendler.musicxml", content=LAENDLER):
    return SimpleUploadedFile(name, content.encode() if isinstance(content, str) else content)


def send(client, piece, **given):
    return client.post(reverse("new-edition", args=[piece.pk]), {"file": score_file(), **given})


# Sending


def test_the_page_for_sending_states_what_can_be_sent_and_how_much(teacher, piece, settings):
    settings.SCORE_LIMITS = {**settings.SCORE_LIMITS, "bytes": 3 * 1024 * 1024, "measures": 1234}
    text = teacher.get(reverse("new-edition", args=[piece.pk])).content.decode()
    assert "3.0\xa0MB" in text
    assert "1,234 measures" in text


def test_a_sent_file_becomes_an_edition_with_all_its_notes(teacher, piece):
    answer = send(teacher, piece, label="Brandt edition")
    edition = Edition.objects.get()
    assert answer["Location"] == reverse("edition", args=[edition.pk])
    assert (edition.piece, edition.label, edition.file_name) == (piece, "Brandt edition", "laendler.musicxml")
    assert bytes(edition.original) == LAENDLER.encode()
    assert (edition.measures, edition.notes) == (5, LAENDLER.count("<pitch>"))


def test_a_script_is_told_where_to_go(teacher, piece):
    answer = teacher.post(
        reverse("new-edition", args=[piece.pk]),
        {"file": score_file()},
        headers={"X-Requested-With": "XMLHttpRequest"},
    )
    assert answer.status_code == 201
    assert answer.json() == {"url": reverse("edition", args=[Edition.objects.get().pk])}


def test_an_edition_without_a_label_is_called_like_its_file(teacher, piece):
    send(teacher, piece, file=score_file("Brandt 1911.xml"))
    assert Edition.objects.get().label == "Brandt 1911"


@pytest.mark.parametrize("what", HOSTILE)
def test_a_file_that_is_no_score_is_refused_with_its_cause_and_nothing_is_kept(teacher, piece, what):
    name, content, words = HOSTILE[what]
    answer = send(teacher, piece, file=score_file(name, content()), label="My own words")
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in " ".join(re.findall(r'<ul class="errorlist" id="id_file_error">(.*?)</ul>', text, re.DOTALL))
    assert 'value="My own words"' in text
    assert not Edition.objects.exists()


def test_nothing_is_kept_of_a_new_piece_whose_file_is_refused(teacher):
    answer = teacher.post(reverse("new-piece"), {"title": "Song", "file": score_file("a.mxl", b"%PDF-1.7")})
    assert answer.status_code == 422
    assert 'value="Song"' in answer.content.decode()
    assert not Piece.objects.exists()
    assert not Edition.objects.exists()


def test_a_file_over_the_limit_is_refused_with_both_sizes(teacher, piece, settings):
    settings.SCORE_LIMITS = {**settings.SCORE_LIMITS, "bytes": 1000}
    answer = send(teacher, piece)
    assert answer.status_code == 422
    assert "up to 1000\xa0bytes can be read" in answer.content.decode()


def test_a_file_is_asked_for_when_none_was_chosen(teacher, piece):
    answer = teacher.post(reverse("new-edition", args=[piece.pk]), {"label": "Brandt"})
    assert answer.status_code == 422
    assert "Choose the file of a score first." in answer.content.decode()


@pytest.mark.parametrize(
    ("reason", "words"),
    [("time", "took longer than"), ("memory", "needed more memory"), ("died", "could not cope with this")],
)
def test_a_reader_that_comes_to_no_end_is_an_error_at_the_file(teacher, piece, monkeypatch, reason, words):
    def fail(*_args, **_options):
        raise WorkshopFailed(reason)

    monkeypatch.setattr("scores.repertoire.run", fail)
    answer = send(teacher, piece)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Edition.objects.exists()
    assert words in Upload.objects.get().error


def test_a_limit_on_the_reading_time_ends_it_for_real(teacher, piece, settings):
    settings.SCORE_LIMITS = {**settings.SCORE_LIMITS, "seconds": 0.001}
    answer = send(teacher, piece)
    assert answer.status_code == 422
    assert not Edition.objects.exists()


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../etc/passwd.xml", "passwd.xml"),
        ("C:\\scores\\song.xml", "song.xml"),
        ("a\x07b\u202ec.xml", "abc.xml"),
        ("夜の歌.musicxml", "夜の歌.musicxml"),
        ("أغنية.mxl.xml", "أغنية.mxl.xml"),
        ("x" * 400 + ".xml", "x" * 196 + ".xml"),
    ],
)
def test_hostile_and_foreign_file_names_are_kept_as_plain_names(teacher, piece, sent, kept):
    file = score_file()
    file._name = sent  # as it comes over the wire: a name given to the constructor is cleaned there
    assert send(teacher, piece, file=file).status_code == 302
    assert Edition.objects.get().file_name == kept


def test_the_same_page_sent_twice_gives_one_edition(teacher, piece):
    key = uuid.UUID(int=7)
    assert send(teacher, piece, sending=key)["Location"] == send(teacher, piece, sending=key)["Location"]
    assert Edition.objects.count() == 1


def test_another_file_sent_from_the_same_page_is_another_edition(teacher, piece):
    key = uuid.UUID(int=7)
    send(teacher, piece, sending=key)
    other = score_file("Second.xml", LAENDLER.replace("Invented", "Invented later").encode())
    answer = send(teacher, piece, sending=key, file=other)
    assert answer["Location"] == reverse("edition", args=[piece.editions.get(label="Second").pk])
    assert Edition.objects.count() == 2


def test_a_page_sent_again_while_its_file_is_still_read_gives_one_piece_with_one_edition(teacher, monkeypatch):
    sending = {"sending": uuid.UUID(int=7)}
    answers = []

    def read_slowly(*args, **options):
        monkeypatch.undo()
        answers.append(teacher.post(reverse("new-piece"), {"file": score_file(), **sending}))
        return run(*args, **options)

    monkeypatch.setattr("scores.repertoire.run", read_slowly)
    answers.append(teacher.post(reverse("new-piece"), {"file": score_file(), **sending}))
    assert answers[0]["Location"] == answers[1]["Location"] == reverse("edition", args=[Edition.objects.get().pk])
    assert Piece.objects.count() == 1


def test_a_page_sent_again_after_an_error_is_told_from_the_beginning(cast, teacher, piece, monkeypatch):
    key = uuid.UUID(int=7)
    send(teacher, piece, sending=key, file=score_file("a.mxl", b"%PDF-1.7"))
    assert Upload.objects.get().error
    seen = []

    def look(*args, **options):
        seen.append(teacher.get(reverse("upload-state", args=[key])).json())
        return run(*args, **options)

    monkeypatch.setattr("scores.repertoire.run", look)
    assert send(teacher, piece, sending=key).status_code == 302
    assert seen == [{"step": "", "percent": 0, "error": ""}]


def test_a_key_of_another_studio_leads_nowhere_near_its_edition(cast, teacher, piece, logged_in):
    key = uuid.UUID(int=7)
    send(teacher, piece, sending=key)
    theirs = make.piece(studio=cast.next_door)
    answer = send(logged_in(cast.other_teacher), theirs, sending=key)
    assert answer["Location"] == reverse("edition", args=[theirs.editions.get().pk])


# A piece and its first edition in one step


def test_a_piece_can_be_added_with_its_file_alone(teacher):
    answer = teacher.post(reverse("new-piece"), {"file": score_file()})
    edition = Edition.objects.get()
    assert answer["Location"] == reverse("edition", args=[edition.pk])
    assert (edition.piece.title, edition.piece.composer) == ("Ländler in E-flat", "Invented")


def test_what_was_typed_comes_before_what_stands_in_the_file(teacher):
    teacher.post(reverse("new-piece"), {"file": score_file(), "title": "Country Dance"})
    assert Piece.objects.get().title == "Country Dance"


def test_a_file_without_a_title_gives_its_name_to_the_piece(teacher):
    teacher.post(
        reverse("new-piece"), {"file": score_file("Evening Song.xml", LAENDLER.replace("Ländler in E-flat", ""))}
    )
    assert Piece.objects.get().title == "Evening Song"


@pytest.mark.parametrize("title", ["夜の歌", "أغنية المساء", "Вечерняя песня", "Ωδή στη νύχτα", "Für 𝄞 & <b>"])
def test_a_title_in_any_script_comes_in_as_it_is(teacher, title):
    music = LAENDLER.replace("Ländler in E-flat", escape(title))
    answer = teacher.post(reverse("new-piece"), {"file": score_file(content=music)}, follow=True)
    assert Piece.objects.get().title == title
    assert escape(title) in answer.content.decode()


@pytest.mark.django_db(transaction=True)
def test_a_browser_closed_in_the_middle_of_sending_leaves_nothing_behind(live_server):
    cast = gather()
    piece = make.piece(studio=cast.studio)
    client = Client()
    client.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
    client.get(reverse("new-edition", args=[piece.pk]))
    cookies = f"sessionid={client.cookies['sessionid'].value}; csrftoken={client.cookies['csrftoken'].value}"
    head = (
        f"POST {reverse('new-edition', args=[piece.pk])} HTTP/1.1\r\nHost: localhost\r\nCookie: {cookies}\r\n"
        f"X-CSRFToken: {client.cookies['csrftoken'].value}\r\nContent-Length: 100000\r\n"
        "Content-Type: multipart/form-data; boundary=cut\r\n\r\n"
        '--cut\r\nContent-Disposition: form-data; name="file"; filename="a.xml"\r\n\r\n'
    )
    with socket.create_connection((live_server.thread.host, live_server.thread.port)) as wire:
        wire.sendall(head.encode() + LAENDLER.encode()[:2000])
    # The server still answers, and the same file sent whole comes in.
    assert send(client, piece).status_code == 302
    assert Edition.objects.count() == 1
    assert Upload.objects.exclude(edition=None).count() == Upload.objects.count() == 1


# How far it is


def test_the_steps_of_the_reading_are_told_while_it_goes_on(cast, teacher, piece, monkeypatch):
    key, seen = uuid.UUID(int=9), []
    update = Upload.objects.none().__class__.update

    def watch(rows, **given):
        if given.get("step"):
            seen.append((str(given["step"]), given["percent"]))
        return update(rows, **given)

    monkeypatch.setattr("django.db.models.query.QuerySet.update", watch)
    send(teacher, piece, sending=key)
    monkeypatch.undo()
    assert [percent for _step, percent in seen] == sorted(percent for _step, percent in seen)
    assert len(seen) >= 3
    state = teacher.get(reverse("upload-state", args=[key])).json()
    assert state == {"step": seen[-1][0], "percent": 100, "error": ""}


def test_the_state_of_an_upload_is_nobody_else_s_business(cast, teacher, piece, logged_in):
    key = uuid.UUID(int=9)
    send(teacher, piece, sending=key)
    assert logged_in(cast.other_teacher).get(reverse("upload-state", args=[key])).status_code == 404


def test_what_was_left_behind_by_old_sendings_is_cleared_away(cast, teacher, piece):
    old = Upload.objects.create(studio=cast.studio, user=cast.teacher, key=uuid.UUID(int=1))
    Upload.objects.filter(pk=old.pk).update(created_at=timezone.now() - timedelta(hours=25))
    young = Upload.objects.create(studio=cast.studio, user=cast.teacher, key=uuid.UUID(int=2))
    send(teacher, piece)
    assert not Upload.objects.filter(pk=old.pk).exists()
    assert Upload.objects.filter(pk=young.pk).exists()


@pytest.mark.django_db(transaction=True)
def test_several_files_sent_at_the_same_moment_are_all_kept():
    cast = gather()
    piece = make.piece(studio=cast.studio)

    def one(number):
        client = Client()
        client.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
        try:
            return send(client, piece, label=f"Print {number}").status_code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as threads:
        assert list(threads.map(one, range(4))) == [302] * 4
    assert sorted(piece.editions.values_list("label", flat=True)) == [f"Print {number}" for number in range(4)]
    assert not Upload.objects.filter(edition=None).exists()


# The engraved page


def note_ids(text):
    return re.findall(r'class="note" data-note="([^"]+)"', text)


def test_the_page_shows_every_note_of_a_short_piece_engraved(cast, teacher):
    text = teacher.get(reverse("edition", args=[cast.edition.pk])).content.decode()
    assert set(note_ids(text)) == set(cast.edition.score.by_id)


def test_the_music_is_also_there_in_words(cast, teacher):
    text = teacher.get(reverse("edition", args=[cast.edition.pk])).content.decode()
    assert "measure 1 beat 2 E flat 5" in text


def test_the_passages_stand_in_the_margin_with_a_way_to_their_desks(cast, teacher):
    named = make.passage(edition=cast.edition, name="The turn")
    gone = make.passage(edition=cast.edition, name="Gone")
    Passage.objects.filter(pk=gone.pk).update(removed_at=timezone.now())
    text = teacher.get(reverse("edition", args=[cast.edition.pk])).content.decode()
    assert reverse("desk", args=[named.pk]) in text
    assert "The turn" in text
    assert reverse("desk", args=[gone.pk]) not in text


HEAD = "<attributes><divisions>12</divisions><time><beats>1</beats><beat-type>4</beat-type></time></attributes>"
CHORD = note("C4", "quarter") + note("E4", "quarter", chord=True)
LONG = score([HEAD + CHORD] + [CHORD] * 2099, title="Long")


@pytest.fixture
def long_edition(cast):
    return make.edition(piece=make.piece(studio=cast.studio, title="Long"), music=LONG)


def test_leaves_follow_each_other_without_a_measure_missing_or_twice(teacher, long_edition):
    url, first, measures = reverse("edition-systems", args=[long_edition.pk]), 0, []
    for _ in range(4):
        text = teacher.get(url, {"first": first, "width": 700}).content.decode()
        measures += [int(found) for found in re.findall(r'data-measure="(\d+)"', text)]
        first = int(re.search(r"\?first=(\d+)&amp;width=700", text)[1])
        assert first == measures[-1] + 1
    assert measures == list(range(first))


def test_earlier_measures_can_be_called_up_before_a_leaf(teacher, long_edition):
    url = reverse("edition-systems", args=[long_edition.pk])
    text = teacher.get(url, {"before": 1000, "width": 700}).content.decode()
    measures = [int(found) for found in re.findall(r'data-measure="(\d+)"', text)]
    assert measures == list(range(measures[0], 1000))
    assert f"?before={measures[0]}" in text


def test_one_can_go_to_any_measure_of_a_long_score(teacher, long_edition):
    text = teacher.get(reverse("edition", args=[long_edition.pk]), {"measure": "2000"}).content.decode()
    assert 'data-first="1999"' in text
    assert 'data-first="0"' not in text


def test_a_measure_that_is_not_there_is_said(teacher, long_edition):
    text = teacher.get(reverse("edition", args=[long_edition.pk]), {"measure": "<2101"}).content.decode()
    assert "There is no measure &lt;2101 here: the measures go from 1 to 2100." in text


@pytest.mark.parametrize("asked", ["-1", "x", "9" * 30, "2100", "١"])
def test_strange_places_are_answered_with_some_page(teacher, long_edition, asked):
    url = reverse("edition-systems", args=[long_edition.pk])
    for name in ("first", "before", "width"):
        assert teacher.get(url, {name: asked}).status_code == 200


def test_what_does_not_add_up_stands_beside_its_measure(cast, teacher):
    measures = [note("C4", "half.")] * 3
    head = "<attributes><divisions>12</divisions><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
    uneven = score([head + measures[0], note("C4", "half") + note("D4", "half"), measures[2]], title="Uneven")
    edition = make.edition(piece=make.piece(studio=cast.studio), music=uneven)
    text = teacher.get(reverse("edition", args=[edition.pk])).content.decode()
    margin = re.search(r'<p class="remark program"><span class="number">(\w+)</span>([^<]+)', text)
    assert margin[1] == "2"
    assert "time signature" in margin[2]


def test_music_that_cannot_be_engraved_is_said_and_the_page_stands(cast, teacher, monkeypatch):
    def fail(*_args, **_options):
        raise WorkshopFailed("died")

    edition = cast.edition
    monkeypatch.setattr("scores.leafing.engrave_cached", fail)
    answer = teacher.get(reverse("edition", args=[edition.pk]))
    assert answer.status_code == 200
    assert "Measures 0 to 4 could not be engraved." in answer.content.decode()


def test_ten_more_passages_add_no_query_to_the_page(cast, teacher):
    url = reverse("edition", args=[cast.passage.edition_id])

    def queries():
        with CaptureQueriesContext(connection) as taken:
            assert teacher.get(url).status_code == 200
        return len(taken)

    before = queries()
    for _ in range(10):
        make.passage(edition=cast.edition)
    assert queries() == before <= 12


# Its name, its files


def test_an_edition_can_be_renamed_but_not_to_nothing(cast, teacher):
    url = reverse("change-edition", args=[cast.edition.pk])
    assert teacher.post(url, {"label": ""}).status_code == 422
    teacher.post(url, {"label": "First print"})
    assert Edition.objects.light().get().label == "First print"


def test_the_music_can_be_taken_away_as_musicxml_with_its_ids(cast, teacher):
    answer = teacher.get(reverse("edition-file", args=[cast.edition.pk]))
    assert answer["Content-Type"] == "application/vnd.recordare.musicxml+xml"
    assert answer.content == cast.edition.music
    assert answer["Content-Disposition"].startswith("attachment; filename*=utf-8''L%C3%A4ndler%20in%20E-flat")


def test_the_file_can_be_taken_away_as_it_was_sent(cast, teacher):
    answer = teacher.get(reverse("edition-file", args=[cast.edition.pk]), {"original": "1"})
    assert answer.content == LAENDLER.encode()
    assert answer["Content-Disposition"] == 'attachment; filename="laendler.musicxml"'
    assert answer["Content-Type"] == "application/octet-stream"


def test_the_name_of_a_download_carries_no_line_breaks_into_the_header(cast, teacher):
    Piece.objects.filter(pk=cast.edition.piece_id).update(title='A "B"\r\nSet-Cookie: x=1/../夜')
    answer = teacher.get(reverse("edition-file", args=[cast.edition.pk]))
    assert answer.status_code == 200
    assert "Set-Cookie: x" not in answer.headers


# Taking one away


def test_an_edition_without_passages_goes_for_good(cast, teacher, piece):
    edition = make.edition(piece=piece)
    url = reverse("remove-edition", args=[edition.pk])
    assert "The edition goes for good" in teacher.get(url).content.decode()
    assert Edition.objects.filter(pk=edition.pk).exists()
    assert teacher.post(url)["Location"] == reverse("piece", args=[piece.pk])
    assert not Edition.objects.filter(pk=edition.pk).exists()


def test_an_edition_stays_while_a_passage_is_marked_in_it_or_a_student_has_one(cast, teacher):
    passage, url = cast.passage, reverse("remove-edition", args=[cast.edition.pk])
    answer = teacher.post(url)
    assert answer.status_code == 422
    assert "Take those away first" in answer.content.decode()
    make.assigned(lesson=make.lesson(student=cast.oda), passage=passage)
    teacher.post(reverse("remove-passage", args=[passage.pk]))
    assert teacher.post(url).status_code == 422
    assert Edition.objects.filter(pk=cast.edition.pk).exists()
    assert Passage.objects.filter(pk=passage.pk).exists()
