from django.apps import AppConfig
from django.core.checks import Tags, register

from studio import checks


class StudioConfig(AppConfig):
    name = "studio"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        for check in checks.ALL:
            register(check, Tags.security, deploy=True)
