"""What must hold before a studio is served to others: `manage.py check --deploy`."""

import json
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Warning


def check_site_url(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Links in mails and QR codes are made from it."""
    if settings.SITE_URL.startswith("https://"):
        return []
    return [
        Warning(
            "PASSAGEWORK_URL is no https address, so links in mails and on handouts lead nowhere safe.",
            hint="Set PASSAGEWORK_URL to the address of the site, for example https://studio.example.org",
            id="studio.W001",
        )
    ]


def check_faces(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Every face that package.json names is installed: pages and handouts are set in them."""
    wanted = json.loads((settings.HOME / "package.json").read_text()).get("dependencies", {})
    missing = [name for name in sorted(wanted) if not (settings.HOME / "node_modules" / name / "package.json").exists()]
    if not missing:
        return []
    return [Warning(f"Not installed: {', '.join(missing)}.", hint="Run npm ci.", id="studio.W002")]


def check_mail(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Invitations and new passwords go by mail."""
    found: list[CheckMessage] = []
    if settings.EMAIL_BACKEND.endswith(("console.EmailBackend", "dummy.EmailBackend", "locmem.EmailBackend")):
        found.append(
            Warning(
                "Mails are not sent to anyone.",
                hint="Set PASSAGEWORK_SMTP_HOST (and _PORT, _USER, _PASSWORD, _TLS).",
                id="studio.W003",
            )
        )
    if settings.DEFAULT_FROM_EMAIL.endswith("@localhost"):
        found.append(
            Warning(
                "Mails come from an address that nobody can answer.",
                hint="Set PASSAGEWORK_MAIL_FROM to an address of your own.",
                id="studio.W004",
            )
        )
    return found


def check_static_files(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Styles, scripts and faces are gathered where they are served from."""
    if settings.LOCAL or (settings.STATIC_ROOT / "staticfiles.json").exists():
        return []
    return [
        Warning("Styles, scripts and faces are not gathered.", hint="Run manage.py collectstatic.", id="studio.W005")
    ]


ALL = (check_site_url, check_faces, check_mail, check_static_files)
