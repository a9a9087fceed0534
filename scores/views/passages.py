from django.http import Http404, HttpRequest, HttpResponse


def new_passage(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def name_passage(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_passage(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def restore_passage(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
