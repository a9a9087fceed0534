"""Music invented for the tests, as MusicXML text: small enough to check by eye."""

NOTE_TYPES = {
    "half.": 36,
    "half": 24,
    "quarter.": 18,
    "quarter": 12,
    "eighth": 6,
    "16th": 3,
}  # in twelfths of a quarter


def pitch(name: str) -> str:
    """ "Bb4" -> a <pitch>."""
    alter = {"b": -1, "#": 1}.get(name[1:2])
    octave = name[-1]
    return (
        f"<pitch><step>{name[0]}</step>"
        + (f"<alter>{alter}</alter>" if alter else "")
        + f"<octave>{octave}</octave></pitch>"
    )


def note(name: str, kind: str, *, staff: int = 1, extra: str = "", chord: bool = False, duration: int = 0) -> str:
    """One note; `kind` a note type with an optional dot, `extra` is put inside <notations>."""
    dots = "<dot/>" if kind.endswith(".") else ""
    tie = '<tie type="start"/>' if "tied_start" in extra else '<tie type="stop"/>' if "tied_stop" in extra else ""
    notations = extra.replace("tied_start", '<tied type="start"/>').replace("tied_stop", '<tied type="stop"/>')
    modification = ""
    if duration:
        modification = (
            "<time-modification><actual-notes>4</actual-notes><normal-notes>3</normal-notes></time-modification>"
        )
    return (
        "<note>"
        + ("<chord/>" if chord else "")
        + pitch(name)
        + f"<duration>{duration or NOTE_TYPES[kind]}</duration>{tie}<voice>{staff}</voice>"
        + f"<type>{kind.rstrip('.')}</type>{dots}{modification}<staff>{staff}</staff>"
        + (f"<notations>{notations}</notations>" if notations else "")
        + "</note>"
    )


def grace(name: str, *, slash: bool = True) -> str:
    return (
        f'<note><grace slash="{"yes" if slash else "no"}"/>{pitch(name)}'
        "<voice>1</voice><type>eighth</type><staff>1</staff></note>"
    )


def rest(duration: int, *, staff: int = 1) -> str:
    return f"<note><rest/><duration>{duration}</duration><voice>{staff}</voice><staff>{staff}</staff></note>"


def finger(text: str) -> str:
    return f"<technical><fingering>{text}</fingering></technical>"


TURN = "<ornaments><turn/></ornaments>"
BACK = "<backup><duration>36</duration></backup>"
ATTRIBUTES = (
    "<attributes><divisions>12</divisions><key><fifths>-3</fifths></key>"
    "<time><beats>3</beats><beat-type>4</beat-type></time><staves>2</staves>"
    '<clef number="1"><sign>G</sign><line>2</line></clef><clef number="2"><sign>F</sign><line>4</line></clef>'
    "</attributes>"
)


def score(measures: list[str], *, title: str, composer: str = "") -> str:
    """Measures (the inside of each) as a whole file; the first is numbered 0 when it says so with a leading '*'."""
    pickup = measures[0].startswith("*")
    body = ""
    for index, inside in enumerate(measures):
        number = index if pickup else index + 1
        implicit = ' implicit="yes"' if pickup and index == 0 else ""
        body += f'<measure number="{number}"{implicit}>{inside.lstrip("*")}</measure>'
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        f"<work><work-title>{title}</work-title></work>"
        f'<identification><creator type="composer">{composer}</creator></identification>'
        '<part-list><score-part id="P1"><part-name>Piano</part-name></score-part></part-list>'
        f'<part id="P1">{body}</part></score-partwise>'
    )


# A pick-up, a grace, a turn, a chord, a tie, four against three, and two printed fingers.
LAENDLER = score(
    [
        "*"
        + ATTRIBUTES
        + note("Bb4", "quarter", extra=finger("2"))
        + "<backup><duration>12</duration></backup>"
        + rest(12, staff=2),
        note("Bb4", "eighth")
        + grace("C5")
        + note("Bb4", "eighth")
        + note("Eb5", "eighth", extra=finger("5"))
        + note("G5", "eighth")
        + note("F5", "quarter")
        + BACK
        + note("Eb3", "quarter", staff=2)
        + note("G3", "quarter", staff=2)
        + note("Bb3", "quarter", staff=2, chord=True)
        + note("G3", "quarter", staff=2)
        + note("Bb3", "quarter", staff=2, chord=True),
        "".join(note(name, "quarter", duration=9) for name in ("C5", "Eb5", "Ab5", "G5"))
        + BACK
        + note("Ab2", "quarter", staff=2)
        + note("Eb3", "quarter", staff=2)
        + note("C3", "quarter", staff=2),
        note("F5", "quarter.", extra=TURN)
        + note("Eb5", "eighth")
        + note("D5", "quarter")
        + note("Bb4", "quarter", chord=True)
        + BACK
        + note("Bb2", "half.", staff=2, extra="tied_start"),
        note("Eb5", "half.") + BACK + note("Bb2", "quarter", staff=2, extra="tied_stop") + note("Eb3", "half", staff=2),
    ],
    title="Ländler in E-flat",
    composer="Invented",
)
