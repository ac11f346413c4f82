"""The form of the start page."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from station.first_run import FirstPerson, is_setup_code
from station.models import Person

LARGEST_FILE = 1_000_000


def new_password() -> forms.PasswordInput:
    return forms.PasswordInput(attrs={"autocomplete": "new-password"})


class StartForm(forms.Form):
    """``register`` is asked for where no station is there yet."""

    code = forms.CharField(
        label=gettext_lazy("Setup code"),
        max_length=40,
        help_text=gettext_lazy("The server's console shows it when the server starts."),
    )
    register = forms.FileField(
        label=gettext_lazy("Register file"),
        allow_empty_file=True,
        help_text=gettext_lazy("The description of the station, a TOML file."),
    )
    first_name = forms.CharField(
        label=gettext_lazy("First name of the engineer in charge"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "given-name"}),
    )
    last_name = forms.CharField(
        label=gettext_lazy("Last name"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "family-name"}),
    )
    username = forms.CharField(
        label=gettext_lazy("User name"),
        max_length=150,
        validators=[UnicodeUsernameValidator()],
        widget=forms.TextInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(label=gettext_lazy("Password"), strip=False, widget=new_password())
    again = forms.CharField(
        label=gettext_lazy("Password once more"), strip=False, widget=new_password()
    )

    def __init__(self, *args: Any, needs_register: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        if not needs_register:
            del self.fields["register"]

    def clean_code(self) -> str:
        code = self.cleaned_data["code"]
        if not is_setup_code(code):
            raise ValidationError(_("That is not the code on the server's console."))
        return code

    def clean_register(self) -> str:
        file = self.cleaned_data["register"]
        if file.size > LARGEST_FILE:
            raise ValidationError(_("A register file is smaller than 1 MB: is it the right one?"))
        try:
            text = file.read().decode("utf-8")
        except UnicodeDecodeError as error:
            sentence = _("It is not UTF-8 text (byte %(byte)s): save it as UTF-8.")
            raise ValidationError(sentence % {"byte": error.start}) from error
        if not text.strip():
            raise ValidationError(_("The file is empty."))
        return text

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        password, again = data.get("password"), data.get("again")
        if password and again and password != again:
            self.add_error("again", _("The two passwords are not the same: type both once more."))
        if password:
            self.check_password(password, data)
        return data

    def check_password(self, password: str, data: dict[str, Any]) -> None:
        names = {name: data.get(name, "") for name in ("username", "first_name", "last_name")}
        try:
            validate_password(password, Person(**names))
        except ValidationError as error:
            self.add_error("password", error)

    @property
    def first_person(self) -> FirstPerson:
        data = self.cleaned_data
        return FirstPerson(
            data["username"], data["first_name"], data["last_name"], data["password"]
        )
