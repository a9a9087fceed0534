"""The desk and the edition's page where music returns: what stands there, and what a teacher does about it."""

import pytest
from django.urls import reverse

from scores import noting
from scores.inheriting import here
from scores.models import Edition, Fingering, Passage
from tests import make
from tests.people import Cast
from tests.scores.rondino import RONDINO
from tests.scores.test_inheriting import RUN, fingered, fresh, notes_of, passage


@pytest.fixture
def rondino(cast: Cast) -> Edition:
    return make.edition(piece=make.piece(studio=cast.studio, title="Rondino"), music=RONDINO, name="rondino.musicxml")


def desk(client, one: Passage) -> str:
    answer = client.get(reverse("desk", args=[one.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def act(client, name: str, one: Passage, source: Fingering, **more):
    url = reverse(name, kwargs={"pk": one.pk, "kind": "fingering", "note": source.pk, **more})
    return client.post(url, follow=True)


def test_the_desk_shows_a_line_of_another_place_with_where_it_comes_from(cast: Cast, logged_in, rondino: Edition):
    line = fingered(rondino, 1, 2)
    words = desk(logged_in(cast.teacher), passage(rondino, 7, 8))
    assert "From measures 1–2, a fifth higher." in words
    assert "look again, black keys fall elsewhere" in words
    assert f'action="{reverse("keep-line", args=[line.pk])}"' not in words


def test_the_desk_says_where_the_same_music_stands(cast: Cast, logged_in, rondino: Edition):
    there = passage(rondino, 5, 6)
    words = desk(logged_in(cast.teacher), passage(rondino, 1, 2))
    assert "= measures 5–6" in words
    assert "= measures 7–8, a fifth higher" in words
    assert "= measures 9–10, right hand" in words
    assert reverse("desk", args=[there.pk]) in words


def test_change_it_here_makes_a_line_that_can_be_typed_into(cast: Cast, logged_in, rondino: Edition):
    line, place = fingered(rondino, 1, 2), passage(rondino, 5, 6)
    answer = act(logged_in(cast.teacher), "depart-note", place, line)
    own = place.fingerings.get()
    assert own.pk != line.pk
    assert f'action="{reverse("keep-line", args=[own.pk])}"' in answer.content.decode()
    assert (
        reverse("follow-note", kwargs={"pk": place.pk, "kind": "fingering", "note": line.pk}) in answer.content.decode()
    )


def test_not_here_and_as_elsewhere_again(cast: Cast, logged_in, rondino: Edition):
    client, line, place = logged_in(cast.teacher), fingered(rondino, 1, 2), passage(rondino, 5, 6)
    answer = act(client, "leave-out-note", place, line)
    assert "Not as in measures 1–2" in answer.content.decode()
    assert here(fresh(place)).fingerings == ()
    act(client, "follow-note", place, line)
    assert [one.pk for one in here(fresh(place)).fingerings] == [line.pk]


def test_following_again_can_be_undone(cast: Cast, logged_in, rondino: Edition):
    client, line, place = logged_in(cast.teacher), fingered(rondino, 1, 2), passage(rondino, 5, 6)
    act(client, "depart-note", place, line)
    own = place.fingerings.get()
    noting.keep_fingers(fingering=own, fingers={**own.fingers, notes_of(rondino, 5, 5)[0].id: "2"})
    answer = act(client, "follow-note", place, line)
    undo = reverse("return-note", kwargs={"pk": place.pk, "kind": "fingering", "note": line.pk, "own": own.pk})
    assert undo in answer.content.decode()
    client.post(undo)
    assert [one.pk for one in here(fresh(place)).fingerings] == [own.pk]


def test_what_does_not_stand_there_cannot_be_changed_there(cast: Cast, logged_in, rondino: Edition):
    line, place = fingered(rondino, 1, 2), passage(rondino, 3, 4)
    assert act(logged_in(cast.teacher), "depart-note", place, line).status_code == 404
    assert act(logged_in(cast.teacher), "follow-note", cast.passage, line).status_code == 404
    assert Fingering.objects.filter(passage=place).count() == 0


def test_the_edition_says_what_each_measure_is_again(cast: Cast, logged_in, rondino: Edition):
    words = logged_in(cast.teacher).get(reverse("edition", args=[rondino.pk])).content.decode()
    for sign in ("= 1–2", "= 1–2, a fifth higher", "= 1–2, right hand"):
        assert sign in words


def test_a_place_with_notes_of_another_is_marked_in_one_step(cast: Cast, logged_in, rondino: Edition):
    client, line = logged_in(cast.teacher), fingered(rondino, 1, 2)
    url = reverse("mark-return", args=[line.passage.pk, 4])
    assert url in client.get(reverse("edition", args=[rondino.pk])).content.decode()
    client.post(url)
    marked = Passage.objects.latest("pk")
    assert (marked.first_number, marked.last_number, marked.hands) == ("5", "6", "both")
    assert [one.pk for one in here(marked).fingerings] == [line.pk]
    assert url not in client.get(reverse("edition", args=[rondino.pk])).content.decode()


def test_no_place_is_marked_where_the_music_does_not_return(cast: Cast, logged_in, rondino: Edition):
    line = fingered(rondino, 1, 2)
    assert logged_in(cast.teacher).post(reverse("mark-return", args=[line.passage.pk, 2])).status_code == 404


@pytest.mark.parametrize("name", ["desk", "edition"])
def test_ten_more_notes_elsewhere_add_no_query(
    cast: Cast, logged_in, rondino: Edition, django_assert_max_num_queries, name
):
    client, line, place = logged_in(cast.teacher), fingered(rondino, 1, 2), passage(rondino, 5, 6)
    url = reverse(name, args=[place.pk if name == "desk" else rondino.pk])
    client.get(url)
    with django_assert_max_num_queries(12) as before:
        client.get(url)
    for number in range(10):
        fingered(rondino, 1, 2, "12345" + str(number % 5 + 1) + RUN[6:])
        noting.write_cue(passage=line.passage, text=f"cue {number}", measure=0)
    with django_assert_max_num_queries(len(before)):
        client.get(url)
