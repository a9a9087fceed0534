from django.http import Http404, HttpRequest, HttpResponse


def help_index(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def topic(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
