"""Pages of log files: sent, asked about with both readings shown, read as answered, withdrawn, brought back."""

import re
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from chalaza.pages import work as work_page
from chalaza.records import acts, files, logs, series, work
from chalaza.records import models as m
from chalaza.worker.kinds import KINDS, resolved
from chalaza.worker.loop import TOO_LONG

NOW = 1_776_444_000  # a Friday in April 2026, 16:40 UTC
DAYS = "Date,Time,T1 (C),RH,Bat\n" + "".join(
    f"{day:02d}/04/2026,18:{minute:02d},{37 + day / 10:.1f},{40 + day},3.0\n"
    for day in range(1, 13)
    for minute in (0, 10)
)
PLAIN = "Time;Temp (°C);RH (%)\n" + "".join(
    f"2026-04-10 {n // 60:02d}:{n % 60:02d}:00;37.{n % 10};5{n % 10}\n" for n in range(300)
)


@pytest.fixture(autouse=True)
def stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW))


@pytest.fixture
def shed(db: None) -> None:
    """A place with a box, a probe in it and one in the room."""
    place = m.Place(uid="shed", name="Shed", zone="Europe/Berlin")
    box = m.Machine(uid="box", name="Larder box", place=place, airflow="fan")
    probes = [m.Probe(uid="p1", name="P1", sort="digital"), m.Probe(uid="room", name="Room", sort="digital")]
    mounts = [m.Mount(probe_id="p1", machine=box, start=NOW - 10**6), m.Mount(probe_id="room", place=place, start=1)]
    keeper = m.Keeper.objects.the_one()
    keeper.zone = "Europe/Berlin"
    acts.act(keeper, "begin", save=[keeper, place, box, *probes, *mounts])


def _send(pages: Client, text: str | bytes, name: str = "log.csv") -> Any:
    data = text if isinstance(text, bytes) else text.encode()
    return pages.post("/logs/", {"file": SimpleUploadedFile(name, data)})


def _waiting(pages: Client, text: str | bytes, name: str = "log.csv") -> str:
    """Send a file; where it waits."""
    sent = _send(pages, text, name)
    assert sent.status_code == 303, sent.content.decode()
    return str(sent.headers["Location"])


def _text(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", response.content.decode()))


def _do_work() -> None:
    """What the worker does, here and now."""
    while (row := work.take()) is not None:
        arguments = {**row.arguments, "uid": row.uid, "keeper": row.asked_by}
        try:
            outcome = resolved(KINDS[row.kind].function)(arguments, lambda share, text: None)
        except Exception as failed:
            work.fail(row, "{what}", what=str(failed))
        else:
            assert work.finish(row, outcome)


def _read(pages: Client, where: str, **answers: str) -> Any:
    """Answer and read; the page it leads to at last."""
    answered = pages.post(where, {"read": "1", **answers})
    assert answered.status_code == 303, _text(answered)
    at = answered.headers["Location"]
    assert at.startswith("/doing/")
    assert "waits for its turn" in _text(pages.get(at))
    _do_work()
    return pages.get(at)


_P1 = {"zone": "Europe/Berlin", "n-0": "probe", "p-0": "p1"}


def test_an_empty_notebook_says_what_a_log_is_for_and_takes_one(pages: Client) -> None:
    page = pages.get("/logs/")
    assert page.status_code == 200
    assert "No log yet" in _text(page)
    where = _waiting(pages, PLAIN)
    page = pages.get(where)
    assert "No probe is noted yet" in _text(page)
    assert 'href="/probes/new/"' in page.content.decode()
    assert m.Upload.objects.get().name == "log.csv"
    assert not m.Source.objects.exists()


def test_a_date_that_means_two_things_is_shown_both_ways_on_one_scale(pages: Client, shed: None) -> None:
    page = pages.get(_waiting(pages, DAYS, "shed-april.csv"))
    text, source = _text(page), page.content.decode()
    assert "2 questions about this file" in text
    assert "01/04/2026 is Wed 1 April" in text
    assert "01/04/2026 is Sun 4 January" in text
    assert "16 of its readings lie after this moment (hollow)." in text
    assert "Likelier: another way puts 16 readings after this moment." in text
    strips = re.findall(r'<svg[^>]*class="chart strip".*?</svg></svg>', source, re.DOTALL)
    assert len(strips) == 2  # those of the clock show no "now": the record ended days ago
    words = [re.findall(r"<text[^>]*>([^<]*)</text>", one) for one in strips]
    assert words[0] == words[1], "both on one scale"
    assert strips[1].count('fill="var(--paper)"') == 8
    assert re.search(r'name="q-date-order" value="dmy" checked', source)
    assert not m.Source.objects.exists()


def test_an_answered_file_counts_on_the_clock_and_probe_it_was_answered_for(pages: Client, shed: None) -> None:
    where = _waiting(pages, DAYS, "shed-april.csv")
    end = _read(pages, where, **{"q-date-order": "dmy", "zone": "Europe/Berlin", "n-0": "1", "p-0": "p1"})
    assert end.status_code == 303
    source = m.Source.objects.get()
    assert end.headers["Location"] == f"/logs/{source.uid}/?done=log-{source.uid}"
    assert int(series.read("p1").series.t[0]) == 1_775_059_200  # 1 April 2026, 18:00 in Berlin
    page = pages.get(end.headers["Location"])
    text = _text(page)
    assert "Took in a log: shed-april.csv" in text
    assert "P1 : 24 readings" in text
    assert "set back and forth as in Europe/Berlin" in text
    assert "battery" in text
    assert "shed-april.csv" in _text(pages.get("/logs/"))


def test_nothing_is_stored_while_something_is_left_to_answer_and_what_was_chosen_is_kept(
    pages: Client, shed: None
) -> None:
    where = _waiting(pages, DAYS)
    page = pages.post(where, {"read": "1", "zone": "UTC", "n-0": "1", "p-0": "room"})
    assert page.status_code == 422
    source = page.content.decode()
    assert "Choose one of these." in source
    assert re.search(r'name="zone" value="UTC" checked', source)
    assert re.search(r'value="room" selected', source)
    assert not m.Work.objects.exists()
    page = pages.post(where, {"read": "1", "q-date-order": "mdy", "zone": "UTC", "n-0": "1", "p-0": ""})
    assert page.status_code == 422
    assert "Say which of your probes this is" in page.content.decode()
    assert re.search(r'name="q-date-order" value="mdy" checked', page.content.decode())


@pytest.mark.parametrize(("said", "wrong"), [({"zone": "other", "zone_other": "Mars/Base"}, "There is no such clock"),
                                             ({"zone": "other", "zone_other": ""}, "There is no such clock"),
                                             ({"zone": "+99:00"}, "There is no such clock"),
                                             ({"p-0": "-"}, "Keep at least one of the probes")])  # fmt: skip
def test_an_answer_that_cannot_be_is_told_and_kept(pages: Client, shed: None, said: dict[str, str], wrong: str) -> None:
    page = pages.post(_waiting(pages, PLAIN), {"read": "1", **_P1, **said})
    assert page.status_code == 422
    assert wrong in page.content.decode()
    if said.get("zone_other"):
        assert 'value="Mars/Base"' in page.content.decode()
    assert not m.Work.objects.exists()


def test_an_answer_nobody_asked_for_and_one_out_of_the_list_do_no_harm(pages: Client, shed: None) -> None:
    where = _waiting(pages, DAYS)
    page = pages.post(where, {"read": "1", "q-date-order": "backwards", **_P1})
    assert page.status_code == 422
    assert "backwards" in _text(page)
    assert m.Upload.objects.exists()
    end = _read(pages, _waiting(pages, PLAIN, "plain.csv"), **_P1, **{"q-moon": "full"})
    assert "/logs/" in end.headers["Location"]


HOURS = "Time;Temp (°C);RH (%)\n" + "".join(f"{n // 6:02d}:{n % 6}0;37.{n % 10};5{n % 10}\n" for n in range(90))


def test_a_file_that_names_no_day_asks_for_it_and_keeps_what_was_typed(pages: Client, shed: None) -> None:
    where = _waiting(pages, HOURS, "hours.csv")
    assert "When was the first reading?" in _text(pages.get(where))
    wrong = pages.post(where, {"read": "1", **_P1, "q-start": "last Tuesday"})
    assert wrong.status_code == 422
    assert "This is no day and hour" in _text(wrong)
    assert 'value="last Tuesday"' in wrong.content.decode()
    assert pages.post(where, {"read": "1", **_P1}).status_code == 422
    _read(pages, where, **_P1, **{"q-start": "2026-04-10T08:00", "remember": "on"})
    assert int(series.read("p1").series.t[0]) == 1_775_800_800  # 10 April 2026, 8 h in Berlin
    page = pages.get(_waiting(pages, HOURS.replace("37.1", "37.2"), "next.csv"))
    assert "is read as hours.csv was" in _text(page)
    assert 'name="q-start" value=""' in page.content.decode(), "the next file begins on another day"


@pytest.mark.parametrize("odd", [{"p-0": "x\x00"}, {"p-0": "nobody"}, {"n-0": "probe\x00"}, {"zone": "\x00"},
                                 {"zone": "other", "zone_other": "x\x00"}, {"q-start": "\x00"},
                                 {"zone": "../../etc/passwd"}, {"n-0": "", "p-0": "p1"}])  # fmt: skip
def test_what_no_form_of_ours_sends_is_refused_or_left_aside(pages: Client, shed: None, odd: dict[str, str]) -> None:
    page = pages.post(_waiting(pages, PLAIN), {"read": "1", **_P1, **odd})
    assert page.status_code in (303, 422)
    _do_work()
    assert m.Source.objects.count() == (page.status_code == 303)


def test_another_clock_may_be_written(pages: Client, shed: None) -> None:
    _read(pages, _waiting(pages, PLAIN), **{**_P1, "zone": "other", "zone_other": "Asia/Tokyo"})
    assert int(series.read("p1").series.t[0]) == 1_775_779_200 - 9 * 3600 - 0  # 10 April 2026, 0 h in Tokyo


def test_units_without_a_name_are_shown_beside_what_incubators_run_at(pages: Client, shed: None) -> None:
    rows = "".join(f"2026-04-10 {n // 6:02d}:{n % 6}0;{99 + n % 3 / 2:.1f}\n" for n in range(60))
    page = pages.get(_waiting(pages, "Date;Temp\n" + rows))
    text = _text(page)
    assert "Taken one way without asking" in text
    assert "Is Temp in °C or in °F?" in text
    rows = "".join(f"2026-04-10 {n // 6:02d}:{n % 6}0;{50 + n % 9 / 2:.1f}\n" for n in range(60))
    page = pages.get(_waiting(pages, "Date;Temp\n" + rows, "cellar.csv"))
    assert "Likelier: so it reads what a room has." in _text(page)
    assert "incubators" in page.content.decode()
    assert re.search(r'name="q-unit:2" value="degf" checked', page.content.decode())
    assert "in the file read as 50 10.0 °C" in _text(page)


def test_a_file_that_counts_already_is_told_and_adds_nothing(pages: Client, shed: None) -> None:
    _read(pages, _waiting(pages, PLAIN), **_P1)
    again = _send(pages, PLAIN, "copy.csv")
    assert again.status_code == 409
    assert "This file counts already, as log.csv. Nothing was added." in _text(again)
    assert m.Source.objects.get().uid in again.content.decode()
    assert m.Source.objects.count() == 1


def test_what_two_logs_share_counts_once_and_is_told(pages: Client, shed: None) -> None:
    _read(pages, _waiting(pages, PLAIN), **_P1)
    more = PLAIN + "2026-04-10 05:00:00;37.9;59\n"
    end = _read(pages, _waiting(pages, more, "longer.csv"), **_P1)
    text = _text(pages.get(end.headers["Location"]))
    assert "300 were there already, the same: they count once." in text
    assert "log.csv" in text
    assert len(series.read("p1").series) == 301
    assert "300 of them were there already and count once." in _text(pages.get("/logs/"))


def test_undo_withdraws_a_log_and_puts_its_file_back_to_wait(pages: Client, shed: None) -> None:
    end = _read(pages, _waiting(pages, PLAIN), **_P1)
    source = m.Source.objects.get()
    page = pages.get(end.headers["Location"])
    undo = re.search(r'action="(/undo/[^"]*)"', page.content.decode())
    assert undo is not None
    assert pages.post(undo[1], {"back": f"/logs/{source.uid}/"}).status_code == 303
    assert len(series.read("p1").series) == 0
    assert "Withdrawn: nothing of it counts." in _text(pages.get(f"/logs/{source.uid}/"))
    assert m.Upload.objects.get().sha256 == source.sha256


def test_a_log_is_withdrawn_and_taken_in_again(pages: Client, shed: None) -> None:
    _read(pages, _waiting(pages, PLAIN), **_P1)
    uid = m.Source.objects.get().uid
    assert pages.post(f"/logs/{uid}/withdraw/").headers["Location"].startswith(f"/logs/{uid}/?done=")
    assert len(series.read("p1").series) == 0
    assert "Sun\u00a017\u00a0May" in pages.get(f"/logs/{uid}/").content.decode()  # 30 days later it is gone
    pages.post(f"/logs/{uid}/take-again/")
    assert len(series.read("p1").series) == 300
    pages.post(f"/logs/{uid}/withdraw/")
    m.Source.objects.filter(uid=uid).update(purged=True)
    page = pages.post(f"/logs/{uid}/take-again/")
    assert page.status_code == 409
    assert "upload the file anew" in _text(page)


def test_a_log_can_be_read_otherwise_with_its_answers_as_they_were(pages: Client, shed: None) -> None:
    _read(pages, _waiting(pages, DAYS), **{"q-date-order": "dmy", "zone": "UTC", "n-0": "1", "p-0": "p1"})
    uid = m.Source.objects.get().uid
    again = pages.post(f"/logs/{uid}/read-otherwise/")
    assert again.status_code == 303
    assert m.Source.objects.get(uid=uid).withdrawn
    assert "2 questions about this file" in _text(pages.get(again.headers["Location"]))
    _read(pages, again.headers["Location"], **{"q-date-order": "mdy", "zone": "UTC", "n-0": "1", "p-0": "room"})
    assert len(series.read("p1").series) == 0
    assert len(series.read("room").series) == 24


def test_a_file_is_left_out_and_that_is_undone(pages: Client, shed: None) -> None:
    where = _waiting(pages, PLAIN)
    out = pages.post(where, {"leave": "1"})
    assert out.headers["Location"].startswith("/logs/?done=")
    assert not m.Upload.objects.exists()
    assert pages.get(where).status_code == 404
    acts.undo(m.Keeper.objects.the_one(), m.Act.objects.get(verb="leave_log"))
    assert pages.get(where).status_code == 200


def test_answers_kept_are_used_for_the_next_file_of_this_look(pages: Client, shed: None) -> None:
    answers = {"q-date-order": "dmy", "zone": "+01:00", "n-0": "1", "p-0": "room", "remember": "on"}
    _read(pages, _waiting(pages, DAYS, "april.csv"), **answers)
    page = pages.get(_waiting(pages, DAYS.replace("/04/2026", "/05/2026"), "may.csv"))
    text, source = _text(page), page.content.decode()
    assert "A file to read in" in text
    assert "may.csv is read as april.csv was, whose answers you kept." in text
    assert re.search(r'name="q-date-order" value="dmy" checked', source)
    assert re.search(r'name="zone" value="\+01:00" checked', source)
    assert re.search(r'value="room" selected', source)


def test_a_question_that_only_the_whole_file_raises_is_put_afterwards(pages: Client, shed: None) -> None:
    rows = [
        f"2026-03-{1 + n // 1440:02d} {n // 60 % 24:02d}:{n % 60:02d}:00;37.{n % 10};5{n % 10}" for n in range(9000)
    ]
    fallen = [f"2000-01-01 00:{n:02d}:00;37.{n % 10};5{n % 10}" for n in range(50)]
    where = _waiting(pages, "\n".join(["Time;Temp (°C);RH (%)", *rows, *fallen]) + "\n", "long.csv")
    assert "One question about this file" in _text(pages.get(where))
    assert "Shown is the beginning of the file." in _text(pages.get(where))
    back = _read(pages, where, **_P1)
    assert back.headers["Location"] == where
    assert not m.Source.objects.exists()
    page = pages.get(where)
    assert "The clock of the logger fell back to its start. What about those rows?" in _text(page)
    assert pages.post(where, {"read": "1", **_P1}).status_code == 422
    _read(pages, where, **_P1, **{"q-clock-reset": "drop"})
    assert len(series.read("p1").series) == 9000


def test_what_the_rest_of_a_large_file_settles_is_not_asked(pages: Client, shed: None) -> None:
    # The first 64 KiB are two days that may be 1 and 2 April or 4 January and 4 February; the last rows are the 13th.
    rows = [f"{1 + n // 1440:02d}/04/2026 {n // 60 % 24:02d}:{n % 60:02d};37.{n % 10};5{n % 10}" for n in range(1440)]
    rows += [f"{day:02d}/04/2026 12:{n % 60:02d};37.{n % 10};5{n % 10}" for day in range(2, 14) for n in range(60)]
    rows += [f"13/04/2026 {13 + n // 60:02d}:{n % 60:02d};37.0;55" for n in range(600)]
    where = _waiting(pages, "\n".join(["Time;Temp (°C);RH (%)", *rows]) + "\n", "settled.csv")
    text = _text(pages.get(where))
    assert "Which way round are the dates?" not in text
    assert "One question about this file" in text
    _read(pages, where, **_P1)
    assert int(series.read("p1").series.t[0]) == 1_775_001_600 - 7200  # 1 April, not 4 January


def test_what_is_no_log_is_told_and_kept_until_it_is_left_out(pages: Client, shed: None) -> None:
    where = _waiting(pages, b"%PDF-1.4 something", "report.pdf")
    page = pages.get(where)
    assert page.status_code == 200
    assert "This file cannot be read as it is" in _text(page)
    assert "PDF document" in _text(page)
    assert pages.post(where, {"read": "1", **_P1}).status_code == 422
    assert m.Upload.objects.exists()


def test_a_file_that_is_gone_from_the_folder_is_told(pages: Client, shed: None) -> None:
    where = _waiting(pages, PLAIN + "2026-04-11 00:00:00;37;55\n")
    files.drop(m.Upload.objects.get().sha256)
    assert "Send it again." in _text(pages.get(where))


def test_a_file_too_large_or_a_full_disk_is_refused_before_it_is_taken_in(
    pages: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "MOST_BYTES", 1000)
    large = _send(pages, "x" * 200_000)
    assert large.status_code == 413
    assert "at most 0 MB are taken in at once. Split it, by month for example" in _text(large)
    just = _send(pages, "x" * 2000)  # within what a form may hold besides, so it is found out while it is kept
    assert just.status_code == 422
    monkeypatch.undo()
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW))
    monkeypatch.setattr(files.shutil, "disk_usage", lambda place: type("Usage", (), {"free": 2**20})())
    full = _send(pages, PLAIN)
    assert full.status_code == 413
    assert "The disk has 1 MB left" in _text(full)
    assert "entries are still kept" in _text(pages.get("/logs/"))
    assert not m.Upload.objects.exists()


def test_a_form_without_a_file_says_so(pages: Client) -> None:
    page = pages.post("/logs/", {})
    assert page.status_code == 422
    assert "Choose a file first" in _text(page)


def test_a_form_from_elsewhere_is_refused_as_all_are(db: None) -> None:
    strict = Client(
        SERVER_NAME="127.0.0.1", HTTP_HOST="127.0.0.1", HTTP_ORIGIN="http://127.0.0.1", enforce_csrf_checks=True
    )
    assert _send(strict, PLAIN).status_code == 403
    assert not m.Upload.objects.exists()


def test_names_of_files_are_text_and_lead_nowhere(pages: Client, shed: None) -> None:
    where = _waiting(pages, PLAIN, "..\\..\\<i>evil{x}\u202e.csv")
    upload = m.Upload.objects.get()
    assert "\\" not in upload.name
    assert "<i>" not in pages.get(where).content.decode()
    assert "{x}" in pages.get(where).content.decode()
    assert "{x}" in pages.get("/logs/").content.decode()


def test_a_hostile_cell_is_shown_as_text(pages: Client, shed: None) -> None:
    text = PLAIN.replace("Temp (°C)", "<script>alert(1)</script> Temp (°C)").replace("37.5", "=HYPERLINK({0})")
    page = pages.get(_waiting(pages, text))
    assert page.status_code == 200
    assert "<script>alert" not in page.content.decode()


def test_the_file_comes_back_as_an_attachment_and_never_inline(pages: Client, shed: None) -> None:
    _read(pages, _waiting(pages, PLAIN, "shed log.csv"), **_P1)
    uid = m.Source.objects.get().uid
    got = pages.get(f"/logs/{uid}/file/")
    assert got.headers["Content-Disposition"].startswith("attachment;")
    assert got.headers["Content-Type"] == "application/octet-stream"
    assert got.headers["X-Content-Type-Options"] == "nosniff"
    assert b"".join(got.streaming_content) == PLAIN.encode()  # type: ignore[attr-defined]  # a file's answer
    assert pages.get("/logs/nothing/file/").status_code == 404


@pytest.mark.parametrize("path", ["/logs/x/", "/logs/waiting/x/", "/doing/x/"])
def test_what_is_not_there_is_no_page(pages: Client, path: str) -> None:
    assert pages.get(path).status_code == 404


@pytest.mark.parametrize(
    "path", ["/logs/x/withdraw/", "/logs/x/take-again/", "/logs/x/read-otherwise/", "/doing/x/cancel/"]
)
def test_what_changes_something_is_asked_by_a_form_alone(pages: Client, path: str) -> None:
    assert pages.get(path).status_code == 405
    assert pages.post(path).status_code == 404


def test_looking_changes_nothing(pages: Client, shed: None) -> None:
    where = _waiting(pages, DAYS)
    before = [m.Act.objects.count(), m.Upload.objects.count(), m.Work.objects.count()]
    for _ in range(2):
        pages.get(where)
        pages.get("/logs/")
    assert [m.Act.objects.count(), m.Upload.objects.count(), m.Work.objects.count()] == before


def test_work_is_looked_at_each_second_and_leads_on_at_its_end(pages: Client, shed: None) -> None:
    where = _waiting(pages, PLAIN)
    at = pages.post(where, {"read": "1", **_P1}).headers["Location"]
    assert pages.get(where).headers["Location"] == at, "a file that is being read shows how far it is"
    page = pages.get(at)
    assert 'hx-trigger="every 1s"' in page.content.decode()
    assert "Look again" in _text(page)
    row = work.take()
    assert row is not None
    work.progress(row, 0.42, "packing the readings")
    part = pages.get(at, headers={"HX-Request": "true"})
    assert part.content.decode().lstrip().startswith("<section")
    assert "packing the readings" in _text(part)
    assert "42 %" in _text(part)
    outcome = resolved(KINDS[row.kind].function)({**row.arguments, "uid": row.uid, "keeper": "keeper"}, lambda *_: None)
    work.finish(row, outcome)
    assert pages.get(at, headers={"HX-Request": "true"}).headers["HX-Redirect"].startswith(f"/logs/{row.uid}/")
    assert pages.get(at).status_code == 303


def test_work_can_be_stopped_and_the_file_waits_on(pages: Client, shed: None) -> None:
    where = _waiting(pages, PLAIN)
    at = pages.post(where, {"read": "1", **_P1}).headers["Location"]
    assert pages.post(f"{at}cancel/").status_code == 303
    page = pages.get(at)
    assert "Stopped as you asked. Nothing of it was stored." in _text(page)
    assert f'href="{where}"' in page.content.decode()
    assert "The last time it could not be read: Stopped as you asked." in _text(pages.get(where))


def test_work_that_failed_says_why_and_leads_back(pages: Client, shed: None) -> None:
    where = _waiting(pages, PLAIN)
    at = pages.post(where, {"read": "1", **_P1}).headers["Location"]
    row = work.take()
    assert row is not None
    work.fail(row, TOO_LONG, limit="5")
    assert "It took longer than it may (5 minutes) and was stopped" in _text(pages.get(at))
    assert "It took longer than it may (5 minutes)" in _text(pages.get(where))
    assert pages.post(where, {"read": "1", "uid": "second", **_P1}).headers["Location"] == "/doing/second/"


def test_work_nobody_begins_with_says_what_to_do(pages: Client, shed: None, monkeypatch: pytest.MonkeyPatch) -> None:
    at = pages.post(_waiting(pages, PLAIN), {"read": "1", **_P1}).headers["Location"]
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW + 60))
    assert "start Chalaza anew" in _text(pages.get(at))


def test_a_form_sent_twice_is_read_once(pages: Client, shed: None) -> None:
    where = _waiting(pages, PLAIN)
    first = pages.post(where, {"read": "1", "uid": "tapped", **_P1})
    second = pages.post(where, {"read": "1", "uid": "tapped", **_P1})
    assert first.headers["Location"] == second.headers["Location"]
    _do_work()
    assert m.Work.objects.count() == 1
    assert m.Source.objects.count() == 1


def test_several_files_at_once_wait_together(pages: Client, shed: None) -> None:
    sent = pages.post("/logs/", {"file": [SimpleUploadedFile("a.csv", PLAIN.encode()),
                                          SimpleUploadedFile("b.csv", DAYS.encode())]})  # fmt: skip
    assert sent.headers["Location"] == "/logs/"
    assert [one.name for one in m.Upload.objects.all()] == ["a.csv", "b.csv"]


def test_readings_of_a_batch_folder_stand_among_the_logs(pages: Client) -> None:
    from tests.records.demo import put_all

    put_all(NOW)
    text = _text(pages.get("/logs/"))
    assert "Speckled hens" in text
    assert "with a batch folder" in text
    uid = m.Source.objects.order_by("id").first()
    assert uid is not None
    assert pages.get(f"/logs/{uid.uid}/").status_code == 200


def test_old_sources_are_leafed_through(pages: Client, shed: None) -> None:
    keeper = m.Keeper.objects.the_one()
    made = [m.Source(sort="file", name=f"log {n}", at=NOW, report={"held": []}) for n in range(45)]
    acts.act(keeper, "log", save=made)
    page = pages.get("/logs/")
    older = re.search(r'href="(/logs/\?before=\d+)"', page.content.decode())
    assert older is not None
    assert "log 44" in _text(page)
    assert "log 4 " in _text(pages.get(older[1]))
    assert pages.get("/logs/?before=x").status_code == 200


def test_every_kind_of_work_that_leads_somewhere_is_known() -> None:
    assert set(work_page._LEADS) <= set(KINDS)
    assert logs.IMPORT in work_page._LEADS


@pytest.mark.logs
def test_a_real_log_with_a_question_goes_from_sending_to_counting(pages: Client, shed: None, shared: Path) -> None:
    name = "showcase_date_comma_time_semicolon.csv"
    where = _waiting(pages, (shared / "data" / "logs" / name).read_bytes(), name)
    page = pages.get(where)
    text = _text(page)
    assert "Which way round are the dates?" in text
    assert "07.08.25 is Thu 7 August" in text
    assert "07.08.25 is Tue 8 July" in text
    assert "07.08.25 is Sat 25 August 2007" in text
    strips = re.findall(r'class="chart strip".*?</svg>', page.content.decode(), re.DOTALL)
    assert strips
    assert not any(">2007<" in one for one in strips), "on one line with 2007 the others would look the same"
    assert "Nothing speaks for one of them." in text
    assert pages.post(where, {"read": "1", **_P1}).status_code == 422
    end = _read(pages, where, **_P1, **{"q-date-order": "dmy"})
    found = series.read("p1").series
    assert len(found) == 10
    assert found.rh.tolist() == pytest.approx([0.55] * 10)
    assert int(found.t[0]) == 1_754_517_600  # 7 August 2025, 0 h in Berlin
    assert "10 readings" in _text(pages.get(end.headers["Location"]))
