"""What is heard: a passage as data for the player, MIDI files, the recorded piano, the metronome."""

from collections.abc import Callable, Sequence
from fractions import Fraction

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.templatetags.static import static
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import conditional_page, require_safe

from scores.access import drills_of, passage_for
from scores.inheriting import here
from scores.models import Passage, RhythmDrill
from scores.music.refusal import Refusal
from scores.music.sounding import Heard
from scores.music.tempo import MARKS
from scores.playing import Choices, Tried, chosen_in, heard_in, heard_in_drill, placed, sounding_data
from scores.views.answers import words
from scores.writing_midi import midi
from studio.access import for_everyone_here, for_teachers
from studio.pages import page, say


def sounding_answer(
    request: HttpRequest,
    passage: Passage,
    choices: Choices,
    drills: Sequence[RhythmDrill],
    tempo: Fraction | None = None,
) -> HttpResponse:
    """The passage as data, what the listener tries out in place of what is chosen; or a sentence, with 422.

    `tempo` is that for which ornaments are written out, where the address names none.
    """
    try:
        tried = Tried.read(request.GET)
        data = sounding_data(passage, placed(choices, tried.placements), drills, tried.tempo or tempo)
    except Refusal as refusal:
        return JsonResponse({"refused": words(refusal)}, status=422)
    return JsonResponse(data)


def midi_answer(
    request: HttpRequest,
    choices: Choices,
    listen: Callable[[Choices, Tried], Heard],
    name: str,
    home: str,
    tempo: int | None = None,
) -> HttpResponse:
    """A MIDI file to keep; or back `home` with a sentence that says why there is none."""
    try:
        tried = Tried.read(request.GET)
        data = midi(listen(placed(choices, tried.placements), tried), tempo=tried.tempo or tempo)
    except Refusal as refusal:
        say(request, words(refusal))
        return redirect(home)
    answer = HttpResponse(data, content_type="audio/midi")
    answer["Content-Disposition"] = content_disposition_header(True, f"{name}.mid".replace("/", "-"))
    return answer


def file_name(passage: Passage) -> str:
    """ "Ländler in E-flat 3-7" """
    return f"{passage.edition.piece.title} {passage.first_number}-{passage.last_number}"


@for_teachers
@require_safe
@conditional_page
def sounding(request: HttpRequest, pk: int) -> HttpResponse:
    """A passage as it sounds with what the teacher chose."""
    passage = passage_for(request.user, pk)
    choices = chosen_in(here(passage).choices)
    return sounding_answer(request, passage, choices, list(here(passage).drills))


@for_teachers
@require_safe
def passage_midi(request: HttpRequest, pk: int) -> HttpResponse:
    """The passage as a MIDI file, with the ornaments as chosen."""
    passage = passage_for(request.user, pk)
    return midi_answer(
        request,
        chosen_in(here(passage).choices),
        lambda choices, tried: heard_in(passage, choices, tried.tempo),
        file_name(passage),
        reverse("desk", kwargs={"pk": pk}),
    )


@for_teachers
@require_safe
def drill_midi(request: HttpRequest, pk: int) -> HttpResponse:
    """One cycle of a drill as a MIDI file."""
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    return midi_answer(
        request,
        chosen_in(here(drill.passage).choices),
        lambda choices, tried: heard_in_drill(drill, choices, tried.tempo),
        file_name(drill.passage),
        reverse("desk", kwargs={"pk": drill.passage_id}),
    )


@for_everyone_here
@require_safe
@conditional_page
def piano(request: HttpRequest) -> HttpResponse:
    """Where each recorded key is served: MIDI number -> address. A served site gives files names that change."""
    return JsonResponse({str(key): static(f"sound/piano/{key}.mp3") for key in settings.PIANO_KEYS})


@for_everyone_here
@require_safe
def metronome(request: HttpRequest) -> HttpResponse:
    """A metronome by itself."""
    return page(request, "scores/metronome.html", {"marks": MARKS})
