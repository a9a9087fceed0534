"""Who gets what at the address of the preparation list for one student."""

from tests.roles import Row, teachers

TABLE: dict[str, Row] = {
    # Without a student in the address it leads to the list for everyone.
    "preparation-for": Row(teachers(302), target=lambda cast: {"pk": cast.edition.pk}),
}
