"""From an empty notebook to a batch that is assessed: few fields, each default with its source, slips asked about."""

import re
from typing import Any

import pytest
from django.test import Client
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.pages.filled import again, fields, form_of, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza import facts
from chalaza.facts.kinds import usual_temp
from chalaza.records import acts, answers
from chalaza.records import models as m
from chalaza.values.evidence import Airflow

pytestmark = pytest.mark.usefixtures("stopped")

#: What only a keeper can know, as it is typed on a Friday evening in Berlin.
FIRST = {
    "uid": "first", "kind": "hen", "eggs": "24", "set_at": "2026-04-16T18:00", "batch_name": "Spring hens",
    "parents": "Yard flock", "machine_name": "Larder box", "airflow": "fan", "probe_sort": "display",
    "place_name": "Home", "altitude_m": "140", "zone": "Europe/Berlin",
}  # fmt: skip
SET_AT = 1_776_355_200  # 18:00 in Berlin is 16:00 UTC in summer


def _begin(pages: Client, **written: str) -> Any:
    return pages.post("/begin/", {**FIRST, **written})


def _batch() -> m.Batch:
    return m.Batch.objects.get(uid="first")


# The first batch --------------------------------------------------------------------------------------------------


def test_the_first_batch_asks_for_twelve_things_at_most(pages: Client) -> None:
    needed = form_of(pages.get("/begin/").content.decode()).needed
    assert 0 < len(needed) <= 12
    assert needed == set(FIRST) - {"uid"}


def test_an_empty_notebook_leads_to_a_batch_that_is_assessed(pages: Client) -> None:
    page = pages.get("/begin/")
    assert page.status_code == 200
    response = send(pages, "/begin/", **FIRST)
    assert (response.status_code, response["Location"].split("?")[0]) == (303, "/batches/first/")
    batch = _batch()
    assert (batch.name, batch.kind, batch.zone, batch.set_at) == ("Spring hens", "chicken", "Europe/Berlin", SET_AT)
    stay = batch.stays.get()
    assert (stay.start, stay.machine.name, stay.machine.place.altitude_m) == (SET_AT, "Larder box", 140.0)
    mount = stay.machine.mounts.get()
    assert (mount.probe.sort, mount.probe.name, mount.start) == ("display", "Display of Larder box", SET_AT)
    assert batch.lots.get().parents.name == "Yard flock"
    assessed = answers.of("first", NOW).assessment
    half = assessed.clock.half_hatched
    assert assessed.count.set == 24
    assert half.low < half.value < half.high


def test_what_nobody_typed_is_what_the_tables_hold_as_usual(pages: Client) -> None:
    _begin(pages)
    kind, batch = facts.kind("chicken"), _batch()
    assert batch.planned_temp_degc == kind.temp_forced_degc.typical
    assert batch.planned_rh == kind.rh_setting.typical
    assert batch.turns_per_d is None
    assert batch.wanted_young is None


def test_all_of_it_is_one_act_and_undoing_it_leaves_an_empty_notebook(pages: Client) -> None:
    response = _begin(pages)
    made = m.Act.objects.get(uid=response["Location"].partition("done=")[2])
    assert made.verb == "begin"
    acts.undo(m.Keeper.objects.the_one(), made)
    for model in (m.Batch, m.Egg, m.Lot, m.Stay, m.Machine, m.Place, m.Probe, m.Mount, m.Parents):
        assert not model._default_manager.exists(), model


def test_the_keeper_reads_on_the_clock_of_the_first_place(pages: Client) -> None:
    assert m.Keeper.objects.the_one().zone == "UTC"
    _begin(pages)
    assert m.Keeper.objects.the_one().zone == "Europe/Berlin"


def test_sent_twice_it_is_done_once_and_sent_again_with_other_words_it_is_refused(pages: Client) -> None:
    first, second = _begin(pages), _begin(pages)
    assert first["Location"] == second["Location"]
    assert (m.Batch.objects.count(), m.Egg.objects.count(), m.Place.objects.count()) == (1, 24, 1)
    other = _begin(pages, eggs="6")
    assert other.status_code == 422
    assert "set already" in text_of(other.content.decode())
    assert m.Egg.objects.count() == 24


def test_units_are_those_of_the_keeper(pages: Client) -> None:
    m.Keeper.objects.the_one()
    m.Keeper.objects.update(units="us")
    html = pages.get("/begin/").content.decode()
    assert '<span class="unit">ft</span>' in html
    _begin(pages, altitude_m="460", planned_temp_degc="99.5", height_mm="0.5")
    assert m.Place.objects.get().altitude_m == pytest.approx(140.208)
    assert _batch().planned_temp_degc == pytest.approx(37.5)
    assert m.Mount.objects.get().height_mm == pytest.approx(12.7)


@pytest.mark.parametrize("posted", ["own", "posted"])
def test_posted_eggs_were_laid_nobody_knows_how_high(pages: Client, posted: str) -> None:
    _begin(pages, origin=posted, laid_first="2026-04-08", laid_last="2026-04-14")
    lot = m.Lot.objects.get()
    assert (lot.origin, lot.laid_at) == (posted, "unknown" if posted == "posted" else "here")
    assert (SET_AT - lot.laid_first) / 86_400 == pytest.approx(8.25)  # noon to 18:00
    assert (SET_AT - lot.laid_last) / 86_400 == pytest.approx(2.25)


def test_eggs_are_labelled_by_tray_by_number_or_counted(pages: Client) -> None:
    for number, (how, tray, expected) in enumerate(
        (
            ("tray", "4x7", ["A1", "A7", "B1", "D3"]),
            ("tray", "", ["A1", "B1", "B2", "D6"]),
            ("numbers", "", ["1", "7", "8", "24"]),
        )
    ):
        _begin(pages, uid=f"b{number}", labels=how, tray=tray, place_name=f"Place {number}")
        labels = list(m.Batch.objects.get(uid=f"b{number}").eggs.order_by("id").values_list("label", flat=True))
        assert [labels[0], labels[6], labels[7], labels[23]] == expected
    _begin(pages, uid="group", labels="counted", eggs="600")
    egg = m.Batch.objects.get(uid="group").eggs.get()
    assert (egg.count, egg.label) == (600, "tray")


# What is shown before it is taken ---------------------------------------------------------------------------------


@pytest.mark.parametrize("airflow", ["fan", "still"])
@pytest.mark.parametrize("name", ["hen", "Pekin", "guinea fowl", "pigeon"])
def test_each_default_shows_its_figure_its_sources_and_the_way_to_the_facts(
    pages: Client, name: str, airflow: str
) -> None:
    html = pages.get("/begin/usual/", {"kind": name, "airflow": airflow}).content.decode()
    text, kind = text_of(html), facts.kind(name)
    temp = usual_temp(kind, Airflow(airflow))
    bands = [band for band in (temp, kind.rh_setting, kind.term_d, kind.stop_turning_d) if band is not None]
    assert f"{100 * kind.rh_setting.typical:.0f} % humidity is planned" in text
    assert (f"{temp.typical:.1f} °C" if temp is not None else "none is published") in text
    for band in bands:
        for key in band.sources:
            assert f'href="/sources/#{key}"' in html
            assert facts.sources()[key].cite in text
    page = pages.get(f"/facts/{kind.key}/").content.decode()
    for anchor in re.findall(rf'href="/facts/{kind.key}/#([^"]+)"', html):
        assert f'id="{anchor}"' in page


def test_still_air_asks_for_the_height_of_the_probe_and_a_fan_does_not(pages: Client) -> None:
    still = pages.get("/begin/usual/", {"kind": "hen", "airflow": "still"}).content.decode()
    fan = pages.get("/begin/usual/", {"kind": "hen", "airflow": "fan"}).content.decode()
    assert "how high the probe hangs" in text_of(still)
    assert "how high the probe hangs" not in text_of(fan)


def test_before_there_is_a_kind_nothing_is_taken(pages: Client) -> None:
    for kind in ("", "unheard of", "\x00", "{}"):
        assert "Name the kind of bird" in pages.get("/begin/usual/", {"kind": kind}).content.decode()


def test_cautions_for_whoever_begins_stand_there(pages: Client) -> None:
    assert "Plan homes for the surplus males" in pages.get("/begin/usual/", {"kind": "hen"}).content.decode()
    assert "may need licences" in pages.get("/begin/usual/", {"kind": "pheasant"}).content.decode()


def test_the_zone_of_this_computer_is_offered_with_its_reason(pages: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Asia/Kathmandu")
    page = pages.get("/begin/").content.decode()
    assert form_of(page).values["zone"] == "Asia/Kathmandu"
    assert "This computer’s clock says so." in text_of(page)


# Slips ------------------------------------------------------------------------------------------------------------


def test_a_setting_still_to_come_is_asked_about_and_can_be_now_or_kept(pages: Client) -> None:
    asked = _begin(pages, set_at="2026-05-16T18:00")
    assert asked.status_code == 422
    assert "Sat 16 May 2026, 18:00 is still to come" in text_of(asked.content.decode())
    assert not m.Batch.objects.exists()
    form = form_of(asked.content.decode())
    assert form.values["set_at"] == "2026-05-16T18:00"
    (answer,) = [pair for pair in form.buttons if pair[0] == "answer_set_at"]
    assert again(pages, "/begin/", asked, answer_set_at=answer[1]).status_code == 303
    assert _batch().set_at == NOW - NOW % 60
    kept = _begin(pages, uid="second", set_at="2026-05-16T18:00", keep_set_at="2026-05-16T18:00")
    assert kept.status_code == 303


def test_a_setting_long_over_is_asked_about(pages: Client) -> None:
    asked = _begin(pages, set_at="2025-04-16T18:00")
    assert "so long ago that the batch would be over" in text_of(asked.content.decode())


def test_more_eggs_than_the_tray_has_places_are_asked_about(pages: Client) -> None:
    asked = _begin(pages, tray="4x7", eggs="42")
    assert "42 eggs, but a tray of 4x7 has 28 places" in text_of(asked.content.decode())
    assert again(pages, "/begin/", asked, answer_eggs="28").status_code == 303
    assert m.Egg.objects.count() == 28


def test_fahrenheit_typed_for_celsius_is_asked_about(pages: Client) -> None:
    asked = _begin(pages, planned_temp_degc="99.5")
    assert "99.5 °F, that is 37.5 °C" in text_of(asked.content.decode())
    assert again(pages, "/begin/", asked, answer_planned_temp_degc="99.5 °F").status_code == 303
    assert _batch().planned_temp_degc == pytest.approx(37.5)
    m.Keeper.objects.update(units="us")
    other = _begin(pages, uid="second", planned_temp_degc="37.5")
    assert "37.5 °C, that is 99.5 °F" in text_of(other.content.decode())


def test_two_questions_are_answered_one_after_the_other(pages: Client) -> None:
    asked = _begin(pages, tray="4x7", eggs="42", set_at="2026-05-16T18:00")
    one = again(pages, "/begin/", asked, keep_eggs="42")
    assert one.status_code == 422
    assert "places" not in text_of(one.content.decode())
    both = again(pages, "/begin/", one, keep_set_at="2026-05-16T18:00")
    assert both.status_code == 303
    assert m.Egg.objects.count() == 42


def test_an_hour_that_comes_twice_is_asked_about(pages: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHALAZA_CLOCK", "1792900000")  # Sun 25 October 2026
    asked = _begin(pages, set_at="2026-10-25T02:30")
    assert "came twice that night" in text_of(asked.content.decode())
    first, second = (value for name, value in form_of(asked.content.decode()).buttons if name == "answer_set_at")
    assert again(pages, "/begin/", asked, answer_set_at=second).status_code == 303
    assert _batch().set_at == 1_792_891_800
    assert first != second


# What is not allowed ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("kind", "dragon", "“dragon” is no kind in the tables"),
        ("kind", "", "This is needed."),
        ("eggs", "0", "At least 1, please."),
        ("eggs", "two dozen", "A whole number, please."),
        ("set_at", "yesterday", "is no moment"),
        ("set_at", "2026-03-29T02:30", "does not exist"),
        ("batch_name", "x" * 81, "80"),
        ("airflow", "gale", "Choose one of the list."),
        ("altitude_m", "high", "is no altitude; write it like 140m or 140ft"),
        ("altitude_m", "30000 ft", "allowed: -430 to 5,500 m"),
        ("zone", "Europe/Berlim", "nearest: Europe/Berlin"),
        ("tray", "28", "write its rows and the eggs in a row like 4x7"),
        ("laid_first", "2026-04-17", "is after setting"),
        ("laid_first", "2026-01-01", "more than 60 days before"),
        ("wanted_young", "25", "25 young cannot come out of 24 eggs."),
        ("planned_rh", "160", "allowed: 0 to 100 %"),
        ("batch_name", "a\x00b", "Null characters are not allowed."),
    ],
)
def test_what_is_wrong_is_told_and_what_was_typed_stays(pages: Client, field: str, typed: str, says: str) -> None:
    response = _begin(pages, **{field: typed})
    html = response.content.decode()
    assert response.status_code == 422
    assert says in text_of(html)
    assert not m.Batch.objects.exists()
    kept = form_of(html).values
    assert {name: kept.get(name) for name in FIRST if name not in (field, "airflow")} == {
        name: value for name, value in FIRST.items() if name not in (field, "airflow")
    }
    if field not in ("airflow",):
        assert kept[field] == typed


def test_a_name_in_part_offers_the_kinds_it_may_mean(pages: Client) -> None:
    asked = _begin(pages, kind="golden")
    (answer,) = [value for name, value in form_of(asked.content.decode()).buttons if name == "answer_kind"]
    assert answer == "Golden pheasant"
    assert again(pages, "/begin/", asked, answer_kind=answer).status_code == 303
    assert _batch().kind == "golden_ph"


def test_more_than_four_hundred_eggs_want_to_be_counted(pages: Client) -> None:
    response = _begin(pages, eggs="401")
    assert "More than 400 eggs are counted together" in text_of(response.content.decode())


def test_last_laid_before_first_is_told(pages: Client) -> None:
    response = _begin(pages, laid_first="2026-04-14", laid_last="2026-04-10")
    assert "laid before the first" in text_of(response.content.decode())


# Further batches --------------------------------------------------------------------------------------------------


def test_further_batches_choose_a_machine_that_is_there(pages: Client) -> None:
    assert pages.get("/batches/new/")["Location"] == "/begin/"
    _begin(pages, tray="4x7")
    assert pages.get("/begin/")["Location"] == "/batches/new/"
    held = fields(pages, "/batches/new/")
    assert held["machine"] == "first-machine"
    response = send(
        pages, "/batches/new/", uid="next", kind="Pekin", eggs="9", set_at="2026-04-17T08:00", batch_name="Ducks",
        parents="Yard flock",
    )  # fmt: skip
    assert response["Location"].split("?")[0] == "/batches/next/"
    batch = m.Batch.objects.get(uid="next")
    assert (batch.kind, batch.zone, batch.set_at) == ("duck", "Europe/Berlin", NOW - 10 * 3600 - 40 * 60)
    assert batch.stays.get().machine_id == "first-machine"
    assert list(batch.eggs.order_by("id").values_list("label", flat=True))[6:] == ["A7", "B1", "B2"]
    assert m.Parents.objects.count() == 1


def test_a_machine_can_be_named_in_the_address(pages: Client) -> None:
    _begin(pages)
    acts.act(
        m.Keeper.objects.the_one(),
        "make",
        save=[m.Machine(uid="b", place_id="first-place", name="Box", airflow="still")],
    )
    assert fields(pages, "/batches/new/?machine=b")["machine"] == "b"
    assert fields(pages, "/batches/new/?machine=nothing")["machine"] == ""
    assert "Level with the egg tops" in text_of(
        pages.get("/begin/usual/", {"kind": "hen", "machine": "b"}).content.decode()
    )


# Words and nonsense -----------------------------------------------------------------------------------------------


def test_every_word_of_it_can_be_translated(pages: Client) -> None:
    speak_pseudo()
    known = (*keepers_words(), "Europe/Berlin", "UTC", "Gallus gallus domesticus")
    assert unmarked(pages.get("/begin/").content.decode(), *known) == []
    usual = pages.get("/begin/usual/", {"kind": "hen", "airflow": "still"}).content.decode()
    assert unmarked(usual, *known) == []
    asked = _begin(pages, kind="golden", set_at="2026-05-16T18:00", tray="2x2")
    assert unmarked(asked.content.decode(), *known, "golden") == []


_TYPED = (*FIRST, "tray", "laid_first", "planned_temp_degc")


@settings(max_examples=25)
@given(st.fixed_dictionaries({name: st.text(max_size=40) for name in _TYPED}), st.sampled_from(_TYPED))
def test_whatever_is_typed_it_is_answered(pages: Client, typed: dict[str, str], alone: str) -> None:
    assert pages.post("/begin/", typed).status_code in (303, 422)
    assert _begin(pages, **{alone: typed[alone]}).status_code in (303, 422)
