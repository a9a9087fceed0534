"""Giving a handout: what was gathered and the PDF drawn from it are kept, and never change."""

from __future__ import annotations

import json
from typing import Any

from django.db import transaction
from django.db.models import Max

from lessons.handouts.content import Content, to_data
from lessons.handouts.sheet import draw_sheet
from lessons.models import Handout, Lesson


def give(*, lesson: Lesson, content: Content) -> Handout:
    """Keeps the handout of a lesson as its next revision."""
    pdf, data = draw_sheet(content), to_data(content)
    with transaction.atomic():
        # The lesson's row is locked, so that two gifts at once become two revisions.
        Lesson.objects.select_for_update().get(pk=lesson.pk)
        highest = lesson.handouts.aggregate(highest=Max("revision"))["highest"] or 0
        return Handout.objects.create(
            studio_id=lesson.studio_id,
            lesson=lesson,
            revision=highest + 1,
            content=data,
            pdf=pdf,
            paper=content.paper,
        )


def says_the_same(kept: dict[str, Any] | None, content: Content) -> bool:
    """Whether what is kept of a handout says what the lesson says now."""
    return kept == json.loads(json.dumps(to_data(content)))
