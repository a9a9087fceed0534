"""What is filled in on the studio's screens."""

import zoneinfo
from collections.abc import Iterator, Mapping
from datetime import date
from functools import lru_cache
from typing import Any

from django import forms
from django.contrib.auth import authenticate, password_validation
from django.contrib.auth.forms import PasswordResetForm
from django.contrib.auth.tokens import default_token_generator
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext_lazy as _

from studio.locales import currency_choices, locale_choices
from studio.mails import send_soon, write
from studio.models import PAIRS, FingerWidth, Guardian, Hand, Side, Student, Studio, User
from studio.reach import SMALLEST_HAND, WHITE_KEYS, an_interval, hands_together, interval_name
from studio.tuition.balances import has_money

LETTERS = "CDEFGAB"


@lru_cache(maxsize=1)
def zones() -> dict[str, list[str]]:
    """The IANA time zones that are places, by region, and UTC."""
    places = sorted(name for name in zoneinfo.available_timezones() if "/" in name and not name.startswith("Etc/"))
    regions: dict[str, list[str]] = {}
    for name in places:
        regions.setdefault(name.split("/")[0], []).append(name)
    return {**regions, "UTC": ["UTC"]}


def zone_choices() -> list[tuple[str, Any]]:
    groups = [
        (region, [(name, name.partition("/")[2].replace("_", " ") or name) for name in names])
        for region, names in zones().items()
    ]
    return [("", _("Choose a place in your time zone")), *groups]


class CurrencyField(forms.ChoiceField):
    """A currency by its code; a code may be sent in small letters."""

    def to_python(self, value: Any) -> str:
        return super().to_python(value).strip().upper()


class StudioForm(forms.ModelForm):
    """The studio itself."""

    timezone = forms.ChoiceField(
        label=_("Time zone"),
        choices=zone_choices,
        help_text=_("Lessons are shown in this time, and a day begins and ends by it."),
        widget=forms.Select(attrs={"data-detect": "time-zone"}),
    )
    currency = CurrencyField(
        label=_("Currency"),
        choices=currency_choices,
        help_text=_("Of all your prices. Once there are prices or payments it stays."),
    )
    locale = forms.ChoiceField(
        label=_("Numbers and dates as in"),
        choices=locale_choices,
        required=False,
        help_text=_("On invoices and wherever money is written."),
    )

    class Meta:
        model = Studio
        fields = ["name", "timezone", "currency", "locale", "paper"]
        labels = {"name": _("Name of the studio")}
        widgets = {"paper": forms.RadioSelect({"class": "inline"})}
        help_texts = {"name": _("It stands on handouts and in invitations.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = {name for names in zones().values() for name in names}
        if self.instance.pk and self.instance.timezone not in known:
            self.fields["timezone"].choices = [*zone_choices(), (self.instance.timezone, self.instance.timezone)]

        if self.instance.currency not in dict(self.fields["currency"].choices):
            self.fields["currency"].choices = [*currency_choices(), (self.instance.currency, self.instance.currency)]

    def clean_currency(self) -> str:
        """Raises `ValidationError` for another currency than the one in which prices and entries stand already."""
        wanted, before = self.cleaned_data["currency"], self.initial.get("currency")
        if self.instance.pk and wanted != before and has_money(self.instance):
            raise ValidationError(
                _(
                    "There are prices or payments in %(before)s, and their worth would change. The currency stays; "
                    "a studio with another one starts anew."
                ),
                params={"before": before},
                code="kept",
            )
        return wanted


class NewLoginForm(forms.Form):
    """Someone's own name, e-mail address and first password."""

    name = forms.CharField(label=_("Your name"), max_length=120, widget=forms.TextInput({"autocomplete": "name"}))
    email = forms.EmailField(
        label=_("E-mail"), help_text=_("You log in with it."), widget=forms.EmailInput({"autocomplete": "email"})
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        help_text=_("At least ten characters. A few words that only you would put together do well."),
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )

    TAKEN = _("There is already a login with this address. Log in with it, or give another address here.")

    def clean_email(self) -> str:
        email = self.cleaned_data["email"].strip().lower()
        if User.objects.filter(email=email).exists():
            raise ValidationError(self.TAKEN, code="taken")
        return email

    def taken_meanwhile(self) -> None:
        """The same address was sent twice at one moment, and the other was first."""
        self.add_error("email", ValidationError(self.TAKEN, code="taken"))

    def clean(self) -> dict[str, Any]:
        fields = super().clean()
        person = User(name=fields.get("name", ""), email=fields.get("email", ""))
        if "password" in fields:
            try:
                password_validation.validate_password(fields["password"], person)
            except ValidationError as error:
                self.add_error("password", error)
        return fields


class LogInForm(forms.Form):
    """E-mail and password. `user` is there once the form is valid."""

    email = forms.EmailField(
        label=_("E-mail"), widget=forms.EmailInput({"autocomplete": "username", "autofocus": True})
    )
    password = forms.CharField(
        label=_("Password"), strip=False, widget=forms.PasswordInput({"autocomplete": "current-password"})
    )

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        self.user: User | None = None

    def clean_email(self) -> str:
        # One spelling of an address: otherwise each way to write it would have wrong guesses of its own.
        return self.cleaned_data["email"].strip().lower()

    def clean(self) -> dict[str, Any]:
        fields = super().clean()
        if "email" in fields and "password" in fields:
            self.user = authenticate(self.request, email=fields["email"], password=fields["password"])
            if self.user is None:
                raise ValidationError(_("This address and this password do not go together."), code="wrong")
        return fields


class ForgottenForm(PasswordResetForm):
    """Where to send a link for a new password."""

    PAUSE = 120

    email = forms.EmailField(
        label=_("E-mail"), max_length=254, widget=forms.EmailInput({"autocomplete": "email", "autofocus": True})
    )

    def send_links(self, *, site: str) -> None:
        """Mails a link to whoever logs in with the address; does nothing, and takes no longer, when nobody does.
        However often it is asked for, one mail goes out in `PAUSE` seconds."""
        for user in self.get_users(self.cleaned_data["email"].strip()):
            if not cache.add(f"new-password-{user.pk}", True, self.PAUSE):
                continue
            uid = urlsafe_base64_encode(force_bytes(user.pk))
            token = default_token_generator.make_token(user)
            send_soon(write("new_password", to=user.email, user=user, site=site, uid=uid, token=token))


class StudentForm(forms.ModelForm):
    class Meta:
        model = Student
        fields = ["name", "remark"]
        widgets = {"name": forms.TextInput({"autocomplete": "off"}), "remark": forms.Textarea({"rows": 4})}


class GuardianForm(forms.ModelForm):
    class Meta:
        model = Guardian
        fields = ["name", "email"]
        widgets = {"name": forms.TextInput({"autocomplete": "off"}), "email": forms.EmailInput({"autocomplete": "off"})}
        help_texts = {"email": _("Only to send an invitation. May stay empty.")}


class InviteForm(forms.Form):
    email = forms.EmailField(
        label=_("E-mail"),
        required=False,
        help_text=_("The link is sent there. Without an address you get the link to hand on yourself."),
        widget=forms.EmailInput({"autocomplete": "off"}),
    )


def reach_choices(smallest: int, keys: bool) -> list[tuple[str | int, str]]:
    """White-key intervals from C, with `keys` as "ninth (C–D)": the value is semitones."""
    choices: list[tuple[str | int, str]] = [("", "–")]
    for step, semitones in enumerate(WHITE_KEYS, start=1):
        if semitones >= smallest:
            name = interval_name(semitones)
            choices.append((semitones, f"{name} (C–{LETTERS[step % 7]})" if keys else name))
    return choices


class ReachField(forms.TypedChoiceField):
    """A named interval; its value is semitones, or None where nothing was chosen."""

    def __init__(self, *, smallest: int, keys: bool = True, **kwargs: Any) -> None:
        super().__init__(choices=lambda: reach_choices(smallest, keys), coerce=int, empty_value=None, **kwargs)

    def offer_too(self, semitones: int) -> None:
        """What an earlier measurement says stays on offer, even where no white key from C says it: a minor tenth."""
        choices = list(self.choices)
        if semitones not in dict(choices):
            self.choices = sorted([*choices, (semitones, interval_name(semitones))], key=lambda choice: choice[0] or 0)


class HandForm(forms.Form):
    """One measurement. `today` is the day in the studio. After validation `pairs` is as `Hand.pairs` keeps it.

    The pair of thumb and fifth finger is the reach of the hand itself; the other nine may stay empty.
    """

    side = forms.ChoiceField(
        label=_("Hand"), choices=Side.choices, widget=forms.RadioSelect({"class": "inline"}), initial=Side.RIGHT
    )
    both = forms.BooleanField(label=_("The other hand reaches the same"), required=False)
    measured_on = forms.DateField(
        label=_("Measured on"),
        help_text=_("A second measurement of the same hand on the same day takes the place of the first."),
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
    )
    comfortable = ReachField(
        label=_("Comfortable"), smallest=SMALLEST_HAND, help_text=_("Both keys sink together, the hand stays soft.")
    )
    largest = ReachField(
        label=_("Largest"), smallest=SMALLEST_HAND, help_text=_("Both keys can just be played, without pain.")
    )
    width = forms.ChoiceField(
        label=_("Fingers on black keys"),
        choices=FingerWidth.choices,
        widget=forms.RadioSelect,
        initial=FingerWidth.MEDIUM,
        help_text=_("Does a finger fit between two black keys when it plays the white one there?"),
    )

    OTHER_PAIRS = tuple(pair for pair in PAIRS if pair != "1-5")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"measured_on": today} | kwargs.pop("initial", {}), **kwargs)
        self.today = today
        self.pairs: dict[str, list[int]] = {}
        self.fields["measured_on"].widget.attrs["max"] = today.isoformat()
        for pair in self.OTHER_PAIRS:
            fingers = {"pair": pair.replace("-", "–")}
            for name, label in (
                (f"comfortable-{pair}", _("Fingers %(pair)s, comfortable") % fingers),
                (f"largest-{pair}", _("Fingers %(pair)s, largest") % fingers),
            ):
                self.fields[name] = ReachField(label=label, smallest=2, keys=False, required=False)
        for name, value in self.initial.items():
            if isinstance(self.fields.get(name), ReachField):
                self.fields[name].offer_too(value)

    def pair_rows(self) -> Iterator[tuple[str, forms.BoundField, forms.BoundField]]:
        """For the table of finger pairs: the pair as printed, and its two fields."""
        for pair in self.OTHER_PAIRS:
            yield pair.replace("-", "–"), self[f"comfortable-{pair}"], self[f"largest-{pair}"]

    def details_given(self) -> bool:
        """Something stands, or stands wrong, in the table of finger pairs: then it is shown unfolded."""
        names = [name for pair in self.OTHER_PAIRS for name in (f"comfortable-{pair}", f"largest-{pair}")]
        return any(self[name].value() or self[name].errors for name in names)

    def clean_measured_on(self) -> date:
        day = self.cleaned_data["measured_on"]
        if day > self.today:
            raise ValidationError(_("That day has not come yet."))
        return day

    def clean(self) -> dict[str, Any]:
        fields = super().clean()
        self.check_order("largest", fields.get("comfortable"), fields.get("largest"))
        for pair in self.OTHER_PAIRS:
            self.clean_pair(pair, fields.get(f"comfortable-{pair}"), fields.get(f"largest-{pair}"))
        return fields

    def clean_pair(self, pair: str, comfortable: int | None, largest: int | None) -> None:
        if comfortable is None and largest is None:
            return
        if comfortable is None or largest is None:
            missing = f"comfortable-{pair}" if comfortable is None else f"largest-{pair}"
            if missing not in self.errors:
                self.add_error(missing, _("A pair needs both, or neither."))
            return
        whole = self.cleaned_data.get("largest")
        if whole is not None and largest > whole:
            self.add_error(
                f"largest-{pair}",
                _("Two fingers cannot reach further (%(pair)s) than the whole hand (%(hand)s).")
                % {"pair": an_interval(largest), "hand": an_interval(whole)},
            )
        if self.check_order(f"largest-{pair}", comfortable, largest):
            self.pairs[pair] = [comfortable, largest]

    def check_order(self, name: str, comfortable: int | None, largest: int | None) -> bool:
        """Puts an error on the field when the largest reach is below the comfortable one."""
        if comfortable is None or largest is None or largest >= comfortable:
            return True
        self.add_error(
            name,
            _("The largest reach (%(largest)s) is below the comfortable one (%(comfortable)s). Did they change places?")
            % {"largest": an_interval(largest), "comfortable": an_interval(comfortable)},
        )
        return False

    def sides(self) -> list[str]:
        return list(Side.values) if self.cleaned_data["both"] else [self.cleaned_data["side"]]

    @classmethod
    def like(cls, latest: Mapping[str, Hand]) -> dict[str, Any]:
        """Initial values from the latest measurements, so that only what changed has to be chosen."""
        if not latest:
            return {}
        hand = next(iter(latest.values()))
        fields = {"side": hand.side, "comfortable": hand.comfortable, "largest": hand.largest, "width": hand.width}
        fields["both"] = len(latest) == 2 and len(hands_together(latest)) == 1
        for pair, (comfortable, largest) in hand.pairs.items():
            fields |= {f"comfortable-{pair}": comfortable, f"largest-{pair}": largest}
        return fields
