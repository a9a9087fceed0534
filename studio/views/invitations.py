from django.http import Http404, HttpRequest, HttpResponse


def invite_student(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def invite_guardian(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def take_back(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def accept(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
