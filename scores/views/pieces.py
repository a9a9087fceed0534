from django.http import Http404, HttpRequest, HttpResponse


def repertoire(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_piece(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def piece(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def change_piece(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
