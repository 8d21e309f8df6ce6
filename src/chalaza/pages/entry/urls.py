"""The routes of entry, of undo, of the history, and of what waits to be sent."""

from django.urls import URLPattern, path

from chalaza.pages import history, outbox, undo
from chalaza.pages.entry import candle, choose, counted, events, hatch, marks, notes, opened, together, turn, weigh

urlpatterns: list[URLPattern] = [
    path("write/", choose.choose, name="write"),
    path("batches/<uid:uid>/weigh/", weigh.weigh, name="weigh"),
    path("batches/<uid:uid>/weigh/so-far/", weigh.so_far, name="weigh_so_far"),
    path("batches/<uid:uid>/weigh/together/", together.together, name="weigh_together"),
    path("batches/<uid:uid>/candle/", candle.candle, name="candle"),
    path("batches/<uid:uid>/candle/so-far/", candle.so_far, name="candle_so_far"),
    path("batches/<uid:uid>/mark/", marks.marks, name="mark"),
    path("batches/<uid:uid>/note/", notes.note, name="note"),
    path("batches/<uid:uid>/event/", events.event, name="event"),
    path("batches/<uid:uid>/turn/", turn.turn, name="turn"),
    path("batches/<uid:uid>/hatch/", hatch.hatch, name="hatch"),
    path("batches/<uid:uid>/open/", opened.opened, name="open"),
    path("batches/<uid:uid>/open/counted/", counted.counted, name="open_counted"),
    path("machines/<uid:uid>/event/", events.machine_event, name="machine_event"),
    path("form-token/", outbox.form_token, name="form_token"),
    path("undo/<uid:uid>/", undo.undo, name="undo"),
    path("history/", history.history, name="history"),
]
