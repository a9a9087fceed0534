from django.http import Http404, HttpRequest, HttpResponse


def this_week(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def children(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def child(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def choose(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
