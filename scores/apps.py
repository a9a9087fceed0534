from django.apps import AppConfig


class ScoresConfig(AppConfig):
    name = "scores"
    default_auto_field = "django.db.models.BigAutoField"
