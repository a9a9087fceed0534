from django.http import Http404, HttpRequest, HttpResponse


def desk(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404


def music(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
