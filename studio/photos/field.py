"""A photo in a form: what comes out is the picture as it may be kept."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.photos.pictures import MOST_BYTES, NotAPicture, cleaned


class PhotoField(forms.FileField):
    """Gives the JPEG that studio.photos.pictures makes of what was sent; nothing where nothing was."""

    widget = forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"})

    def __init__(self, **kwargs: Any) -> None:
        sentences = {"invalid": "That file did not arrive. Choose it again."}
        super().__init__(required=False, allow_empty_file=True, error_messages=sentences, **kwargs)

    def clean(self, data: Any, initial: Any = None) -> bytes:
        sent = super().clean(data, initial)
        if not sent:
            return b""
        if sent.size > MOST_BYTES:
            raise forms.ValidationError(
                f"The picture is over {MOST_BYTES // 1_000_000} MB. Send a smaller one."
            )
        try:
            return cleaned(sent.read())
        except NotAPicture as problem:
            raise forms.ValidationError(str(problem)) from None
