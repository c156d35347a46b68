from __future__ import annotations

from django import forms
from django.core.files.uploadedfile import UploadedFile

from bookings.busy.fetching import MOST_LETTERS, FetchProblem, parsed
from bookings.busy.limits import MOST_BYTES


class UploadForm(forms.Form):
    calendar = forms.FileField(
        label="Calendar file",
        help_text="An .ics file that your calendar program exports.",
        error_messages={
            "required": "Choose the .ics file of your calendar.",
            "empty": "The file is empty. Export the calendar again.",
        },
        widget=forms.ClearableFileInput(attrs={"accept": ".ics,text/calendar"}),
    )

    def clean_calendar(self) -> UploadedFile[bytes]:
        file: UploadedFile[bytes] = self.cleaned_data["calendar"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                f"The file is larger than {MOST_BYTES // 2**20} MB. Export fewer years of the calendar."
            )
        return file


class AddressForm(forms.Form):
    address = forms.CharField(
        label="Address of a calendar",
        help_text="Begins with https:// or webcal://. It is looked at every quarter of an hour.",
        max_length=MOST_LETTERS,
        error_messages={"required": "Paste the address of your calendar."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false", "inputmode": "url"}),
    )

    def clean_address(self) -> str:
        address: str = self.cleaned_data["address"].strip()
        try:
            parsed(address)
        except FetchProblem as problem:
            raise forms.ValidationError(str(problem)) from None
        return address
