from tests.html import assert_clean

STUDIO = {"name": "Studio am Hafen", "timezone": "America/Toronto", "currency": "cad", "paper": "Letter"}


def test_the_teacher_changes_her_studio(cast, logged_in):
    client = logged_in(cast.teacher)
    assert client.post("/studio/", STUDIO).status_code == 302
    cast.studio.refresh_from_db()
    assert (cast.studio.name, cast.studio.timezone) == ("Studio am Hafen", "America/Toronto")
    assert (cast.studio.currency, cast.studio.paper) == ("CAD", "Letter")
    cast.next_door.refresh_from_db()
    assert cast.next_door.name == "Studio next door"


def test_what_does_not_hold_changes_nothing(cast, logged_in):
    answer = logged_in(cast.teacher).post("/studio/", STUDIO | {"timezone": "Nowhere"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="Studio am Hafen"' in html
    assert '<p class="faint">Studio Harbour Street</p>' in html
    cast.studio.refresh_from_db()
    assert cast.studio.name == "Studio Harbour Street"


def test_the_page_is_clean(cast, logged_in):
    assert_clean(logged_in(cast.teacher).get("/studio/").content.decode())
