from django.http import Http404, HttpRequest, HttpResponse


def log(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_entry(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def change_entry(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_entry(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
