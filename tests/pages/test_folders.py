"""A batch out of the browser as a folder, and in again; what clashes is shown before anything is stored."""

import io
from dataclasses import replace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from tests.records.demo import NOW, put, put_all

from chalaza import exchange
from chalaza.assess import prior_beliefs
from chalaza.records import gather
from chalaza.records import models as m
from chalaza.records import work as queue
from chalaza.scenario import demo
from chalaza.values.evidence import Evidence
from chalaza.worker.folders import bring_folder

pytestmark = pytest.mark.django_db


def _zip(evidence: Evidence) -> SimpleUploadedFile:
    target = io.BytesIO()
    exchange.write_zip(target, evidence, prior_beliefs(evidence.batch.kind))
    return SimpleUploadedFile("ducks.zip", target.getvalue())


def _worked() -> m.Work:
    """Do what waits, as the worker would."""
    row = queue.take()
    assert row is not None
    outcome = bring_folder({**row.arguments, "uid": row.uid, "keeper": row.asked_by}, lambda share, message: None)
    assert queue.finish(row, outcome)
    return m.Work.objects.get(uid=row.uid)


def test_a_batch_goes_out_as_an_attachment_that_reads_back_the_same(pages: Client) -> None:
    uid = put_all()["pond-ducks"].uid
    response = pages.get(f"/batches/{uid}/folder.zip")
    assert response.headers["Content-Disposition"] == 'attachment; filename="pond-ducks.zip"'
    evidence, believed = exchange.read_zip(io.BytesIO(b"".join(response.streaming_content)))
    assert evidence == gather.evidence(uid)
    assert believed is not None


def test_a_batch_that_no_folder_can_carry_says_why(pages: Client) -> None:
    put(demo.batches(NOW)["pond-ducks"])
    m.Stay.objects.all().delete()
    response = pages.get("/batches/ducks-batch/folder.zip")
    assert response.status_code == 409
    assert "say which one the eggs are in" in response.content.decode()


def test_a_zip_is_brought_in_by_the_worker_and_sent_twice_it_is_one(pages: Client) -> None:
    evidence = demo.batches(NOW)["pond-ducks"]
    for _ in range(2):
        response = pages.post("/bring/", {"uid": "once", "file": _zip(evidence)})
        assert (response.status_code, response.headers["Location"]) == (303, "/doing/once/")
    work = _worked()
    assert queue.take() is None
    assert work.result["batch"] == evidence.batch.uid
    assert gather.evidence(evidence.batch.uid) == evidence
    assert m.Batch.objects.get().carried


def test_rows_that_clash_are_shown_and_get_new_names_on_the_keepers_word(pages: Client) -> None:
    made = demo.batches(NOW)
    put(made["orchard-quail"])
    ducks = made["pond-ducks"]
    box = replace(ducks.setting.machines[0], volume_l=19.0)
    pages.post(
        "/bring/", {"uid": "first", "file": _zip(replace(ducks, setting=replace(ducks.setting, machines=(box,))))}
    )
    assert _worked().result["clash"] == [["machine", "small-box"]]
    assert m.Batch.objects.count() == 1
    assert "Small box" in pages.get("/bring/first/clash/").content.decode()
    pages.post("/bring/first/renamed/", {"uid": "second"})
    brought = _worked().result["batch"]
    assert gather.evidence(brought).setting.machines[0].volume_l == 19.0
    assert m.Machine.objects.get(uid="small-box").volume_l == 18.0


@pytest.mark.parametrize(("sent", "says"), [(b"", "empty"), (None, "Choose the zip file")])
def test_no_file_is_told(pages: Client, sent: bytes | None, says: str) -> None:
    data = {"uid": "x"} if sent is None else {"uid": "x", "file": SimpleUploadedFile("a.zip", sent)}
    response = pages.post("/bring/", data)
    assert response.status_code == 422
    assert says in response.content.decode()
    assert not m.Work.objects.exists()


def test_pages_for_what_is_not_there_are_not_found(pages: Client) -> None:
    for path in ("/batches/none/folder.zip", "/bring/none/clash/"):
        assert pages.get(path).status_code == 404
    assert pages.get("/bring/none/renamed/").status_code == 405
