from django.http import Http404, HttpRequest, HttpResponse


def enter_passage(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def preview(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
