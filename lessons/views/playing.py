"""An assigned passage as it is heard, and its MIDI file, for the student, her guardians and her teacher."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import conditional_page, require_safe

from lessons.access import assigned_of
from lessons.models import AssignedPassage
from lessons.playing import choices_for, tempo_for
from scores.inheriting import here
from scores.playing import heard_in
from scores.views.playing import file_name, midi_answer, sounding_answer
from studio.access import for_everyone_here


def assigned_here(request: HttpRequest, pk: int) -> AssignedPassage:
    rows = assigned_of(request.user).select_related("passage__edition__piece")
    return get_object_or_404(rows.prefetch_related("placements"), pk=pk)


@for_everyone_here
@require_safe
@conditional_page
def assigned_sounding(request: HttpRequest, pk: int) -> HttpResponse:
    """The passage as it sounds with this student's choices."""
    row = assigned_here(request, pk)
    drills = list(here(row.passage).drills)
    return sounding_answer(request, row.passage, choices_for(row), drills, tempo_for(row))


@for_everyone_here
@require_safe
def assigned_midi(request: HttpRequest, pk: int) -> HttpResponse:
    """The passage as a MIDI file, with this student's choices, at her tempo."""
    row = assigned_here(request, pk)
    return midi_answer(
        request,
        choices_for(row),
        lambda choices, tried: heard_in(row.passage, choices, tempo_for(row)),
        file_name(row.passage),
        reverse("home"),
        tempo=row.tempo_now,
    )
