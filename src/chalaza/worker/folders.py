"""Bringing an open folder into the notebook: read whole, packed apart from any transaction, written in one."""

from collections.abc import Mapping
from typing import Any

from chalaza import exchange
from chalaza.records import files, folder
from chalaza.records import models as m
from chalaza.records.work import Outcome
from chalaza.words.language import mark
from chalaza.worker.kinds import Progress

READING, PREPARING = mark("reading the folder"), mark("preparing the records")


def bring_folder(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Read a zipped folder and let it count. The result names the batch; or the rows that clash, and nothing is stored.

    Raises `FolderError` for a folder that cannot be read as it stands; its text says file, row and field.
    """
    progress(0.0, READING)
    with files.path(arguments["sha256"]).open("rb") as file:
        evidence, believed = exchange.read_zip(file)
    progress(0.6, PREPARING)
    try:
        ready = folder.prepare(evidence, believed, name=arguments["name"], rename=bool(arguments["rename"]))
    except folder.Clash as clash:
        return Outcome({"clash": [list(row) for row in clash.rows], "batch_name": evidence.batch.name})
    keeper = m.Keeper.objects.filter(uid=arguments["keeper"]).first() or m.Keeper.objects.the_one()

    def write() -> Mapping[str, Any]:
        brought = ready.write(keeper, arguments["uid"])
        return {
            "batch": brought.batch, "act": brought.act.uid, "known": brought.known, "readings": brought.readings,
            "doubled": brought.doubled, "beliefs": believed is not None,
        }  # fmt: skip

    return Outcome({}, write)
