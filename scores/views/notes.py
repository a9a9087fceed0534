from django.http import Http404, HttpRequest, HttpResponse


def new_fingering(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def keep_fingering(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def copy_fingering(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_fingering(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def restore_fingering(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def keep_placement(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_drill(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def keep_drill(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_drill(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def restore_drill(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def new_cue(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def keep_cue(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def copy_cue(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def remove_cue(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def restore_cue(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
