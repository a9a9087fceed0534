"""Calendar links and mails: what each person has of them; the feed itself; the way out of the mails."""

import hashlib

from django import forms
from django.core import signing
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lessons import feeds, mailing, notices
from lessons.calendar_feed import calendar_of, reader_for
from lessons.models import Feed, NoticeWish
from studio.access import for_everyone_here, for_teachers, students_of
from studio.pages import page, say


class WishForm(forms.ModelForm):
    """Which mails someone wants."""

    class Meta:
        model = NoticeWish
        fields = ["changes", "reminders", "hours_before", "tuition"]

    def __init__(self, *args, is_student: bool = False, **options) -> None:
        super().__init__(*args, **options)
        if is_student:
            del self.fields["tuition"]


@for_everyone_here
@require_http_methods(["GET", "HEAD", "POST"])
def calendar_links(request: HttpRequest) -> HttpResponse:
    """The person's links to her calendar, and the mails that she wants."""
    wish = notices.wish_of(request.user)
    form = WishForm(request.POST or None, instance=wish, is_student=request.user.is_student)
    if request.method == "POST" and form.is_valid():
        notices.keep_wish(request.user, **form.cleaned_data)
        say(request, _("Kept: these mails come from now on."))
        return redirect("calendar-links")
    links = [(feed, feeds.link_to(feed)) for feed in feeds.feeds_of(request.user)]
    context = {"form": form, "links": links, "section": ""}
    if request.user.is_teacher:
        context["given_up"] = mailing.given_up(request.user.studio)[:20]
    return page(request, "lessons/calendar_links.html", context)


@for_everyone_here
@require_POST
def make_link(request: HttpRequest) -> HttpResponse:
    try:
        feeds.make_feed(request.user)
    except feeds.EnoughLinks:
        say(request, _("You have ten links already. End one that you do not use any more."))
    return redirect("calendar-links")


@for_everyone_here
@require_POST
def end_link(request: HttpRequest, pk: int) -> HttpResponse:
    feed = get_object_or_404(feeds.feeds_of(request.user), pk=pk)
    feeds.revoke(feed, at=timezone.now())
    say(request, _("The link is ended: calendars get nothing by it any more."), undo=reverse("restore-link", args=[pk]))
    return redirect("calendar-links")


@for_everyone_here
@require_POST
def restore_link(request: HttpRequest, pk: int) -> HttpResponse:
    feeds.restore(get_object_or_404(Feed.objects.filter(user=request.user), pk=pk))
    return redirect("calendar-links")


@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """The calendar behind a link. A link that was guessed and one that was ended look alike."""
    found = feeds.feed_behind(token)
    if found is None:
        raise Http404
    now = timezone.now()
    students = list(students_of(found.user).only("pk", "name"))
    data = calendar_of(reader_for(found.user, students), at=now)
    feeds.note_reading(found, at=now)
    etag = f'"{hashlib.sha256(data).hexdigest()[:32]}"'
    answer = HttpResponse(data, content_type="text/calendar; charset=utf-8")
    answer["ETag"], answer["Cache-Control"] = etag, "private, max-age=300"
    answer["Content-Disposition"] = 'inline; filename="lessons.ics"'
    return get_conditional_response(request, etag=etag, response=answer)


@for_teachers
@require_POST
def send_again(request: HttpRequest) -> HttpResponse:
    """Has the mails that were given up tried once more."""
    mailing.try_again(studio=request.user.studio, at=timezone.now())
    say(request, _("They are tried once more with the next run."))
    return redirect("calendar-links")


@csrf_exempt  # A mail program posts here by itself (RFC 8058); all that can come of it is fewer mails.
@require_http_methods(["GET", "HEAD", "POST"])
def stop_mails(request: HttpRequest, token: str) -> HttpResponse:
    """The way out that stands in every mail about lessons; needs no login."""
    try:
        person = notices.read_token(token)
    except (signing.BadSignature, ObjectDoesNotExist):
        return page(request, "lessons/stop_mails.html", {"unknown": True}, status=404)
    stopped = request.method == "POST"
    if stopped:
        notices.stop(person)
    return page(request, "lessons/stop_mails.html", {"person": person, "stopped": stopped})
