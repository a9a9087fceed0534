"""What is filled in on the tuition screens."""

import uuid
from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from studio.locales import figures, money_words, read_amount
from studio.models import Account, Billing, Charge, Discount, Enrolment, Guardian, Payment, Plan, Student, Studio
from studio.money import NoAmount, most, places

DAY = {"type": "date"}


class DayField(forms.DateField):
    def __init__(self, **options: Any) -> None:
        super().__init__(widget=forms.DateInput(DAY, format="%Y-%m-%d"), **options)


class MoneyField(forms.CharField):
    """An amount as it is written where the studio is; its value is in minor units. Never below zero."""

    def __init__(self, *, studio: Studio, allow_zero: bool = False, **options: Any) -> None:
        self.studio, self.allow_zero = studio, allow_zero
        widget = forms.TextInput({"inputmode": "decimal", "autocomplete": "off", "class": "short"})
        super().__init__(max_length=30, widget=widget, **options)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            return figures(value, self.studio.currency, self.studio.locale)
        return value

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        currency = self.studio.currency
        try:
            minor = read_amount(text, currency, self.studio.locale)
        except NoAmount:
            raise ValidationError(self.no_amount(), code="invalid") from None
        if minor < 0 or (minor == 0 and not self.allow_zero):
            raise ValidationError(_("The amount must be above zero."), code="low")
        return minor

    def no_amount(self) -> str:
        """What an amount looks like here, in words."""
        currency, where = self.studio.currency, self.studio.locale
        example = figures(123450 if places(currency) else 1235, currency, where)
        limit = money_words(int(most(currency)) * 10 ** places(currency), currency, where)
        words = {"example": example, "places": places(currency), "limit": limit}
        if not places(currency):
            return _("Not an amount. An example is %(example)s; no decimals, at most %(limit)s.") % words
        return _("Not an amount. An example is %(example)s; at most %(places)s decimals and %(limit)s.") % words


class LedgerForm(forms.Form):
    """A form that writes one entry: its hidden key keeps the entry from being written twice."""

    key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, studio: Studio, today: date, **options: Any) -> None:
        initial = {"key": uuid.uuid4(), "day": today} | (options.pop("initial", None) or {})
        super().__init__(*args, initial=initial, **options)
        self.studio, self.today = studio, today

    def once(self) -> str:
        return f"hand-{self.cleaned_data['key']}"

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if abs((day - self.today).days) > 366 * 5:
            raise ValidationError(_("That day is years away. Is it right?"))
        return day


class PayForm(LedgerForm):
    """Two fields are enough: amount and method."""

    amount = forms.CharField()
    method = forms.ChoiceField(label=_("Paid by"), choices=Payment.Method.choices)
    day = DayField(label=_("Day"))
    reference = forms.CharField(
        label=_("Reference"),
        max_length=120,
        required=False,
        help_text=_("Number of the transfer or cheque, if you like."),
    )

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, studio=studio, **options)
        self.fields["amount"] = MoneyField(studio=studio, label=_("Amount, %s") % studio.currency)
        self.order_fields(["amount", "method", "day", "reference"])

    def clean_day(self) -> date:
        day = super().clean_day()
        if day > self.today:
            raise ValidationError(_("That day has not come yet."))
        return day

    def more_given(self) -> bool:
        """Something stands, or stands wrong, in the fields that are folded away."""
        return self.is_bound and bool(self.errors.keys() & {"day", "reference"})


class ChargeForm(LedgerForm):
    """Something beside tuition, or a correction, on one account."""

    KINDS = [
        (Charge.Kind.MATERIALS, _("materials")),
        (Charge.Kind.RECITAL, _("recital")),
        (Charge.Kind.TUITION, _("tuition")),
        ("more", _("correction: more is owed")),
        ("less", _("correction: less is owed")),
    ]

    kind = forms.ChoiceField(label=_("Kind"), choices=KINDS, widget=forms.RadioSelect)
    text = forms.CharField(label=_("For"), max_length=160, help_text=_("The family reads it."))
    amount = forms.CharField()
    student = forms.ModelChoiceField(
        Student.objects.none(), label=_("Student"), required=False, empty_label=_("nobody in particular")
    )
    day = DayField(label=_("Day"))

    def __init__(self, *args: Any, studio: Studio, students: Iterable[Student], **options: Any) -> None:
        super().__init__(*args, studio=studio, **options)
        self.fields["amount"] = MoneyField(studio=studio, label=_("Amount, %s") % studio.currency)
        self.fields["student"].queryset = students
        self.order_fields(["kind", "text", "amount", "student", "day"])

    def entry(self) -> dict[str, Any]:
        """What `entries.charge` takes."""
        given = self.cleaned_data
        kind = given["kind"]
        is_correction = kind in ("more", "less")
        return {
            "kind": Charge.Kind.ADJUSTMENT if is_correction else kind,
            "minor": -given["amount"] if kind == "less" else given["amount"],
            "text": given["text"],
            "student": given["student"],
            "day": given["day"],
            "once": self.once(),
        }


class SeveralForm(LedgerForm):
    """The same for several students at once: a recital, music that all play from."""

    KINDS = [(kind.value, kind.label) for kind in (Charge.Kind.RECITAL, Charge.Kind.MATERIALS, Charge.Kind.TUITION)]
    SHARES = [("each", _("each pays this amount")), ("all", _("all together pay this amount: it is divided"))]

    kind = forms.ChoiceField(
        label=_("Kind"), choices=KINDS, widget=forms.RadioSelect({"class": "inline"}), initial="recital"
    )
    text = forms.CharField(label=_("For"), max_length=160, help_text=_("The families read it."))
    amount = forms.CharField()
    share = forms.ChoiceField(label=_("Who pays how much"), choices=SHARES, widget=forms.RadioSelect, initial="each")
    day = DayField(label=_("Day"))
    students = forms.MultipleChoiceField(label=_("Students"), widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, studio: Studio, enrolments: Iterable[Enrolment], **options: Any) -> None:
        super().__init__(*args, studio=studio, **options)
        self.enrolments = {str(enrolment.student_id): enrolment for enrolment in enrolments}
        self.fields["amount"] = MoneyField(studio=studio, label=_("Amount, %s") % studio.currency)
        self.fields["students"].choices = [(pk, one.student.name) for pk, one in self.enrolments.items()]
        self.order_fields(["kind", "text", "amount", "share", "day", "students"])

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        count, minor = len(given.get("students", ())), given.get("amount")
        if given.get("share") == "all" and minor is not None and 0 < minor < count:
            self.add_error("amount", _("Divided over %(count)d students, some would pay nothing.") % {"count": count})
        return given

    def chosen(self) -> list[tuple[Student, Account]]:
        found = [self.enrolments[pk] for pk in self.cleaned_data["students"]]
        return [(one.student, one.account) for one in found]


class AccountForm(forms.ModelForm):
    """A family's account."""

    class Meta:
        model = Account
        fields = ["name", "guardians", "email", "address", "no_reminders"]
        labels = {"name": _("Name of the account"), "guardians": _("Who may read it")}
        widgets = {
            "guardians": forms.CheckboxSelectMultiple,
            "address": forms.Textarea({"rows": 3}),
            "email": forms.EmailInput({"autocomplete": "off"}),
            "name": forms.TextInput({"autocomplete": "off"}),
        }
        help_texts = {
            "name": _("As it stands on invoices: “Berge family”."),
            "guardians": _("With a login they see this account, its invoices and nobody else's."),
            "email": _("Reminders go here; without it to the guardians."),
        }

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["guardians"].queryset = Guardian.objects.filter(studio=studio)
        if not self.instance.pk:
            del self.fields["no_reminders"]


class PlanForm(forms.ModelForm):
    """A plan with its first price."""

    amount = forms.CharField()
    from_day = DayField(label=_("Price from"))

    class Meta:
        model = Plan
        fields = ["name", "per", "lessons", "divided"]
        widgets = {
            "per": forms.RadioSelect,
            "divided": forms.RadioSelect,
            "name": forms.TextInput({"autocomplete": "off"}),
        }
        help_texts = {"name": _("For example “45 minutes, weekly”."), "lessons": _("Only for a package.")}

    def __init__(self, *args: Any, studio: Studio, today: date, **options: Any) -> None:
        super().__init__(*args, initial={"from_day": today.replace(day=1)}, **options)
        self.fields["amount"] = MoneyField(studio=studio, allow_zero=True, label=_("Price, %s") % studio.currency)
        self.fields["per"].choices = Plan.Per.choices
        self.order_fields(["name", "per", "lessons", "amount", "from_day", "divided"])

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("per") == Plan.Per.PACKAGE:
            if not given.get("lessons") and "lessons" not in self.errors:
                self.add_error("lessons", _("How many lessons has the package?"))
        else:
            given["lessons"] = None
        return given


class PriceForm(forms.Form):
    """A new price from a day on."""

    amount = forms.CharField()
    from_day = DayField(label=_("From"))

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["amount"] = MoneyField(studio=studio, allow_zero=True, label=_("Price, %s") % studio.currency)
        self.order_fields(["amount", "from_day"])


class DiscountForm(forms.ModelForm):
    class Meta:
        model = Discount
        fields = ["second", "further", "order", "from_day"]
        widgets = {"order": forms.RadioSelect, "from_day": forms.DateInput(DAY, format="%Y-%m-%d")}
        help_texts = {"second": _("0 for none.")}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["order"].choices = Discount.Order.choices
        for name in ("second", "further"):
            self.fields[name].widget.attrs |= {"min": 0, "max": 100, "class": "short"}


class EnrolForm(forms.Form):
    """A plan and an account for a student. With no account chosen a new one is opened for the family."""

    plan = forms.ModelChoiceField(Plan.objects.none(), label=_("Plan"), empty_label=None)
    account = forms.ModelChoiceField(
        Account.objects.none(), label=_("Account"), required=False, empty_label=_("a new account for the family")
    )
    name = forms.CharField(
        label=_("Name of the new account"),
        max_length=120,
        required=False,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    first_day = DayField(label=_("From"), help_text=_("Charges are written from this day on, not before."))

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["plan"].queryset = Plan.objects.filter(studio=studio, retired=False)
        self.fields["account"].queryset = Account.objects.filter(studio=studio)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if not given.get("account") and not given.get("name") and "account" not in self.errors:
            self.add_error("name", _("Choose an account, or name a new one."))
        return given


class EndForm(forms.Form):
    last_day = DayField(label=_("Last day"), required=False, help_text=_("Empty: no end."))


class BillingForm(forms.ModelForm):
    """What stands on invoices."""

    class Meta:
        model = Billing
        fields = ["address", "words", "due_days", "tax_name", "tax_rate", "tax_number", "by_itself"]
        widgets = {"address": forms.Textarea({"rows": 3}), "words": forms.Textarea({"rows": 3})}
        labels = {"tax_name": _("Tax, by name"), "by_itself": _("Write charges every day by itself")}
        help_texts = {
            "words": _("Bank account and whatever a family needs to know to pay. It stands on each invoice."),
            "tax_name": _("Empty for no tax line. Whether you ask for tax, and which, local law decides."),
            "tax_rate": _("Your prices include it."),
            "by_itself": _("Off: charges wait on the tuition page until you have looked at them."),
        }

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if bool(given.get("tax_name")) != (given.get("tax_rate") is not None) and "tax_rate" not in self.errors:
            self.add_error(
                "tax_rate" if given.get("tax_name") else "tax_name", _("A tax line needs both, name and rate.")
            )
        return given


class SpanForm(forms.Form):
    """From a day to a day."""

    first = DayField(label=_("From"))
    last = DayField(label=_("To"))

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("first") and given.get("last") and given["last"] < given["first"]:
            self.add_error("last", _("This day lies before the first."))
        return given


class RemindForm(forms.Form):
    """The words of a reminder. Its hidden key keeps it from being sent twice."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    subject = forms.CharField(label=_("Subject"), max_length=200)
    text = forms.CharField(label=_("Words"), max_length=4000, widget=forms.Textarea({"rows": 12}))

    def __init__(self, *args: Any, initial: dict[str, Any], **options: Any) -> None:
        super().__init__(*args, initial={"key": uuid.uuid4()} | initial, **options)

    def clean_subject(self) -> str:
        return " ".join(self.cleaned_data["subject"].split())
