"""Reading a log file whole, as it was answered, and letting it count: all of it or nothing."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from chalaza import intake
from chalaza.errors import ReadingError
from chalaza.records import clock, files, logs, series
from chalaza.records import models as m
from chalaza.records.logs import Held
from chalaza.records.work import Outcome
from chalaza.values.evidence import Series
from chalaza.words.language import mark
from chalaza.worker.kinds import Progress

READING, PACKING, STORING = mark("reading the file"), mark("packing the readings"), mark("storing")
#: Where each step ends.
_READ, _PACKED = 0.6, 0.95


def import_log(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Read a file and let it count. The result names the source, or the questions that are left; then nothing is stored.

    Raises `ReadingError` for a file that cannot be read as answered; its text says what to do.
    """
    if (known := logs.in_force(arguments["sha256"])) is not None:
        return Outcome({"known": known.uid})
    progress(0.0, READING)
    reading = _read(arguments, progress)
    questions = [one.code for one in reading.report.questions if one.blocking]
    named, unknown = _ours(reading, arguments["probes"])
    if questions or unknown:
        return Outcome({"asks": questions, "unnamed": unknown, "report": reading.report.to_json()})
    chosen = {uid: log.series() for uid, log in named.items()}
    _check(chosen)
    return _stored(arguments, reading, {log.name: uid for uid, log in named.items()}, chosen, progress)


def _read(arguments: Mapping[str, Any], progress: Progress) -> intake.Reading:
    return intake.read(
        files.path(arguments["sha256"]),
        answers=arguments["answers"],
        zone=arguments["zone"] or None,
        progress=lambda share: progress(_READ * share, READING),
    )


def _ours(reading: intake.Reading, probes: Mapping[str, str]) -> tuple[dict[str, intake.ProbeLog], list[str]]:
    """Our probe -> what the file has of it; and names in the file of which nobody said what they are."""
    found: dict[str, intake.ProbeLog] = {}
    unknown = []
    given = dict(probes)
    if len(reading.probes) == len(given) == 1:  # one is one, whatever its name
        given = {reading.probes[0].name: next(iter(given.values()))}
    for log in reading.probes:
        if log.name not in given:
            unknown.append(log.name)
        elif uid := given[log.name]:
            if uid in found:
                raise ReadingError(
                    f"{found[uid].name!r} and {log.name!r} of the file are both named as one probe: keep one"
                )
            found[uid] = log
    return found, unknown


def _check(chosen: Mapping[str, Series]) -> None:
    if not any(len(one) for one in chosen.values()):
        raise ReadingError(
            "nothing of the file would be kept: no reading of temperature or humidity in it belongs to a probe of yours. "
            "Say which of your probes it is, or leave the file out"
        )
    there = set(m.Probe.objects.filter(uid__in=list(chosen)).values_list("uid", flat=True))
    if gone := sorted(set(chosen) - there):
        raise ReadingError(f"the probe {gone[0]!r} is not in the notebook any more: say anew which probe it is")


def _stored(
    arguments: Mapping[str, Any], reading: intake.Reading, names: Mapping[str, str], chosen: Mapping[str, Series],
    progress: Progress,
) -> Outcome:  # fmt: skip
    """Everything packed and counted, ready to be written at once."""
    source = m.Source(
        uid=arguments["uid"], sort="file", name=arguments["name"], sha256=arguments["sha256"], size=arguments["size"],
        at=clock.now(),
    )  # fmt: skip
    made: list[m.Chunk] = []
    total, done = sum(map(len, chosen.values())), 0
    for uid, one in chosen.items():
        for chunk in series.chunks(uid, source.uid, one):
            made.append(chunk)
            done += chunk.n
            progress(_READ + (_PACKED - _READ) * done / total, PACKING)
    shared = {uid: logs.overlap(uid, one) for uid, one in chosen.items()}
    held = [asdict(Held(probe=uid, n=len(one), first=int(one.t[0]), last=int(one.t[-1])))
            for uid, one in chosen.items() if len(one)]  # fmt: skip
    source.report = {
        **reading.report.to_json(), "held": held, "overlap": {uid: asdict(one) for uid, one in shared.items()},
        "named": dict(names),
        "said": dict(arguments["answers"]), "said_zone": arguments["zone"],
    }  # fmt: skip
    progress(_PACKED, STORING)
    keeper = m.Keeper.objects.filter(uid=arguments["keeper"]).first() or m.Keeper.objects.the_one()

    def write() -> Mapping[str, Any]:
        logs.count(keeper, source, made, arguments["upload"], _recipe(arguments, reading.report.look))
        return {"source": source.uid, "rows": total}

    return Outcome({}, write)


def _recipe(arguments: Mapping[str, Any], look: str) -> "m.Recipe | None":
    """What is remembered for files of this look; on which day a file begins is not, for it is another one each time."""
    if not arguments["remember"]:
        return None
    answers = {code: answer for code, answer in arguments["answers"].items() if code != "start"}
    return m.Recipe(
        look=look, name=arguments["name"], at=clock.now(), answers=answers, zone=arguments["zone"],
        probes=dict(arguments["probes"]),
    )  # fmt: skip
