"""From which address a request comes."""

from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str | None:
    """The address in front of our own proxies.

    Each proxy appends to X-Forwarded-For whom it heard from, so with `settings.PROXIES` of them the address wanted is
    that many places from the right; what stands further left was written by the client and proves nothing. Without
    proxies the header is not looked at. None where no address can be told.
    """
    heard = [part.strip() for part in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if part.strip()]
    wanted = request.META.get("REMOTE_ADDR", "")
    if 0 < settings.PROXIES <= len(heard):
        wanted = heard[-settings.PROXIES]
    try:
        return str(ip_address(wanted))
    except ValueError:
        return None
