"""The studio's policy: what changes it."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from lessons.models import Consequence, Policy
from studio.models import Studio

FOLLOWS = {
    Consequence.CHARGE: _("charged"),
    Consequence.CREDIT: _("charged; a make-up lesson is owed"),
    Consequence.NEITHER: _("not charged"),
}


@transaction.atomic
def keep_policy(
    *,
    studio: Studio,
    words: str,
    rules: Mapping[str, str],
    notice_hours: int,
    credit_days: int | None,
    may_cancel: bool,
    may_move: bool,
    changes_a_term: int | None,
    students_too: bool = False,
) -> Policy:
    """Keeps the policy. What followed from attendance said until now stays as it is."""
    policy, __ = Policy.objects.update_or_create(
        studio=studio,
        defaults={
            "words": words,
            "rules": dict(rules),
            "notice_hours": notice_hours,
            "credit_days": credit_days,
            "may_cancel": may_cancel,
            "may_move": may_move,
            "students_too": students_too,
            "changes_a_term": changes_a_term,
        },
    )
    return policy
