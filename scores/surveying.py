"""What a survey found in an edition: kept, ticked, made into passages. What changes rows, as verbs."""

import json
import logging
import zlib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from math import gcd

from django.db import transaction
from django.db.models import QuerySet

from scores import noting, workshop
from scores.marking import mark_passage
from scores.models import Difficulty, Edition, Looked, Passage, Preparation, SurveyHabit
from scores.models.repertoire import unpacked
from scores.music.crossrhythm import find
from scores.music.notation import Score, sides_of
from scores.music.refusal import Refusal
from scores.music.survey import FAULTS, KINDS, Finding, Kind, Options, survey
from scores.music.survey.stored import VERSION, from_data, to_data
from scores.music.survey.timeline import ORDINARY_TEMPO
from scores.music.tempo import FASTEST, SLOWEST
from studio.models import Studio, User

log = logging.getLogger(__name__)

AT_ONCE = 20_000  # notes that are surveyed while someone waits; longer works go to a process of their own
SECONDS = 60.0
APART = "scores.surveying_apart:survey_packed"

NO_DETAIL: frozenset[Kind] = frozenset({"thumb", "crossed-hands", "tempo"})
ORNAMENT_KINDS: frozenset[Kind] = frozenset({"grace", "ornament", "arpeggio", "wide-roll", "tremolo"})
CUE_KINDS: frozenset[Kind] = FAULTS | {"tempo", "metre", "key", "recurrence"}


# The findings


def findings_of(edition: Edition) -> tuple[Finding, ...]:
    """The findings for a medium hand at the edition's own tempo, from the row that keeps them; made and kept where
    there is none yet. Raises `WorkshopFailed` for a long work that takes too long."""
    kept = Preparation.objects.filter(edition=edition, version=VERSION).first()
    if kept is None:
        kept = keep_survey(edition=edition, findings=surveyed(bytes(edition.packed_score), Options()))
    return loaded(bytes(kept.packed))


def findings_for(edition: Edition, options: Options) -> tuple[Finding, ...]:
    """The findings for a hand, a tempo, a speed; the last few that were asked for are remembered."""
    return findings_of(edition) if options == Options() else surveyed(bytes(edition.packed_score), options)


@lru_cache(maxsize=16)
def surveyed(packed: bytes, options: Options) -> tuple[Finding, ...]:
    score = unpacked(packed)
    if len(score.notes) <= AT_ONCE:
        return survey(score, options)
    return from_data(workshop.run(APART, packed, options, seconds=SECONDS, megabytes=1024))


@lru_cache(maxsize=16)
def loaded(packed: bytes) -> tuple[Finding, ...]:
    return from_data(json.loads(zlib.decompress(packed)))


# Keeping them


@transaction.atomic
def keep_survey(*, edition: Edition, findings: Sequence[Finding]) -> Preparation:
    """Keeps an edition's findings, and how often each kind of difficulty stands in it."""
    packed = zlib.compress(json.dumps(to_data(findings), separators=(",", ":")).encode())
    studio = edition.studio_id
    kept, _ = Preparation.objects.update_or_create(
        edition=edition, defaults={"studio_id": studio, "packed": packed, "version": VERSION}
    )
    Difficulty.objects.filter(edition=edition).delete()
    Difficulty.objects.bulk_create(
        Difficulty(studio_id=studio, edition=edition, kind=kind, detail=detail, count=count)
        for (kind, detail), count in difficulties_in(findings).items()
    )
    return kept


@transaction.atomic
def survey_new(*, edition: Edition, score: Score) -> None:
    """Surveys music that has just come in, if it is not too long to wait for; what was found in other music of the
    edition is forgotten. The survey is a help: whatever goes wrong with it, the edition stands, and it is tried again
    when the list is opened."""
    Preparation.objects.filter(edition=edition).delete()
    Difficulty.objects.filter(edition=edition).delete()
    if len(score.notes) > AT_ONCE:
        return
    try:
        findings = survey(score)
    except Exception:
        log.exception("edition %s could not be surveyed", edition.pk)
    else:
        keep_survey(edition=edition, findings=findings)


def waiting(studio: Studio | None = None) -> QuerySet[Edition]:
    """The editions, of one studio or of all, whose findings are not kept, or were by an older survey."""
    editions = Edition.objects.exclude(preparation__version=VERSION).order_by("pk")
    return editions if studio is None else editions.filter(studio=studio)


def survey_waiting(studio: Studio | None = None, *, most: int | None = None) -> int:
    """Surveys what waits for it, `most` of it at a time; says how many editions are done. One that cannot be surveyed
    keeps no other waiting."""
    done = 0
    for edition in waiting(studio).defer("original", "packed_music").iterator(chunk_size=20):
        if done == most:
            break
        try:
            with transaction.atomic():
                findings_of(edition)
            done += 1
        except Exception:
            log.exception("edition %s could not be surveyed", edition.pk)
    return done


def difficulties_in(findings: Iterable[Finding]) -> Counter[tuple[str, str]]:
    """How often each kind of difficulty is met, by what the repertoire is searched for. Faults of a file are none."""
    return Counter((one.kind, difficulty_detail(one)) for one in findings if not one.is_fault)


def difficulty_detail(one: Finding) -> str:
    """ "3:2" whichever hand has the three; "" where a kind's own kinds are nothing to search for."""
    if one.kind == "cross-rhythm" and one.detail:
        right, left = (int(part) for part in one.detail.split(":"))
        shared = gcd(right, left)
        return f"{max(right, left) // shared}:{min(right, left) // shared}"
    return "" if one.kind in NO_DETAIL else one.detail


# What was looked at


def look_at(*, edition: Edition, key: str, at: datetime, passage: Passage | None = None) -> Looked:
    """Ticks a finding; with the passage that was made of it, if any."""
    made = {"passage": passage} if passage else {}
    row, _ = Looked.objects.update_or_create(
        edition=edition,
        key=key[:200],
        defaults=made,
        create_defaults={"studio_id": edition.studio_id, "looked_at": at, **made},
    )
    return row


def look_again(*, edition: Edition, key: str) -> None:
    """Takes the tick away. The passage that was made of the finding stays."""
    Looked.objects.filter(edition=edition, key=key[:200]).delete()


def switch_kinds(*, user: User, on: Iterable[str]) -> SurveyHabit:
    """Remembers which kinds of finding this teacher wants to see."""
    wanted = set(on)
    off = [kind for kind in KINDS if kind not in wanted]
    habit, _ = SurveyHabit.objects.update_or_create(user=user, defaults={"studio_id": user.studio_id, "off": off})
    return habit


def kinds_off(user: User) -> frozenset[str]:
    off = SurveyHabit.objects.filter(user=user).values_list("off", flat=True).first() or []
    return frozenset(kind for kind in off if kind in KINDS)


# From a finding to a passage


@transaction.atomic
def make_passage(*, edition: Edition, finding: Finding, at: datetime) -> tuple[Passage, str, bool]:
    """Marks the passage of a finding, begins the right kind of note on it, and ticks the finding. A finding that has a
    standing passage gives that one. Returns the passage, the place on its desk (an anchor), and whether it is new.
    Raises `KeyError` for a finding without notes."""
    there = Looked.objects.select_related("passage__edition__piece").filter(edition=edition, key=finding.key[:200])
    row = there.first()
    if row and row.passage and row.passage.removed_at is None:
        return row.passage, "", False
    first, last = ends_of(edition.score, finding)
    passage = mark_passage(edition=edition, first=first, last=last, hands=finding.hand)
    look_at(edition=edition, key=finding.key, at=at, passage=passage)
    return passage, begin_note(passage, finding), True


def ends_of(score: Score, finding: Finding) -> tuple[str, str]:
    """The first and last note of the passage that a finding asks for: graces come with the note they lead to, held
    notes with what is played meanwhile, and what returns with all its measures."""
    if not finding.notes:
        raise KeyError(finding.key)
    first, last = score.by_id[finding.notes[0]], score.by_id[finding.notes[-1]]
    whole = score.in_measures(finding.measure, finding.last_measure, finding.hand)
    if finding.kind in ("held", "recurrence") or finding.is_fault:
        struck = [note for note in whole if note.onset >= first.onset]
        last = struck[-1] if struck else last
    elif finding.kind == "grace":
        main = next((note for note in whole if not note.is_grace and note.onset == last.onset), None)
        last = main or last
    return first.id, last.id


def begin_note(passage: Passage, finding: Finding) -> str:
    """Begins the kind of note that a finding asks for, and says where on the desk it stands. Where none can be begun,
    the place for a cue."""
    if finding.kind in ORNAMENT_KINDS:
        return "ornaments"
    if finding.kind in CUE_KINDS:
        return "cues"
    try:
        if finding.kind == "cross-rhythm":
            return f"drill-{begin_drill(passage, finding)}"
        side = next(sides_of(finding.hand))
        if finding.kind in ("printed", "substitution"):
            return f"line-{noting.copy_printed(passage=passage, side=side).pk}"
        return f"line-{noting.write_fingering(passage=passage, side=side).pk}"
    except Refusal:
        return "cues"


def begin_drill(passage: Passage, finding: Finding) -> int:
    """A drill of the first span of the cross-rhythm, from half its tempo up to it. Raises `Refusal`."""
    score = passage.edition.score
    part = replace(
        score,
        measures=score.measures[finding.measure : finding.last_measure + 1],
        notes=score.in_measures(finding.measure, finding.last_measure),
    )
    struck = set(finding.notes)
    for crossing in find(part):
        if any(name in struck for stroke in (*crossing.upper_notes, *crossing.lower_notes) for name in stroke):
            goal = goal_tempo(score, finding)
            drill = noting.plan_drill(
                passage=passage,
                start=crossing.start,
                end=crossing.end,
                tempo_now=max(SLOWEST, goal // 2),
                tempo_goal=goal,
            )
            return drill.pk
    raise Refusal("There is no cross-rhythm here.")


def goal_tempo(score: Score, finding: Finding) -> int:
    """The edition's tempo there, in whole quarters a minute; an ordinary one where it has none."""
    marks = [mark.quarters for mark in score.tempos if mark.onset <= finding.onset]
    marks = marks or [mark.quarters for mark in score.tempos[:1]]
    return min(FASTEST, max(SLOWEST, round(marks[-1]))) if marks else ORDINARY_TEMPO
