from django.http import Http404, HttpRequest, HttpResponse


def preview(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def draft_pdf(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def give(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def handout(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def pdf(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
