from datetime import date

import pytest

from studio.forms import HandForm, NewLoginForm, StudioForm, reach_choices, zones
from studio.models import PAIRS
from tests import make

TODAY = date(2020, 11, 25)
REACH = {"side": "right", "measured_on": "2020-11-25", "comfortable": "11", "largest": "12", "width": "slim"}


def hand(**given) -> HandForm:
    return HandForm(REACH | {name.replace("_to_", "-"): value for name, value in given.items()}, today=TODAY)


def test_a_hand_is_measured_in_semitones():
    form = hand()
    assert form.is_valid()
    assert (form.cleaned_data["comfortable"], form.cleaned_data["largest"]) == (11, 12)
    assert form.sides() == ["right"]
    assert form.pairs == {}


def test_the_other_hand_can_be_the_same():
    form = hand(both="on")
    assert form.is_valid()
    assert form.sides() == ["right", "left"]


def test_a_largest_reach_below_the_comfortable_one_is_named_with_both():
    form = hand(comfortable="14", largest="12")
    assert form.errors["largest"] == [
        "The largest reach (an octave) is below the comfortable one (a ninth). Did they change places?"
    ]


def test_every_pair_of_fingers_can_be_measured():
    asked = [pair.replace("–", "-") for pair, _, _ in hand().pair_rows()]
    assert [*asked, "1-5"] == sorted(PAIRS, key=[*asked, "1-5"].index)
    assert set(asked) == set(PAIRS) - {"1-5"}
    assert len(PAIRS) == 10
    given = {f"{kind}-{pair}": size for pair in asked for kind, size in (("comfortable", "2"), ("largest", "4"))}
    form = hand(**given)
    assert form.is_valid()
    assert form.pairs == {pair: [2, 4] for pair in asked}


def test_a_pair_needs_both_reaches_or_neither():
    form = hand(**{"comfortable-2-5": "7"})
    assert form.errors["largest-2-5"] == ["A pair needs both, or neither."]
    assert form.pairs == {}
    assert form.details_given()


def test_a_pair_whose_reaches_changed_places_is_refused():
    assert "largest-3-4" in hand(**{"comfortable-3-4": "5", "largest-3-4": "2"}).errors


def test_two_fingers_cannot_reach_further_than_the_whole_hand():
    form = hand(**{"comfortable-2-5": "7", "largest-2-5": "14"})
    assert form.errors["largest-2-5"] == ["Two fingers cannot reach further (a ninth) than the whole hand (an octave)."]


def test_a_measurement_is_not_of_tomorrow():
    assert hand(measured_on="2020-11-26").errors["measured_on"] == ["That day has not come yet."]
    assert hand(measured_on="2020-11-24").is_valid()


@pytest.mark.parametrize(
    ("name", "value"), [("comfortable", "13.5"), ("largest", "99"), ("side", "third"), ("width", "")]
)
def test_what_is_not_offered_is_refused(name: str, value: str):
    assert name in hand(**{name: value}).errors


def test_a_reach_is_chosen_by_name_with_its_keys():
    choices = dict(reach_choices(5, keys=True))
    assert choices[12] == "octave (C–C)"
    assert choices[14] == "ninth (C–D)"
    assert choices[16] == "tenth (C–E)"
    assert min(size for size in choices if size) == 5


def test_a_new_measurement_begins_with_the_last_one(cast):
    hands = {side: make.hand(student=cast.oda, side=side, pairs={"2-5": [7, 9]}) for side in ("right", "left")}
    initial = HandForm.like(hands)
    assert initial["both"] is True
    assert (initial["comfortable-2-5"], initial["largest-2-5"]) == (7, 9)
    assert HandForm.like({}) == {}


def test_an_earlier_measurement_between_white_keys_stays_on_offer(cast):
    earlier = make.hand(student=cast.oda, comfortable=12, largest=15, pairs={"2-5": [8, 9]})
    initial = HandForm.like({"right": earlier})
    form = HandForm(REACH | {"largest": "15", "comfortable-2-5": "8", "largest-2-5": "9"}, today=TODAY, initial=initial)
    assert '<option value="15" selected>minor tenth</option>' in str(form["largest"])
    assert form.is_valid()
    assert form.cleaned_data["largest"] == 15
    assert form.pairs == {"2-5": [8, 9]}
    assert "largest" in hand(largest="15").errors  # it is offered to nobody else


def test_a_time_zone_is_a_place():
    names = {name for region in zones().values() for name in region}
    assert {"Europe/Helsinki", "America/Sao_Paulo", "Asia/Kolkata", "UTC"} <= names
    assert not [name for name in names if name.startswith("Etc/")]


STUDIO = {"name": "Harbour", "timezone": "Europe/Helsinki", "currency": "EUR", "paper": "A4"}


@pytest.mark.django_db
def test_a_currency_may_be_typed_small():
    form = StudioForm(STUDIO | {"currency": "sek"})
    assert form.is_valid()
    assert form.cleaned_data["currency"] == "SEK"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "value"),
    [("currency", "E1R"), ("currency", "EU"), ("timezone", "Europe/Atlantis"), ("paper", "A5"), ("name", "")],
)
def test_a_studio_that_cannot_be_is_refused(name: str, value: str):
    assert name in StudioForm(STUDIO | {name: value}).errors


def test_a_studio_keeps_a_time_zone_that_the_list_has_not(cast):
    cast.studio.timezone = "EST5EDT"
    form = StudioForm(STUDIO | {"timezone": "EST5EDT"}, instance=cast.studio)
    assert form.is_valid()


LOGIN = {"name": "Aino Lindqvist", "email": "Aino@Example.org", "password": "seven loose strings"}


@pytest.mark.django_db
def test_an_address_is_kept_in_lower_case():
    form = NewLoginForm(LOGIN)
    assert form.is_valid()
    assert form.cleaned_data["email"] == "aino@example.org"


def test_an_address_makes_one_login(cast):
    assert "email" in NewLoginForm(LOGIN | {"email": "ODA@example.org"}).errors


@pytest.mark.django_db
@pytest.mark.parametrize("password", ["short", "password123", "aino@example.org", "Aino Lindqvist", "  "])
def test_a_weak_password_is_refused(password: str):
    assert "password" in NewLoginForm(LOGIN | {"password": password}).errors
