"""Bringing a score in, reading it, marking passages, entering one by hand: in a real browser."""

import re
import threading

import pytest
from playwright.sync_api import expect

from scores.models import Edition, Passage, Piece
from scores.repertoire import read_upload
from tests import make
from tests.music import LAENDLER, note, score

pytestmark = pytest.mark.browser

HEAD = (
    "<attributes><divisions>12</divisions><time><beats>2</beats><beat-type>4</beat-type></time><staves>2</staves>"
    '<clef number="1"><sign>G</sign><line>2</line></clef><clef number="2"><sign>F</sign><line>4</line></clef>'
    "</attributes>"
)
BAR = (
    note("C5", "quarter")
    + note("E5", "quarter")
    + "<backup><duration>24</duration></backup>"
    + note("C3", "half", staff=2)
)
LONG = score([HEAD + BAR] + [BAR] * 199, title="Long")
FILE = {"name": "laendler.musicxml", "mimeType": "application/xml", "buffer": LAENDLER.encode()}


@pytest.fixture
def edition(people):
    return people.edition


def open_edition(page, edition):
    """The page of an edition, engraved for this window."""
    page.goto(f"/editions/{edition.pk}/")
    expect(page.locator("g.note[tabindex='0']")).to_have_count(1)
    settled = (
        "() => Number(document.getElementById('leaves').dataset.width) <= document.querySelector('.probe').clientWidth"
    )
    page.wait_for_function(settled)
    page.wait_for_load_state("networkidle")


def ids(edition, side):
    return [note.id for note in edition.score.notes if note.side == side]


def click_note(page, note_id):
    box = page.locator(f"g.note[data-note='{note_id}'] use").first.bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


# Sending


def test_sending_shows_its_steps_and_leads_to_the_engraved_score(page, people, enter, monkeypatch):
    seen, go_on = threading.Event(), threading.Event()

    def slowly(*, upload, name, data):
        """The real reading, held at its end until the page has shown where it is."""
        read = read_upload(upload=upload, name=name, data=data)
        type(upload).objects.filter(pk=upload.pk).update(step="Naming the notes", percent=50)
        seen.set()
        go_on.wait(10)
        return read

    monkeypatch.setattr("scores.uploading.read_upload", slowly)
    enter(page, people.teacher)
    page.goto("/repertoire/")
    page.get_by_role("link", name="Add a piece").click()
    page.get_by_label("Score file").set_input_files(FILE)
    page.get_by_role("button", name="Add the piece").click()
    expect(page.get_by_role("progressbar", name="Naming the notes")).to_have_attribute("value", re.compile("66.*"))
    assert seen.is_set()
    expect(page.get_by_role("button", name="Add the piece")).to_be_disabled()
    go_on.set()
    page.wait_for_url(re.compile(r"/editions/\d+/$"))
    expect(page.get_by_role("heading", name="Ländler in E-flat")).to_be_visible()
    assert page.locator("g.note").count() == LAENDLER.count("<pitch>")


def test_a_refused_file_is_explained_and_nothing_typed_is_lost(page, people, enter, axe):
    enter(page, people.teacher)
    page.goto("/repertoire/new/")
    page.get_by_label("Title").fill("Evening Song")
    page.get_by_label("Score file").set_input_files({"name": "a.mxl", "mimeType": "", "buffer": b"%PDF-1.7 no score"})
    page.get_by_role("button", name="Add the piece").click()
    expect(page.locator("#id_file_error")).to_contain_text("PDF")
    expect(page.get_by_label("Title")).to_have_value("Evening Song")
    axe(page)
    page.get_by_label("Score file").set_input_files(FILE)
    page.get_by_role("button", name="Add the piece").click()
    page.wait_for_url(re.compile(r"/editions/\d+/$"))
    assert Piece.objects.get().title == "Evening Song"


def test_a_dropped_file_is_taken(page, people, enter):
    enter(page, people.teacher)
    page.goto("/repertoire/new/")
    dropped = page.evaluate_handle(
        "text => { const data = new DataTransfer(); data.items.add(new File([text], 'dropped.xml')); return data; }",
        LAENDLER,
    )
    page.dispatch_event("[data-drop]", "drop", {"dataTransfer": dropped})
    page.get_by_role("button", name="Add the piece").click()
    page.wait_for_url(re.compile(r"/editions/\d+/$"))
    assert Edition.objects.get().file_name == "dropped.xml"


# Marking


def test_a_passage_is_marked_by_clicking_its_first_and_last_note(page, people, enter, edition, axe):
    enter(page, people.teacher)
    open_edition(page, edition)
    right = ids(edition, "right")
    click_note(page, right[1])
    expect(page.locator("#range-words")).to_have_text("From measure 1, beat 1. Now the last note.")
    click_note(page, right[9])
    expect(page.locator("#range-words")).to_have_text("measures 1–2, right hand, beat 1 to beat 2½")
    axe(page)
    page.get_by_label("Name, if it has one").fill("The leap")
    page.get_by_role("button", name="Mark this passage").click()
    page.wait_for_url(re.compile(r"/passages/\d+/"))
    passage = Passage.objects.get()
    assert (passage.first_note, passage.last_note, passage.hands) == (right[1], right[9], "right")
    assert passage.name == "The leap"


def test_a_passage_is_marked_with_the_keyboard_alone(page, people, enter, edition):
    enter(page, people.teacher)
    open_edition(page, edition)
    page.locator("g.note[tabindex='0']").focus()
    here = page.locator("#note-here")
    expect(here).to_have_text("measure 0, beat 3, right hand, B flat 4")
    page.keyboard.press("ArrowRight")
    expect(here).to_have_text("measure 1, beat 1, right hand, B flat 4")
    page.keyboard.press("ArrowRight")
    expect(here).to_have_text("measure 1, beat 1½, right hand, grace note C 5")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowDown")
    expect(here).to_have_text("measure 1, beat 1, left hand, E flat 3")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    expect(here).to_have_text("measure 1, beat 2, left hand, B flat 3")
    page.keyboard.press("Space")
    expect(page.locator("#range-words")).to_have_text("measure 1, both hands, beat 1 to beat 2")
    page.keyboard.press("l")
    expect(page.locator("#range-words")).to_have_text("measure 1, left hand, beat 1 to beat 2")
    page.keyboard.press("m")
    page.wait_for_url(re.compile(r"/passages/\d+/"))
    passage = Passage.objects.get()
    assert (passage.first_beat, passage.last_beat, passage.hands) == ("1", "2", "left")


def test_only_one_note_of_the_page_can_be_reached_by_tab_and_escape_lets_the_range_go(page, people, enter, edition):
    enter(page, people.teacher)
    open_edition(page, edition)
    right = ids(edition, "right")
    click_note(page, right[2])
    click_note(page, right[5])
    expect(page.locator("g.note[tabindex='0']")).to_have_count(1)
    expect(page.locator("g.note[aria-pressed='true']")).to_have_count(2)
    expect(page.locator(".range-mark")).to_have_count(1)
    page.keyboard.press("Escape")
    expect(page.locator("g.note[aria-pressed='true']")).to_have_count(0)
    expect(page.locator(".range-mark")).to_have_count(0)


def test_a_passage_is_marked_by_touch_on_a_phone_where_the_music_is_engraved_anew(phone, people, enter, edition, axe):
    enter(phone, people.teacher)
    open_edition(phone, edition)
    drawn, shown = phone.eval_on_selector(
        "svg.engraving", "one => [one.width.baseVal.value, one.getBoundingClientRect().width]"
    )
    assert shown == pytest.approx(drawn, rel=0.02)  # as it was engraved, not shrunk
    assert phone.locator("svg.engraving").count() > 1
    right = ids(edition, "right")
    for one in (right[1], right[3]):
        box = phone.locator(f"g.note[data-note='{one}'] use").first.bounding_box()
        phone.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(phone.locator("#range-words")).to_contain_text("measure 1, right hand")
    axe(phone)


def test_a_range_survives_turning_the_phone(phone, people, enter, edition):
    enter(phone, people.teacher)
    open_edition(phone, edition)
    right = ids(edition, "right")
    for one in (right[1], right[3]):
        box = phone.locator(f"g.note[data-note='{one}'] use").first.bounding_box()
        phone.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    upright = phone.locator("svg.engraving").count()
    phone.set_viewport_size({"width": 844, "height": 390})
    expect(phone.locator("svg.engraving")).not_to_have_count(upright)
    assert phone.locator("svg.engraving").count() < upright
    expect(phone.locator("g.note[aria-pressed='true']")).to_have_count(2)


def test_a_long_score_goes_on_while_one_reads_and_walks_across_its_leaves(page, people, enter):
    edition = make.edition(piece=make.piece(studio=people.studio, title="Long"), music=LONG)
    enter(page, people.teacher)
    open_edition(page, edition)
    assert page.locator("[data-measure='60']").count() == 0
    for _ in range(4):
        page.evaluate("scrollTo(0, document.body.scrollHeight)")  # what one scrolls to is replaced as it is reached
        page.wait_for_load_state("networkidle")
        page.wait_for_timeout(100)
    expect(page.locator("[data-measure='60']")).to_have_count(1)
    drawn = page.eval_on_selector_all("[data-measure]", "all => all.map(one => Number(one.dataset.measure))")
    assert drawn == list(range(len(drawn)))
    expect(page.get_by_role("link", name=re.compile("Earlier"))).to_have_count(0)
    page.get_by_label("Go to measure").fill("150")
    page.get_by_role("button", name="Go", exact=True).click()
    expect(page.locator("[data-measure='149']")).to_have_count(1)
    page.get_by_role("link", name="Earlier, up to measure 149").click()
    expect(page.locator("[data-measure='148']")).to_have_count(1)


def test_without_scripts_a_score_is_sent_and_a_passage_marked_by_its_numbers(browser, live_server, people, enter):
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    enter(page, people.teacher)
    page.goto("/repertoire/new/")
    page.get_by_label("Score file").set_input_files(FILE)
    page.get_by_role("button", name="Add the piece").click()
    page.get_by_text("By measure numbers").click()
    page.get_by_label("From measure").fill("1")
    page.get_by_label("To measure", exact=True).fill("2")
    page.get_by_role("button", name="Mark this passage").click()
    assert re.search(r"/passages/\d+/", page.url)
    context.close()
    passage = Passage.objects.get()
    assert (passage.first_number, passage.last_number) == ("1", "2")


# By hand


def test_a_passage_from_a_printed_book_is_entered_by_clicking_keys_and_by_typing(page, people, enter, axe):
    piece = make.piece(studio=people.studio)
    enter(page, people.teacher)
    page.goto(f"/pieces/{piece.pk}/entry/")
    page.get_by_label("Edition", exact=True).fill("Brandt, printed, measures 17–18")
    page.get_by_label("First whole measure", exact=True).fill("17")
    page.get_by_label("Metre", exact=True).fill("3/4")
    page.get_by_label("Key", exact=True).select_option("Eb")
    piano = page.get_by_role("group", name="Keyboard")

    def strike(*names):
        for name in names:
            piano.get_by_role("button", name=name, exact=True).click()

    strike("B♭4", "E♭5")
    page.get_by_role("button", name="grace").click()
    strike("F5")
    page.get_by_role("button", name="grace").click()
    page.get_by_label("eighth").check()
    strike("E5", "E♭5")
    page.get_by_role("button", name="bar line").click()
    page.get_by_label("half", exact=True).check()
    page.get_by_role("button", name="dotted").click()
    page.get_by_role("button", name="chord").click()
    strike("B♭4", "D5")
    expect(page.get_by_label("Right hand", exact=True)).to_have_value("B2 e2 {f}=e_e | [Bd]6")
    expect(page.locator("#preview g.note")).to_have_count(7)
    page.get_by_label("Left hand", exact=True).fill("E,2 [G,B,]2 q")
    expect(page.locator("#preview")).to_contain_text("Line 1, sign 13: “q” is no note.")
    page.get_by_label("Left hand", exact=True).fill("E,2 [G,B,]2 [G,B,]2 | B,,6 |")
    expect(page.locator("#preview g.note")).to_have_count(13)
    axe(page)
    page.get_by_role("button", name="Keep it as an edition").click()
    page.wait_for_url(re.compile(r"/passages/\d+/"))
    passage = Passage.objects.get()
    assert (passage.first_number, passage.last_number, passage.hands) == ("17", "18", "both")
    right = [note for note in passage.edition.score.notes if note.side == "right"]
    assert [f"{note.pitch.name}{note.pitch.octave}" for note in right] == [
        *("B♭4", "E♭5", "F5", "E5", "E♭5", "B♭4", "D5")
    ]


def test_the_keys_of_the_picture_are_walked_with_the_arrows(page, people, enter):
    piece = make.piece(studio=people.studio)
    enter(page, people.teacher)
    page.goto(f"/pieces/{piece.pk}/entry/")
    page.get_by_role("group", name="Keyboard").get_by_role("button", name="C4", exact=True).focus()
    for key in ("ArrowRight", "Enter", "ArrowUp", "Enter"):
        page.keyboard.press(key)
    expect(page.get_by_label("Right hand", exact=True)).to_have_value("^C2 ^c2")


# All screens


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("window", ["page", "phone"])
def test_the_screens_of_the_repertoire_are_accessible(request, people, enter, axe, window, dark):
    page = request.getfixturevalue(window)
    page.emulate_media(color_scheme="dark" if dark else "light", reduced_motion="reduce")
    enter(page, people.teacher)
    page.goto("/repertoire/")
    axe(page)
    piece = people.passage.edition.piece
    for address in (
        "/repertoire/",
        "/repertoire/new/",
        f"/pieces/{piece.pk}/",
        f"/pieces/{piece.pk}/change/",
        f"/pieces/{piece.pk}/editions/new/",
        f"/pieces/{piece.pk}/entry/",
        f"/editions/{people.edition.pk}/",
        f"/editions/{people.edition.pk}/change/",
        f"/passages/{people.passage.pk}/name/",
    ):
        page.goto(address)
        page.wait_for_load_state("networkidle")
        axe(page)
