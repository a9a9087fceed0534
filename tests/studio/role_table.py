"""Who gets what at this room's addresses."""

from studio import people
from tests import make
from tests.people import Cast
from tests.roles import Row, open_to_all, teachers
from tests.studio.tuition_roles import TABLE as TUITION

ONLY_POST = (405, 404, 404, 404, 404, 405, 302)
EVERYONE_BUT_STRANGERS = (200,) * 6 + (302,)
STRANGERS_ONLY = (302,) * 6 + (200,)

REACH = {"side": "right", "measured_on": "2020-09-01", "comfortable": "12", "largest": "14", "width": "medium"}
STUDIO = {"name": "Studio Harbour Street", "timezone": "Europe/Helsinki", "currency": "EUR", "paper": "A4"}
START = STUDIO | {"you-name": "New", "you-email": "new@example.org", "you-password": make.PASSWORD}


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def of_ilmari(cast: Cast) -> dict[str, int]:
    return {"pk": cast.ilmari.pk}


def of_birger(cast: Cast) -> dict[str, int]:
    return {"pk": cast.birger.pk}


def odas_birger(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk, "guardian": cast.birger.pk}


def odas_sunita(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk, "guardian": cast.sunita.pk}


def odas_hand(cast: Cast) -> dict[str, int]:
    return {"pk": make.hand(student=cast.oda).pk}


def removed_hand(cast: Cast) -> dict[str, str]:
    return {"kept": people.remove_hand(hand=make.hand(student=cast.oda))}


def a_guardian_without_login(cast: Cast) -> dict[str, int]:
    return {"pk": make.guardian(students=[cast.ilmari], name="Aino Lindqvist", email="").pk}


def an_open_invitation(cast: Cast) -> dict[str, int]:
    return {"pk": make.invitation(student=cast.ilmari).pk}


def post_only(target, posted: tuple[int, ...] | None = None) -> Row:
    """A page of the teacher's that takes only a POST; what is fetched comes after the guard, what is allowed before."""
    return Row(get=ONLY_POST, post=posted or teachers(302), target=target)


TABLE: dict[str, Row] = TUITION | {
    "home": Row(get=STRANGERS_ONLY, post=(405,) * 7),
    "start": Row(get=STRANGERS_ONLY, post=(302,) * 7, data=lambda cast: START),
    "log-in": Row(
        get=STRANGERS_ONLY,
        post=(302,) * 7,
        data=lambda cast: {"email": "oda@example.org", "password": make.PASSWORD},
    ),
    "log-out": Row(get=(405,) * 7, post=(302,) * 7),
    "change-password": Row(
        get=EVERYONE_BUT_STRANGERS,
        post=(302,) * 7,
        data=lambda cast: {
            "old_password": make.PASSWORD,
            "new_password1": "nine blue pedals",
            "new_password2": "nine blue pedals",
        },
    ),
    "forgotten": Row(get=open_to_all(200), post=open_to_all(302), data=lambda cast: {"email": "nobody@example.org"}),
    "forgotten-sent": Row(get=open_to_all(200), post=(405,) * 7),
    "new-password": Row(
        get=open_to_all(404), post=open_to_all(404), target=lambda cast: {"uidb64": "MQ", "token": "a-b"}
    ),
    "studio": Row(get=teachers(200, next_door=200), post=teachers(302, next_door=302), data=lambda cast: STUDIO),
    "students": Row(get=teachers(200, next_door=200), post=ONLY_POST),
    "new-student": Row(
        get=teachers(200, next_door=200), post=teachers(302, next_door=302), data=lambda cast: {"name": "Nils"}
    ),
    "student": Row(get=teachers(200), post=ONLY_POST, target=of_oda),
    "change-student": Row(get=teachers(200), post=teachers(302), target=of_oda, data=lambda cast: {"name": "Oda L."}),
    "leave": post_only(of_oda),
    "come-back": post_only(of_oda),
    "new-hand": Row(get=teachers(200), post=teachers(302), target=of_oda, data=lambda cast: REACH),
    "remove-hand": post_only(odas_hand),
    "restore-hand": post_only(removed_hand),
    "new-guardian": Row(
        get=teachers(200), post=teachers(302), target=of_oda, data=lambda cast: {"name": "Aino Lindqvist"}
    ),
    "change-guardian": Row(
        get=teachers(200), post=teachers(302), target=of_birger, data=lambda cast: {"name": "Birger L."}
    ),
    "link-guardian": post_only(odas_sunita),
    "unlink-guardian": post_only(odas_birger),
    "invite-student": Row(get=teachers(200), post=teachers(200), target=of_ilmari),
    "invite-guardian": Row(get=teachers(200), post=teachers(200), target=a_guardian_without_login),
    "take-back-invitation": post_only(an_open_invitation),
    "invitation": Row(get=open_to_all(404), post=open_to_all(404), target=lambda cast: {"token": "unknown"}),
    "help": Row(get=open_to_all(200), post=(405,) * 7),
    "help-topic": Row(get=open_to_all(200), post=(405,) * 7, target=lambda cast: {"topic": "fingerings"}),
}
