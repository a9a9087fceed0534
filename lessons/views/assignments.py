from django.http import Http404, HttpRequest, HttpResponse


def assign(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def keep_assignment(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_assignment(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def assigned(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def move_assigned(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_assigned(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def music_file(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
