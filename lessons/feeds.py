"""Links to calendar feeds: secret, one for each that was asked for, and ended with a click."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.conf import settings
from django.core import signing
from django.db.models import QuerySet
from django.urls import reverse

from lessons.models import Feed
from studio.models import User

SALT = "calendar feed"
SEEN_AGAIN = timedelta(hours=1)  # how long a reading is remembered before the next is written down
MOST = 10  # links of one person


class EnoughLinks(Exception):
    """Someone has as many links as anyone needs."""


def feeds_of(user: User) -> QuerySet[Feed]:
    """The links of a person that still work."""
    return Feed.objects.filter(user=user, studio_id=user.studio_id, revoked_at=None)


def make_feed(user: User) -> Feed:
    """Raises `EnoughLinks`."""
    if feeds_of(user).count() >= MOST:
        raise EnoughLinks
    return Feed.objects.create(studio_id=user.studio_id, user=user, nonce=secrets.token_urlsafe(32))


def revoke(feed: Feed, *, at: datetime) -> None:
    feed.revoked_at = at
    feed.save(update_fields=["revoked_at"])


def restore(feed: Feed) -> None:
    feed.revoked_at = None
    feed.save(update_fields=["revoked_at"])


def signer() -> signing.Signer:
    return signing.Signer(salt=SALT)


def link_to(feed: Feed) -> str:
    """The whole address. It is signed from the row and a secret of the server, so that neither alone gives it."""
    return settings.SITE_URL + reverse("feed", args=[signer().sign_object([feed.pk, feed.nonce])])


def feed_behind(token: str) -> Feed | None:
    """The feed that a link leads to; None for one that is none, was ended, or whose owner may not log in any more."""
    try:
        pk, nonce = signer().unsign_object(token)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    if not (isinstance(pk, int) and isinstance(nonce, str)):
        return None
    found = Feed.objects.filter(pk=pk, revoked_at=None, user__is_active=True).select_related("user__studio").first()
    return found if found and secrets.compare_digest(found.nonce, nonce) else None


def note_reading(feed: Feed, *, at: datetime) -> None:
    if feed.read_at is None or at - feed.read_at > SEEN_AGAIN:
        Feed.objects.filter(pk=feed.pk).update(read_at=at)
