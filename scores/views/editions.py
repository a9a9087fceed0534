from django.http import Http404, HttpRequest, HttpResponse


def new_edition(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def upload_state(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def edition(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def change_edition(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def systems(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def file(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
