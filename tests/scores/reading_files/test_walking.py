"""Canonical MusicXML to notation: time, hands, signs, marks."""

from fractions import Fraction

import pytest
from lxml import etree

from scores.music.notation import Grace, Ornament, Tuplet
from scores.reading_files.reading import read
from scores.reading_files.walking import score_of
from tests.music import ATTRIBUTES, BACK, finger, grace, note, rest
from tests.scores.reading_files.samples import PLAIN, measure, one_staff, part, piano, three_quarters, whole


def score(*bodies: str, **more):
    return read("test.xml", piano(*bodies, **more)).score


def first(extra: str, **more):
    """The first note of a measure, with these notations on it."""
    return score(note("C5", "quarter", extra=extra) + three_quarters("D5", "E5"), **more).notes[0]


def test_backup_and_forward_move_time():
    forward = "<forward><duration>12</duration></forward>"
    notes = score(
        note("C5", "half") + "<backup><duration>12</duration></backup>" + note("E5", "quarter") + forward
    ).notes
    assert [(note.pitch.name, note.onset) for note in notes] == [("C", 0), ("E", 1)]


def test_a_chord_stands_at_the_onset_of_its_first_note():
    notes = score(three_quarters("C5", "D5") + note("F5", "quarter", chord=True) + note("G5", "quarter")).notes
    assert [(note.pitch.name, note.onset) for note in notes] == [("C", 0), ("D", 1), ("F", 1), ("G", 2)]


def test_divisions_may_change_within_a_part():
    body = note("C5", "quarter") + "<attributes><divisions>480</divisions></attributes>"
    body += note("D5", "quarter").replace(">12<", ">480<") + note("E5", "quarter").replace(">12<", ">480<")
    notes = score(body, note("F5", "quarter").replace(">12<", ">160<") + rest(1280)).notes
    assert [(note.onset, note.length) for note in notes] == [(0, 1), (1, 1), (2, 1), (3, Fraction(1, 3))]


def test_measures_follow_each_other_by_what_sounds_in_them():
    measures = score(three_quarters("C5", "D5", "E5"), "", three_quarters("C5", "D5", "E5")).measures
    assert [(measure.start, measure.length) for measure in measures] == [(0, 3), (3, 3), (6, 3)]


@pytest.mark.parametrize(
    ("time", "beats", "beat_type"),
    [
        ("<beats>6</beats><beat-type>8</beat-type>", 6, 8),
        ("<beats>3+2</beats><beat-type>8</beat-type>", 5, 8),
        ("<beats>3</beats><beat-type>4</beat-type><beats>1</beats><beat-type>8</beat-type>", 7, 8),
        ("<senza-misura/>", 3, 4),
        ("<beats>x</beats><beat-type>8</beat-type>", 4, 4),  # what cannot be read leaves common time
    ],
)
def test_time_signatures(time: str, beats: int, beat_type: int):
    data = PLAIN.decode().replace("<beats>3</beats><beat-type>4</beat-type>", time)
    bar = read("time.xml", data.encode()).score.measures[0]
    assert (bar.beats, bar.beat_type) == (beats, beat_type)


def test_numbers_of_measures_are_as_printed():
    data = whole(part(measure(one_staff(three_quarters("C5", "D5", "E5")), "12a") + measure("", "X1")))
    assert [measure.number for measure in read("n.xml", data).score.measures] == ["12a", "X1"]


def test_repeats_and_endings():
    def bar(location: str, inside: str) -> str:
        return f'<barline location="{location}">{inside}</barline>'

    body = three_quarters("C5", "D5", "E5")
    measures = score(
        bar("left", '<repeat direction="forward"/>') + body,
        bar("left", '<ending number="1, 2" type="start"/>') + body,
        body + bar("right", '<ending number="1, 2" type="stop"/><repeat direction="backward"/>'),
        bar("left", '<ending number="3" type="start"/>')
        + body
        + bar("right", '<ending number="3" type="discontinue"/>'),
        body,
    ).measures
    assert [measure.repeat_start for measure in measures] == [True, False, False, False, False]
    assert [measure.repeat_end for measure in measures] == [False, False, True, False, False]
    assert [measure.ending for measure in measures] == ["", "1, 2", "1, 2", "3", ""]


def test_graces_count_within_their_group_and_a_grace_chord_counts_once():
    chord = grace("F5").replace("<grace", "<grace", 1).replace("/><pitch>", "/><chord/><pitch>")
    body = (
        grace("D5") + grace("E5", slash=False) + chord + three_quarters("C5") + grace("A4") + three_quarters("C5", "C5")
    )
    graces = [(note.pitch.name, note.onset, note.length, note.grace) for note in score(body).notes if note.grace]
    assert graces == [
        ("D", 0, 0, Grace(0, slash=True)),
        ("E", 0, 0, Grace(1)),
        ("F", 0, 0, Grace(1, slash=True)),
        ("A", 1, 0, Grace(0, slash=True)),
    ]


def test_what_a_grace_steals():
    marked = grace("D5").replace(
        '<grace slash="yes"/>', '<grace steal-time-previous="25" steal-time-following="12.5" make-time="3"/>'
    )
    found = score(marked + three_quarters("C5", "D5", "E5")).notes[0].grace
    assert found == Grace(0, False, Fraction(25), Fraction(25, 2), Fraction(1, 4))


def test_ties_by_sound_or_else_by_sign():
    tied = score(
        note("C5", "half.", extra="tied_start"), note("C5", "half.", extra='<tied type="stop"/><tied type="start"/>')
    ).notes
    assert [(note.tie_start, note.tie_stop) for note in tied] == [(True, False), (True, True)]


@pytest.mark.parametrize(
    ("fingers", "printed"),
    [
        ("<fingering>3</fingering>", "3"),
        ('<fingering>4</fingering><fingering substitution="yes">5</fingering>', "4-5"),
        ('<fingering>2</fingering><fingering alternate="yes">3</fingering>', "2"),
        ('<fingering alternate="yes">3</fingering>', ""),
        ("<fingering/>", ""),
        ("<fingering> 1 </fingering>", "1"),
        ("<fingering>4-5</fingering>", "4-5"),
    ],
)
def test_printed_fingers(fingers: str, printed: str):
    assert first(f"<technical>{fingers}</technical>").printed == printed


def test_ornaments_with_their_attributes_and_accidentals():
    found = first(
        '<ornaments><trill-mark start-note="main" beats="6" default-y="12" color="#000000"/>'
        '<accidental-mark placement="above">sharp</accidental-mark></ornaments>'
        '<ornaments><tremolo type="single">3</tremolo></ornaments>'
        '<arpeggiate direction="down" number="1"/>'
    )
    assert found.ornaments == (
        Ornament("trill-mark", (("accidental-mark-above", "sharp"), ("beats", "6"), ("start-note", "main"))),
        Ornament("tremolo", (("marks", "3"), ("type", "single"))),
        Ornament("arpeggiate", (("direction", "down"), ("number", "1"))),
    )


@pytest.mark.parametrize(
    "kind", ["turn", "inverted-turn", "delayed-turn", "mordent", "inverted-mordent", "schleifer", "shake"]
)
def test_each_kind_of_ornament_keeps_musicxmls_name(kind: str):
    assert [sign.kind for sign in first(f"<ornaments><{kind}/></ornaments>").ornaments] == [kind]


def test_tuplets_hold_the_product_of_nested_ones():
    body = "".join(note("C5", "quarter", duration=9) for _ in range(4))
    assert {note.tuplet for note in score(body).notes} == {Tuplet(4, 3)}
    nested = body.replace("<actual-notes>4", "<actual-notes>15").replace("<normal-notes>3", "<normal-notes>8")
    assert {note.tuplet for note in score(nested).notes} == {Tuplet(15, 8)}


def direction(inside: str, sound: str = "") -> str:
    return f"<direction><direction-type>{inside}</direction-type>{sound}</direction>"


@pytest.mark.parametrize(
    ("mark", "quarters"),
    [
        ("<beat-unit>quarter</beat-unit><per-minute>120</per-minute>", 120),
        ("<beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>60</per-minute>", 90),
        ("<beat-unit>half</beat-unit><per-minute>c. 66</per-minute>", 132),
        ("<beat-unit>eighth</beat-unit><per-minute>92.5</per-minute>", Fraction(185, 4)),
    ],
)
def test_metronome_marks_in_quarters_a_minute(mark: str, quarters: Fraction):
    body = direction(f"<metronome>{mark}</metronome>", '<sound tempo="7"/>') + three_quarters("C5", "D5", "E5")
    assert [(tempo.onset, tempo.quarters) for tempo in score(body).tempos] == [(0, quarters)]


def test_a_tempo_for_playing_counts_where_no_mark_is_written():
    body = three_quarters("C5") + '<sound tempo="84"/>' + three_quarters("D5", "E5")
    assert [(tempo.onset, tempo.quarters) for tempo in score(body).tempos] == [(1, 84)]
    senseless = "".join(f'<sound tempo="{tempo}"/>' for tempo in ("0", "-3", "1e9", "99999", "quick"))
    assert score(senseless + three_quarters("C5", "D5", "E5")).tempos == ()


def test_cue_notes_are_not_the_players():
    cue = note("C5", "quarter").replace("<note>", "<note><cue/>")
    assert [note.onset for note in score(cue + three_quarters("D5", "E5")).notes] == [1, 2]


def test_a_note_without_a_duration_lasts_as_its_head_says():
    bare = note("C5", "quarter.").replace("<duration>18</duration>", "<duration>0</duration>")
    notes = score(bare + note("D5", "quarter.")).notes
    assert [(note.onset, note.length) for note in notes] == [(0, Fraction(3, 2)), (Fraction(3, 2), Fraction(3, 2))]


def test_notes_that_collide_are_both_kept():
    body = note("C5", "half.") + BACK + three_quarters("C5", "C5", "C5").replace("<voice>1", "<voice>2")
    assert len(score(body).notes) == 4


def test_rests_have_their_hand():
    rests = score(rest(36) + BACK + rest(12, staff=2) + three_quarters("C3", "D3", staff=2)).rests
    assert [(rest.onset, rest.length, rest.side) for rest in rests] == [(0, 3, "right"), (0, 1, "left")]


@pytest.mark.parametrize(
    ("head", "title", "composer"),
    [
        ("<work><work-title>Suite</work-title></work><movement-title>Air</movement-title>", "Suite: Air", ""),
        ("<movement-title>  Air\n  in D </movement-title>", "Air in D", ""),
        (
            '<identification><creator type="lyricist">L</creator><creator type="composer">C</creator></identification>',
            "",
            "C",
        ),
        ("<credit><credit-type>title</credit-type><credit-words>Air</credit-words></credit>", "Air", ""),
        (
            '<credit page="1"><credit-words justify="center" valign="top" font-size="12">Small</credit-words></credit>'
            '<credit page="1"><credit-words justify="center" valign="top" font-size="24">Large</credit-words></credit>'
            '<credit page="1"><credit-words justify="right" valign="top">Somebody</credit-words></credit>',
            "Large",
            "Somebody",
        ),
    ],
)
def test_title_and_composer(head: str, title: str, composer: str):
    found = score(three_quarters("C5", "D5", "E5"), head=head)
    assert (found.title, found.composer) == (title, composer)


def test_only_well_formed_music_is_walked():
    with pytest.raises(etree.XMLSyntaxError):
        score_of(b"<score-partwise>")
    assert score_of(PLAIN).notes[0].pitch.name == "C"


def test_fingers_stand_on_single_notes_of_a_chord():
    body = note("C5", "half.", extra=finger("1")) + note("E5", "half.", chord=True, extra=finger("3"))
    assert [note.printed for note in score(ATTRIBUTES + body).notes] == ["1", "3"]


def test_words_are_kept_where_they_stand_their_pieces_joined():
    direction = (
        "<direction><direction-type><words>poco</words></direction-type>"
        "<direction-type><words> rit. </words></direction-type></direction>"
    )
    offset = direction.replace("</direction>", "<offset>6</offset></direction>")
    words = score(note("C5", "quarter") + direction + note("D5", "quarter") + offset + note("E5", "quarter")).words
    assert [(one.onset, one.text) for one in words] == [(1, "poco rit."), (Fraction(5, 2), "poco rit.")]


def test_a_key_and_a_metre_that_change_inside_a_measure_are_kept_as_changes():
    key = "<attributes><key><fifths>2</fifths></key></attributes>"
    time = "<attributes><time><beats>2</beats><beat-type>4</beat-type></time></attributes>"
    inside = score(note("C5", "quarter") + key + note("D5", "half"), time + note("E5", "half"))
    assert [(one.onset, one.kind, one.before, one.after) for one in inside.changes] == [(1, "key", "-3", "2")]
    assert [measure.fifths for measure in inside.measures] == [-3, 2]
    assert [measure.beats for measure in inside.measures] == [3, 2]
