"""What is asked of a person who brings a list: the file, what its headings mean, what could be read two ways."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from studio.gear.search import find
from studio.gearlists.recording import unit_key
from studio.importing.heading_words import field_name, fields
from studio.importing.headings import SEVERAL
from studio.importing.reading import Reading
from studio.importing.table import Finding
from studio.models import GearUnit

MOST_BYTES = 10 * 2**20
OPEN = ("", "leave it open")


class ListForm(forms.Form):
    file = forms.FileField(
        label="The list",
        help_text="CSV or XLSX, as the house keeps it: any headings, any language. Nothing changes yet.",
        error_messages={
            "required": "Choose the file of the list.",
            "empty": "The file is empty. Choose the one with the list.",
        },
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def clean_file(self) -> UploadedFile[bytes]:
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            most = MOST_BYTES // 2**20
            raise forms.ValidationError(f"The file is larger than {most} MB. Save the sheet alone, as CSV.")
        return file


class HeadingsForm(forms.Form):
    """One choice for each column, with what stands in it."""

    def __init__(self, *args: Any, reading: Reading, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = fields(reading.layout.sort)
        for column in reading.layout.columns:
            samples = ", ".join(f"“{text}”" for text in reading.samples.get(column.index, ()))
            self.fields[str(column.index)] = forms.ChoiceField(
                label=column.heading,
                choices=[(name, field_name(name)) for name in known],
                initial=column.field,
                help_text=f"Like {samples}" if samples else "Nothing stands in it.",
                error_messages={"invalid_choice": "Choose one of the list."},
            )

    def clean(self) -> dict[str, Any]:
        chosen = super().clean() or self.cleaned_data
        often = Counter(field for field in chosen.values() if field not in SEVERAL)
        for index, field in list(chosen.items()):
            if often[field] > 1:
                self.add_error(index, f"Two columns are taken for “{field_name(field)}”. Choose one of them.")
        return chosen

    @property
    def chosen(self) -> dict[int, str]:
        return {int(index): field for index, field in self.cleaned_data.items()}


class AnswersForm(forms.Form):
    """A field for each question that can be answered here; in a log, one for each unit that it names."""

    def __init__(self, *args: Any, questions: Iterable[Finding], names: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for question in questions:
            self.fields[question.key] = _answer_field(question)
        for name in names:
            self.fields[unit_key(name)] = _unit_field(name)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        for key, tag in list(said.items()):
            if key.startswith("unit: ") and tag and not GearUnit.objects.filter(tag__iexact=tag).exists():
                self.add_error(
                    key, f"No unit is tagged {tag}. Add it under House first, or leave this empty."
                )
        return said

    @property
    def given(self) -> dict[str, str]:
        return {key: value for key, value in self.cleaned_data.items() if value}


def _answer_field(question: Finding) -> forms.Field:
    where = f"Column “{question.column}”" if question.row is None else f"Row {question.row}"
    label = f"{where}: {question.what}"
    if question.options:
        return forms.ChoiceField(label=label, choices=[OPEN, *question.options], required=False)
    return forms.CharField(label=label, max_length=80, required=False)


def _unit_field(name: str) -> forms.Field:
    hits = find(name)
    tags = " or ".join(hit.tag for hit in hits[:3])
    return forms.CharField(
        label=f"Which unit is “{name}”?",
        help_text=f"Its tag, perhaps {tags}." if tags else "Its tag, if the house has it.",
        initial=hits[0].tag if hits and hits[0].exact else "",
        max_length=40,
        required=False,
    )
