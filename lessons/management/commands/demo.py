"""`manage.py demo`: the demo studio."""

import tomllib
import zoneinfo
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from lessons.demo import HOME, lay_out
from studio.models import Studio, User


class Command(BaseCommand):
    help = "Lays out the demo studio: invented people, pieces, ten weeks of lessons and practice up to today."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--unless-there", action="store_true", help="do nothing but say the logins if it is there")
        parser.add_argument("--anew", action="store_true", help="remove the demo studio first, with all that was added")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.LOCAL:
            raise CommandError("The demo's password is known to everyone: it is for one's own machine only.")
        data = tomllib.loads((HOME / "demo.toml").read_text())
        there = Studio.objects.filter(users__email=data["teacher"]["email"]).first()
        if there and options["anew"]:
            there.delete()
            there = None
        if there and not options["unless_there"]:
            raise CommandError("The demo studio is there already. Use --anew to lay it out again for today.")
        if not there:
            zone = zoneinfo.ZoneInfo(data["studio"]["timezone"])
            lay_out(today=timezone.localdate(timezone=zone))
        self.stdout.write("The demo studio is laid out. Log in with one of these; the password of all is")
        self.stdout.write(f"    {data['password']}")
        demo = Studio.objects.get(users__email=data["teacher"]["email"])
        for user in User.objects.filter(studio=demo).order_by("pk"):
            self.stdout.write(f"    {user.email:24} {user.role}, {user.name}")
