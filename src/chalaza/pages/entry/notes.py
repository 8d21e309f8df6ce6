"""A note: free words with an hour."""

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza.pages import links
from chalaza.pages.entry import common, plain
from chalaza.pages.entry.common import EntryForm
from chalaza.pages.forms import Words
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.words.language import mark

_TITLE = mark("Note")
_LEAD = mark("A cracked egg, a smell, what you changed and why: what will be asked about later.")


class NoteForm(EntryForm):
    """Free words."""

    text = Words(lines=6, label=mark("What you saw or did"))


@require_http_methods(["GET", "HEAD", "POST"])
def note(request: Asked, uid: str) -> HttpResponse:
    """The form of a note."""
    batch = common.batch_or_404(uid)

    def store(form: NoteForm) -> "m.Act | None":
        row = m.Note(uid=form.act_uid, batch_id=batch.uid, at=form.at_done, text=form.cleaned_data["text"])
        return common.do(request, form, "note", save=[row], subject=batch.name)

    def page(form: NoteForm) -> plain.Page:
        voice = form.voice
        return plain.Page(
            head=common.head(voice, batch, _TITLE, request.now), form=form, lead=(voice.say(_LEAD),),
            fields=(form["text"], form["at"]), key=voice.say(mark("Store the note")), send=links.batch(batch.uid, "note/"),
            label=voice.say(_TITLE),
        )  # fmt: skip

    form = NoteForm(**plain.arguments(request, batch))
    return plain.serve(request, form, page, store, to=common.to_batch(batch))
