"""Help, in a teacher's plain words."""

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET

from studio.pages import page

# The order in which someone new would read them.
TOPICS = {
    "getting-started": _("Getting started"),
    "students-and-hands": _("Students and hands"),
    "scores-and-passages": _("Scores and passages"),
    "fingerings": _("Fingerings"),
    "ornaments-and-rhythms": _("Ornaments and rhythms"),
    "hearing-and-trying": _("Hearing and trying"),
    "the-week": _("The week"),
    "lessons-and-handouts": _("Lessons and handouts"),
    "attendance": _("Attendance and make-up lessons"),
    "tuition": _("Tuition"),
    "practice": _("Practice"),
    "keys": _("Keys"),
    "care": _("Care"),
}


@require_GET
def help_index(request: HttpRequest) -> HttpResponse:
    return page(request, "help/index.html", {"topics": TOPICS, "section": "help"})


@require_GET
def topic(request: HttpRequest, topic: str) -> HttpResponse:
    if topic not in TOPICS:
        raise Http404
    names = list(TOPICS)
    place = names.index(topic)
    following = names[place + 1] if place + 1 < len(names) else None
    context = {
        "topics": TOPICS,
        "topic": topic,
        "title": TOPICS[topic],
        "following": following,
        "following_title": TOPICS.get(following),
        "section": "help",
    }
    return page(request, f"help/{topic.replace('-', '_')}.html", context)
