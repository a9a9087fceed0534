from django.http import Http404, HttpRequest, HttpResponse


def start(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def log_in(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def log_out(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def change_password(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def forgotten(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def forgotten_sent(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_password(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
