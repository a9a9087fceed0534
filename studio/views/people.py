from django.http import Http404, HttpRequest, HttpResponse


def students(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_student(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def student(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def change_student(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def leave(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def come_back(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_hand(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_hand(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_guardian(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def change_guardian(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def unlink_guardian(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
