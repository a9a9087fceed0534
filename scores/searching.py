"""Finding things in the repertoire again, by any word of them: one interface, whichever the database.

A verb that changes words says so (`piece_changed`, `words_changed`); the next search makes the lines of that piece anew
first. SQLite asks an FTS5 table, PostgreSQL a GIN index over the same words (migration `0002_search`); both give the
same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from functools import lru_cache

from django.db import connection, transaction
from django.db.models import BooleanField, QuerySet
from django.db.models.expressions import RawSQL

from scores.folding import asked_words, words_of
from scores.models import Cue, Fingering, OrnamentChoice, Passage, Piece, RhythmDrill, SearchLine, Unsearched

AT_ONCE = 200  # pieces whose lines are made in one go
SHOWN = 300  # signs of a line
LETTERS = 10**100  # above every number in a title
SHOWN_NOTES = 3  # lines of one piece
Kind = SearchLine.Kind


# Keeping


def piece_changed(piece: Piece) -> None:
    """Says that words of a piece changed, or what is marked in it."""
    Unsearched.objects.create(piece=piece, studio_id=piece.studio_id)


def words_changed(passage: Passage, *words: str) -> None:
    """Says that something was written on a passage, changed or taken away. `words` are what it says or said; where all
    are empty there is nothing to find."""
    if any(words):
        Unsearched.objects.create(piece_id=passage.edition.piece_id, studio_id=passage.studio_id)


@transaction.atomic
def catch_up(studio: int) -> int:
    """Makes the lines of all pieces that changed; says how many there were. What changes meanwhile waits for the next
    time: the rows that are seen here are the ones taken away."""
    waiting = list(Unsearched.objects.filter(studio_id=studio).select_for_update(skip_locked=skips_locked()))
    pieces = sorted({row.piece_id for row in waiting})
    for start in range(0, len(pieces), AT_ONCE):
        write_lines(pieces[start : start + AT_ONCE])
    if waiting:
        Unsearched.objects.filter(pk__in=[row.pk for row in waiting]).delete()
    return len(pieces)


def skips_locked() -> bool:
    return connection.features.has_select_for_update_skip_locked


def write_lines(pieces: list[int]) -> None:
    """Makes the lines of these pieces anew, in as many queries whatever their number. The pieces are held meanwhile:
    two workers at once would each take away the old lines and each write the new ones."""
    rows = list(Piece.objects.filter(pk__in=pieces).order_by("pk").select_for_update(no_key=True))
    SearchLine.objects.filter(piece_id__in=pieces).delete()
    notes = notes_of(pieces)
    SearchLine.objects.bulk_create(
        (line for piece in rows for line in lines_of(piece, notes[piece.pk])), batch_size=500
    )


Noted = tuple[Kind, Passage, str]


def notes_of(pieces: list[int]) -> dict[int, list[Noted]]:
    """What stands on the passages of the pieces, in words."""
    found: dict[int, list[Noted]] = defaultdict(list)
    passages = {
        passage.pk: passage
        for passage in Passage.objects.standing()
        .filter(edition__piece__in=pieces)
        .select_related("edition")
        .defer("edition__original", "edition__packed_music", "edition__packed_score")
    }
    for passage in passages.values():
        found[passage.edition.piece_id].append((Kind.PASSAGE, passage, passage.name))
    for kind, passage, text in written_on(passages):
        found[passages[passage].edition.piece_id].append((kind, passages[passage], text))
    return found


def written_on(passages: Iterable[int]) -> Iterator[tuple[Kind, int, str]]:
    """(kind, passage, words) of every standing note that has words."""
    keys = list(passages)
    for cue in Cue.objects.standing().filter(passage__in=keys).values_list("passage", "text", "remark"):
        yield Kind.CUE, cue[0], " ".join(filter(None, cue[1:]))
    for model in (Fingering, OrnamentChoice, RhythmDrill):
        remarks = model.objects.standing().filter(passage__in=keys).exclude(remark="")
        for passage, remark in remarks.values_list("passage", "remark"):
            yield Kind.REMARK, passage, remark


def lines_of(piece: Piece, notes: Iterable[Noted]) -> Iterator[SearchLine]:
    """The line of the piece itself, and one for each thing written on it. Every line has the piece's words too: "minuet
    thumb" finds the cue about the thumb in the minuet."""
    own = f"{piece.title} {piece.composer} {piece.catalogue}"
    yield line(piece, Kind.PIECE, None, piece.title, f"{own} {piece.level} {piece.remark}")
    for kind, passage, text in notes:
        yield line(piece, kind, passage, text or passage.where, f"{own} {passage.name} {text}")


def line(piece: Piece, kind: Kind, passage: Passage | None, shown: str, words: str) -> SearchLine:
    return SearchLine(
        studio_id=piece.studio_id,
        piece=piece,
        passage=passage,
        kind=kind,
        shown=" ".join(shown.split())[:SHOWN],
        words=" ".join([studio_word(piece.studio_id), *words_of(words)]),
    )


def studio_word(studio: int) -> str:
    """A word that no text can have, since letters and figures are kept apart: so the index itself finds the rows of one
    studio, however many others there are."""
    return f"studio{studio}"


# Finding


def find(studio: int, text: str) -> set[int] | None:
    """The keys of the pieces with every word of the text, in what they are called or in one thing written on them. None
    when nothing was asked."""
    asked = asked_words(text)
    if not asked:
        return None
    if Unsearched.objects.filter(studio_id=studio).exists():
        catch_up(studio)
    return set(matching(studio, asked).values_list("piece", flat=True).distinct())


def by_title(pieces: QuerySet[Piece]) -> list[int]:
    """The keys of the pieces as a catalogue has them: by title, then by composer, an accented letter with its plain
    one, no. 2 before no. 10."""
    rows = pieces.order_by().values_list("title", "composer", "pk")
    return [row[2] for row in sorted(rows, key=lambda row: (shelf_mark(row[0]), shelf_mark(row[1]), row[2]))]


@lru_cache(maxsize=16_384)
def shelf_mark(words: str) -> tuple[tuple[int, str], ...]:
    """What words are sorted by: figures by their value and before letters."""
    return tuple((int(word), "") if word.isdecimal() else (LETTERS, word) for word in words_of(words))


def found_on(studio: int, text: str, pieces: Collection[int]) -> dict[int, list[SearchLine]]:
    """What was found on the passages of these pieces, a few lines of each. A piece that is called so is found whole:
    its passages, which carry its words, would only repeat it."""
    asked = asked_words(text)
    hits = matching(studio, asked).filter(piece__in=pieces) if asked else SearchLine.objects.none()
    lines = {piece: [] for piece in hits.filter(kind=Kind.PIECE).values_list("piece", flat=True)}
    named = set(lines)
    for hit in hits.exclude(kind=Kind.PIECE).exclude(piece__in=named).select_related("passage").order_by("piece", "pk"):
        shown = lines.setdefault(hit.piece_id, [])
        if len(shown) < SHOWN_NOTES:
            shown.append(hit)
    return lines


def matching(studio: int, asked: list[str]) -> QuerySet[SearchLine]:
    """The lines of the studio with a word that begins so for each that is asked. A number must be the whole number,
    except the one that is typed last."""
    terms = [(word, not word.isnumeric() or place == len(asked) - 1) for place, word in enumerate(asked)]
    rows = SearchLine.objects.filter(studio_id=studio)
    if connection.vendor == "postgresql":
        query = " & ".join([quoted(studio_word(studio)), *(f"{quoted(word)}{':*' * begins}" for word, begins in terms)])
        return rows.filter(
            RawSQL(
                "array_to_tsvector(string_to_array(scores_searchline.words, ' ')) @@ %s::tsquery",
                [query],
                output_field=BooleanField(),
            )
        )
    query = " AND ".join([f'"{studio_word(studio)}"', *(f'"{word}"{"*" * begins}' for word, begins in terms)])
    return rows.filter(pk__in=RawSQL("SELECT rowid FROM scores_searchwords WHERE scores_searchwords MATCH %s", [query]))


def quoted(word: str) -> str:
    return "'" + word.replace("'", "''").replace("\\", "\\\\") + "'"
