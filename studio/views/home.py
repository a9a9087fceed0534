from django.http import Http404, HttpRequest, HttpResponse


def home(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise Http404
