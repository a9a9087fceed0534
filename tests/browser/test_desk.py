"""The desk with hands on the keys, on a desk and on a phone."""

import json
import re

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from scores import judging, noting, whose_hand
from scores.models import Fingering
from scores.stretches import stretch
from tests import make
from tests.people import Cast
from tests.scores.test_judging import whole_line

pytestmark = pytest.mark.browser

LINE = "#lines .desk-line input[name=line]"


def open_desk(page: Page, people: Cast, enter, hands: str = "right"):
    passage = make.passage(edition=people.edition, hands=hands)
    enter(page, people.teacher)
    page.goto(reverse("desk", kwargs={"pk": passage.pk}))
    return passage


def begin_line(page: Page, name: str = "New line, right hand") -> None:
    page.get_by_role("button", name=name).press("Enter")
    expect(page.locator("#typing")).to_be_focused()


def type_keys(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def kept(page: Page) -> None:
    expect(page.locator("#typing-kept")).to_have_text("kept")


def note_ids(passage) -> list[str]:
    return [note.id for moment in stretch(passage, "right") for note in moment.notes]


def test_twelve_notes_are_fingered_with_keys_alone_and_kept(page: Page, people: Cast, enter):
    passage = open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, *"224231352354")
    kept(page)
    expect(page.locator("#typing-said")).to_contain_text("measure 3 beat 1, F 5: 4")
    page.reload()
    expect(page.locator(LINE)).to_have_value("2 2 4 2 3 1 3 5 2 3 5 4 _ _ _")
    expect(page.locator("#desk-music text.digit:not([data-line^=printed])")).to_have_count(12)
    line = passage.fingerings.get()
    assert [line.fingers.get(note, "") for note in note_ids(passage)[:13]] == [*"224231352354", ""]


def test_a_digit_stands_over_its_note_at_once(page: Page, people: Cast, enter):
    passage = open_desk(page, people, enter)
    begin_line(page)
    page.route("**/fingers/", lambda route: None)  # No answer comes.
    type_keys(page, "2")
    digit = page.locator("#desk-music text.digit:not([data-line^=printed])")
    expect(digit).to_have_text("2")
    middle = "element => { const box = element.getBoundingClientRect(); return box.left + box.width / 2; }"
    head = page.locator(f'#desk-music g.note[data-note="{note_ids(passage)[0]}"] use').first
    assert abs(digit.evaluate(middle) - head.evaluate(middle)) < 4
    page.unroute("**/fingers/")


def test_a_chord_takes_a_finger_for_each_note_and_what_cannot_be_is_said_at_once(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "End", "ArrowLeft", "ArrowLeft", "3", "3")
    problem = page.locator(".desk-problems li.cannot")
    expect(problem).to_contain_text("finger 3 is asked for on two keys at once, B♭4 and D5")
    expect(page.locator("#desk-music .slip.cannot")).to_have_count(1)
    expect(page.locator(".desk-draft")).to_be_visible()
    type_keys(page, "ArrowLeft", "5")
    expect(problem).to_have_count(0)
    expect(page.locator("#desk-music .slip")).to_have_count(0)
    expect(page.locator(LINE)).to_have_value("_ _ _ _ _ _ _ _ _ _ _ _ _ 35 _")


def test_a_substitution_takes_two_fingers_on_one_note(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "4", "-", "5", "2")
    expect(page.locator(LINE)).to_have_value("4-5 2 _ _ _ _ _ _ _ _ _ _ _ _ _")
    expect(page.locator("#desk-music text.digit", has_text="4-5")).to_have_count(1)


def test_a_number_that_is_no_finger_is_refused_and_the_cursor_stays(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "1", "7")
    expect(page.locator("#typing-kept")).to_have_text("7 is no finger: 1 to 5, thumb to little finger.")
    type_keys(page, "2")
    kept(page)
    expect(page.locator(LINE)).to_have_value("1 2 _ _ _ _ _ _ _ _ _ _ _ _ _")


def test_walking_back_clearing_leaving_and_undoing(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "1", "2", "Backspace", "3", ".", "5")
    expect(page.locator(LINE)).to_have_value("1 3 _ 5 _ _ _ _ _ _ _ _ _ _ _")
    type_keys(page, "Control+z", "Home", "Space", "Control+z", "Control+z")
    expect(page.locator(LINE)).to_have_value("1 _ _ _ _ _ _ _ _ _ _ _ _ _ _")
    kept(page)


def test_lines_are_added_and_walked_between_with_keys(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "1", "n")
    expect(page.locator(LINE)).to_have_count(2)
    expect(page.locator("#typing-where")).to_contain_text("II · ")
    type_keys(page, "2", "ArrowUp", "3")
    expect(page.locator(LINE).nth(0)).to_have_value("1 3 _ _ _ _ _ _ _ _ _ _ _ _ _")
    expect(page.locator(LINE).nth(1)).to_have_value("2 _ _ _ _ _ _ _ _ _ _ _ _ _ _")
    type_keys(page, "Escape")
    expect(page.locator("#typing")).not_to_be_focused()
    kept(page)


def test_a_line_is_cut_to_a_part_from_the_keys(page: Page, people: Cast, enter):
    passage = open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "1", "2", "3", "4", "5", "ArrowLeft", "]", "Home", "ArrowRight", "[")
    expect(page.locator(LINE)).to_have_value("2 3 4 5")
    expect(page.locator("#desk-music rect.place:not([data-line^=printed])")).to_have_count(4)
    kept(page)
    line = passage.fingerings.get()
    assert (line.first_note, line.last_note) == (note_ids(passage)[1], note_ids(passage)[4])


def test_nothing_is_lost_while_the_network_fails(page: Page, people: Cast, enter):
    passage = open_desk(page, people, enter)
    begin_line(page)
    broken = "**/fingers/"
    page.route(broken, lambda route: route.fulfill(status=502, body="down"))
    type_keys(page, "1", "2")
    expect(page.locator("#typing-kept")).to_contain_text("Not kept yet")
    type_keys(page, "3")
    page.unroute(broken)
    kept(page)
    assert sorted(passage.fingerings.get().fingers.values()) == ["1", "2", "3"]


def test_the_later_of_two_windows_is_told_what_changed(page: Page, people: Cast, enter):
    passage = open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "1")
    kept(page)
    line = Fingering.objects.get(passage=passage)
    noting.keep_fingers(fingering=line, fingers={note_ids(passage)[0]: "4"})
    type_keys(page, "2")
    trouble = page.locator("#typing-trouble")
    expect(trouble).to_contain_text("measure 0 beat 3, B flat 4: 4 there, 1 here")
    trouble.get_by_role("button", name="Take what is there").click()
    expect(page.locator(LINE)).to_have_value("4 _ _ _ _ _ _ _ _ _ _ _ _ _ _")
    line.refresh_from_db()
    assert list(line.fingers.values()) == ["4"]


def test_a_cue_is_written_from_the_cursor_changed_in_place_and_brought_back(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    begin_line(page)
    type_keys(page, "ArrowRight", "c")
    page.keyboard.type("Lean into it.")
    type_keys(page, "Enter")
    cue = page.locator(".desk-margin .remark")
    expect(cue).to_contain_text("Lean into it.")
    cue.get_by_role("link").click()
    field = page.locator("#desk .desk-note input[name=text]")
    expect(field).to_be_focused()
    field.fill("Lean.")
    field.press("Enter")
    expect(cue).to_contain_text("Lean.")
    cue.get_by_role("link").click()
    page.locator(".desk-margin .remark").get_by_role("button", name="Take away").click()
    expect(page.locator(".saying")).to_contain_text("The cue was taken away.")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".desk-margin .remark")).to_contain_text("Lean.")


def test_stages_of_a_drill_are_moved_with_buttons(page: Page, people: Cast, enter):
    passage = open_desk(page, people, enter, hands="both")
    page.get_by_role("button", name="4 against 3").click()
    page.get_by_role("link", name="Change the plan").click()
    page.locator(".desk-stage").nth(1).get_by_role("button", name="earlier").click()
    page.locator("#desk .desk-note button.main").click()
    expect(page.locator(".desk-stages li").first).to_contain_text("Left hand alone")
    assert json.dumps(passage.drills.get().stages[0]).count("Left hand alone") == 1


def test_a_phone_engraves_anew_and_takes_fingers_by_touch(phone: Page, people: Cast, enter, axe):
    passage = open_desk(phone, people, enter)
    make.cue(passage=passage, text="Let it ring.", measure=2)
    phone.reload()
    expect(phone.locator("#desk-music")).to_have_attribute("data-width", "340")
    row = phone.locator(".desk-row", has=phone.locator('svg[data-first="2"]'))
    expect(row).to_contain_text("Let it ring.")
    phone.get_by_role("button", name="New line, right hand").tap()
    phone.get_by_role("button", name="finger 2").tap()
    phone.get_by_role("button", name="finger 4").tap()
    expect(phone.locator(LINE)).to_have_value("2 4 _ _ _ _ _ _ _ _ _ _ _ _ _")
    kept(phone)
    axe(phone)


def test_axe_finds_nothing_on_a_full_desk(page: Page, people: Cast, enter, axe):
    passage = open_desk(page, people, enter, hands="both")
    line = noting.write_fingering(passage=passage, side="right", remark="Light.")
    noting.keep_fingers(fingering=line, fingers=dict.fromkeys(note_ids(passage), "3"))
    make.cue(passage=passage)
    page.reload()
    page.get_by_role("button", name="4 against 3").click()
    expect(page.locator(".desk-stages")).to_be_visible()
    page.get_by_role("button", name="Type over the notes").first.click()
    # So high that nothing lies half behind the bars at the foot of the window: scrolling brings it out.
    page.set_viewport_size({"width": 1280, "height": 6000})
    axe(page)


def for_hands(people: Cast, passage) -> list[Fingering]:
    """Two lines that part at the chord, and two measured hands: one of them cannot take it with second and third."""
    make.hand(student=people.oda, comfortable=13, largest=15)
    make.hand(student=people.ravi, comfortable=12, largest=14, pairs={"2-3": [2, 3]})
    return [
        make.fingering(passage=passage, fingers=whole_line(people, *fingers)) for fingers in (("2", "3"), ("1", "3"))
    ]


def test_a_student_is_chosen_and_the_lines_are_ranked_for_her_hand(page: Page, people: Cast, enter, axe):
    passage = open_desk(page, people, enter)
    for_hands(people, passage)
    page.reload()
    page.get_by_role("link", name="Ravi Menon").press("Enter")
    expect(page.locator("#ranking .ranked-line")).to_have_count(3)
    expect(page.locator("#ranking .ranked-line").last).to_contain_text("Beyond reach")
    expect(page).to_have_url(re.compile(rf"\?student={people.ravi.pk}$"))
    expect(page.get_by_role("link", name="Ravi Menon")).to_be_focused()
    expect(page.locator("#ranking svg.keyboard").first).to_be_visible()
    page.get_by_label("Compare").select_option("I")
    page.get_by_label("with", exact=True).select_option("II")
    page.get_by_role("button", name="Show the differences").click()
    expect(page.locator("#compared li")).to_contain_text("measure 3, beat 3, B♭4: 2 in I, 1 in II")
    expect(page.locator("#ranking")).to_be_visible()
    axe(page)


def test_typing_weighs_the_line_anew(page: Page, people: Cast, enter):
    passage = open_desk(page, people, enter)
    for_hands(people, passage)
    page.goto(reverse("desk", kwargs={"pk": passage.pk}) + f"?student={people.oda.pk}")
    cell = page.locator("#hands tbody tr").filter(has_text="Oda").locator("td").first
    expect(cell).to_contain_text("with care")
    expect(page.locator("#desk-music")).to_contain_text("2–3 for a third: more than comfortable")
    page.get_by_role("button", name="Type over the notes").first.click()
    type_keys(page, "End", "ArrowLeft", "ArrowLeft", "1")
    kept(page)
    expect(page.locator("#desk-music")).not_to_contain_text("more than comfortable")
    expect(cell).to_contain_text("lies well")
    expect(page.locator("#typing")).to_be_focused()


def test_a_table_that_takes_long_comes_by_itself(page: Page, people: Cast, enter, axe, monkeypatch):
    monkeypatch.setattr(whose_hand, "AT_ONCE", 0)
    monkeypatch.setattr(judging, "remembered", judging.Remembered())
    passage = open_desk(page, people, enter)
    for_hands(people, passage)
    page.reload()
    expect(page.locator("#hands .whose tbody tr")).to_have_count(2)
    expect(page.locator("#hands")).not_to_contain_text("being weighed")
    axe(page)


def test_whose_hand_it_is_reads_on_a_phone(phone: Page, people: Cast, enter, axe):
    passage = open_desk(phone, people, enter)
    for_hands(people, passage)
    phone.goto(reverse("desk", kwargs={"pk": passage.pk}) + f"?student={people.oda.pk}")
    expect(phone.locator("#ranking")).to_be_visible()
    picture = phone.locator("#ranking svg.keyboard").first.bounding_box()
    assert picture is not None
    assert picture["x"] + picture["width"] <= 390
    assert picture["width"] >= 200
    axe(phone)


def test_the_desk_is_whole_with_scripts_off(browser, live_server, people: Cast, enter):
    page = browser.new_context(base_url=live_server.url, java_script_enabled=False).new_page()
    open_desk(page, people, enter)
    page.get_by_role("button", name="New line, right hand").click()
    page.locator(LINE).fill("2 2 4 2 3 5 4 2 3 5 4 4 3 13 5")
    page.locator(".desk-line-form button").click()
    expect(page.locator("#desk-music text.digit:not([data-line^=printed])")).to_have_count(16)
    page.locator(LINE).fill("2 2 4")
    page.locator(".desk-line-form button").click()
    expect(page.locator(".desk-line .errorlist")).to_contain_text("3 of 15 places")
    expect(page.locator(LINE)).to_have_value("2 2 4")
    page.context.close()
