"""Finding things in a large repertoire of 2,000 pieces and 50,000 notes, beside reading all rows and beside a tenth."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import Q

from scores.models import Cue, Edition, Passage, Piece, SearchLine, Unsearched
from scores.searching import catch_up, find
from studio.models import Studio
from tests import make
from tests.bench.measure import Row, medians, milliseconds

PIECES, PASSAGES, CUES = 2000, 5, 5  # passages of a piece, cues of a passage
WORDS = ("wrist", "turn", "loose", "sing", "thumb", "under", "listen", "bass", "slow", "breath", "shoulder", "light")
COMPOSERS = ("Ada Brandt", "Jorun Hauge", "Émile Sorel", "Тимур Орлов")
SCANNED = 0.5  # of the time that reading every row takes
GROWTH = 10.0  # ten times the rows: no worse than linear, and what is found grows too


def rows() -> Iterator[Row]:
    studios = [laid_out(pieces) for pieces in (PIECES // 10, PIECES)]
    small, large = (studio.pk for studio in studios)
    note = f"{SearchLine.objects.filter(studio=large).count()} lines"
    for asked in ("sorel thumb 17", "study 1234", "орл wrist"):
        few, many = medians(lambda asked=asked: find(small, asked), lambda asked=asked: find(large, asked))
        scanned = medians(lambda asked=asked: by_reading(large, asked))[0]
        yield Row(f"finding “{asked}” in {PIECES} pieces", many, "reading every row", scanned, SCANNED, note=note)
        yield Row(f"the same beside {PIECES // 10} pieces", many, "a tenth of the rows", few, GROWTH)
    Unsearched.objects.create(studio_id=large, piece=Piece.objects.filter(studio=large).first())
    one = milliseconds(lambda: catch_up(large))
    yield Row("making one piece findable again", one, "limit", 50, 1)


def laid_out(pieces: int) -> Studio:
    """A studio with so many pieces, their passages and cues, all findable."""
    studio = make.studio(name=f"{pieces} pieces")
    made = Piece.objects.bulk_create(
        Piece(studio=studio, title=f"Study {number}", composer=COMPOSERS[number % 4], catalogue=f"op. {number % 90}")
        for number in range(pieces)
    )
    editions = Edition.objects.bulk_create(
        Edition(
            studio=studio,
            piece=piece,
            label="print",
            format="x",
            packed_music=b"",
            packed_score=b"",
            measures=1,
            notes=1,
        )
        for piece in made
    )
    passages = Passage.objects.bulk_create(
        Passage(
            studio=studio, edition=edition, hands="both", first_note="a", last_note="b", first_measure=number,
            last_measure=number, first_number=str(number), last_number=str(number), first_beat="1", last_beat="1",
        )
        for edition in editions
        for number in range(PASSAGES)
    )  # fmt: skip
    Cue.objects.bulk_create(
        Cue(studio=studio, passage=passage, text=words(place * CUES + number), measure=0)
        for place, passage in enumerate(passages)
        for number in range(CUES)
    )
    Unsearched.objects.bulk_create(Unsearched(studio=studio, piece=piece) for piece in made)
    catch_up(studio.pk)
    return studio


def words(number: int) -> str:
    return " ".join(WORDS[(number * step + step) % len(WORDS)] for step in (1, 3, 5)) + f" {number % 100}"


def by_reading(studio: int, asked: str) -> list[int]:
    """What is found without an index: every line is looked through for each word."""
    lines = SearchLine.objects.filter(studio_id=studio)
    for word in asked.split():
        lines = lines.filter(Q(words__contains=word))
    return list(lines.values_list("piece", flat=True).distinct())
