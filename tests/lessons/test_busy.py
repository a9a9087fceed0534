"""Busy times out of a calendar file. Instants are those of RFC 5545's own examples where one is named."""

from datetime import UTC, datetime, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from lessons import busy
from lessons.models import BusyTime
from lessons.reading_calendars import CannotReadCalendar, read

AT = datetime(2021, 2, 1, 6, tzinfo=UTC)
FIRST, LAST = "2021-02-01T00:00:00+00:00", "2021-03-01T00:00:00+00:00"


def calendar(*events: str, head: str = "") -> bytes:
    body = "".join(f"BEGIN:VEVENT\r\nDTSTAMP:20210101T000000Z\r\n{one}END:VEVENT\r\n" for one in events)
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:test\r\n{head}{body}END:VCALENDAR\r\n".encode()


def event(begin: str, *more: str, uid: str = "1", summary: str = "Choir") -> str:
    lines = [f"UID:{uid}", f"SUMMARY:{summary}", begin, *more]
    return "".join(f"{line}\r\n" for line in lines)


def begins(data: bytes, zone: str = "Europe/Helsinki") -> list[str]:
    return [begin for _, begin, _, _ in read(data, zone, FIRST, LAST)[0]]


def test_a_time_without_a_zone_is_the_studios_and_a_whole_day_is_its_day():
    data = calendar(
        event("DTSTART:20210203T180000", "DTEND:20210203T193000"),
        event("DTSTART;VALUE=DATE:20210210", uid="2"),
        event("DTSTART:20210204T180000Z", "DURATION:PT1H", uid="3"),
    )
    rows, unread = read(data, "Europe/Helsinki", FIRST, LAST)
    assert [(begin, end) for _, begin, end, _ in rows] == [
        ("2021-02-03T16:00:00+00:00", "2021-02-03T17:30:00+00:00"),
        ("2021-02-04T18:00:00+00:00", "2021-02-04T19:00:00+00:00"),
        ("2021-02-09T22:00:00+00:00", "2021-02-10T22:00:00+00:00"),
    ]
    assert unread == 0


def test_what_repeats_is_found_with_its_exceptions():
    data = calendar(
        event(
            "DTSTART;TZID=Europe/Helsinki:20210105T180000",
            "DTEND;TZID=Europe/Helsinki:20210105T190000",
            "RRULE:FREQ=WEEKLY",
            "EXDATE;TZID=Europe/Helsinki:20210209T180000",
        ),
        event(
            "RECURRENCE-ID;TZID=Europe/Helsinki:20210216T180000",
            "DTSTART;TZID=Europe/Helsinki:20210217T200000",
            "DTEND;TZID=Europe/Helsinki:20210217T210000",
        ),
    )
    assert begins(data) == ["2021-02-02T16:00:00+00:00", "2021-02-17T18:00:00+00:00", "2021-02-23T16:00:00+00:00"]


def test_what_is_cancelled_or_takes_no_time_is_left_out():
    data = calendar(
        event("DTSTART:20210203T180000Z", "DURATION:PT1H", "STATUS:CANCELLED"),
        event("DTSTART:20210204T180000Z", "DURATION:PT1H", "TRANSP:TRANSPARENT", uid="2"),
        event("DTSTART:20210205T180000Z", uid="3"),
    )
    assert begins(data) == []


def test_an_event_of_months_is_no_appointment_and_is_counted():
    data = calendar(event("DTSTART:20210103T180000Z", "DTEND:20210803T180000Z"))
    assert read(data, "UTC", FIRST, LAST) == ([], 1)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "calendar"),
        (b"hello", "calendar"),
        (b"BEGIN:VCALENDAR\r\n", "calendar"),
        (b"\xff\xfe\x00", "calendar"),
        (calendar(), "empty"),
    ],
)
def test_what_is_no_calendar_is_refused(data, reason):
    with pytest.raises(CannotReadCalendar) as trouble:
        read(data, "UTC", FIRST, LAST)
    assert trouble.value.reason == reason


def test_a_rule_of_a_million_times_is_stopped(cast, monkeypatch):
    monkeypatch.setattr(busy, "SECONDS", 3.0)
    data = calendar(event("DTSTART:20210203T180000Z", "DURATION:PT1S", "RRULE:FREQ=SECONDLY"))
    with pytest.raises(Exception, match=r"many|time"):
        busy.look_into(data, studio=cast.studio, at=AT)
    assert not BusyTime.objects.exists()


def test_read_again_under_the_same_name_it_takes_the_place_of_the_old_one(cast):
    for hour in ("180000", "190000"):
        data = calendar(event(f"DTSTART:20210203T{hour}Z", "DURATION:PT1H"))
        found = busy.look_into(data, studio=cast.studio, at=AT)
        busy.keep(studio=cast.studio, source="choir", found=found)
    assert [row.starts_at.hour for row in BusyTime.objects.all()] == [19]


def test_a_file_is_looked_at_kept_taken_out_and_brought_back(cast, logged_in):
    page = logged_in(cast.teacher)
    begin = (datetime.now(UTC) + timedelta(days=3)).strftime("%Y%m%dT180000Z")
    data = calendar(event(f"DTSTART:{begin}", "DURATION:PT1H", summary="Choir <rehearsal>"))
    sent = {"file": SimpleUploadedFile("choir.ics", data), "source": "choir"}
    looked = page.post(reverse("busy-times"), sent)
    text = looked.content.decode()
    assert "Choir &lt;rehearsal&gt;" in text
    assert not BusyTime.objects.exists()
    page.post(reverse("busy-times"), {"pasted": looked.context["text"], "source": "choir", "keep": "1"})
    assert BusyTime.objects.get().label == "Choir <rehearsal>"
    answer = page.post(reverse("take-busy-out"), {"source": "choir"}, follow=True)
    assert not BusyTime.objects.exists()
    undo = answer.content.decode().split('action="/busy-times/back/')[1].split('"')[0]
    page.post("/busy-times/back/" + undo)
    assert BusyTime.objects.count() == 1


def test_what_cannot_be_read_is_an_error_at_the_file_and_nothing_is_lost(cast, logged_in):
    answer = logged_in(cast.teacher).post(reverse("busy-times"), {"pasted": "hello", "source": "choir"})
    assert answer.status_code == 422
    assert "This is no calendar file" in answer.content.decode()
    assert 'value="choir"' in answer.content.decode()


def test_a_file_too_large_is_refused_unread(cast, logged_in, monkeypatch):
    monkeypatch.setattr(busy, "LARGEST", 10)
    file = SimpleUploadedFile("choir.ics", calendar())
    answer = logged_in(cast.teacher).post(reverse("busy-times"), {"file": file})
    assert "larger than 2 MB" in answer.content.decode()
