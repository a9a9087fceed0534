from django.http import Http404, HttpRequest, HttpResponse


def new_lesson(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def lesson(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def change_lesson(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def keep_notes(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_lesson(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
