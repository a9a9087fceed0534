from django.http import Http404, HttpRequest, HttpResponse


def studio(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
