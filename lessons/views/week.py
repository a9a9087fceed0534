from django.http import Http404, HttpRequest, HttpResponse


def today(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def week(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
