"""Fields of setting up: days, zones, trays and water surfaces as they are typed."""

import pytest
from django import forms

from chalaza.pages.setup.common import SetForm, fill
from chalaza.pages.setup.fields import AreasField, Day, KindField, Tick, TrayField, ZoneField
from chalaza.records import models as m
from chalaza.words.numbers import Preference, Voice


class _Form(SetForm):
    kind = KindField(required=False)
    day = Day(required=False)
    zone = ZoneField(required=False)
    tray = TrayField(required=False)
    troughs_cm2 = AreasField(required=False)
    mapped = Tick()


def _form(units: Preference = Preference.BOTH, **data: str) -> _Form:
    return _Form(data, voice=Voice(units=units), zone="Europe/Berlin")


@pytest.mark.parametrize(
    ("typed", "units", "kept"),
    [
        ("80 230", Preference.BOTH, "80 230"),
        ("80, 230;12,5", Preference.METRIC, "80 230 12.5"),
        ("10", Preference.US, "64.516"),
        ("80 cm² 10 in²", Preference.US, "80 64.516"),
        ("", Preference.BOTH, ""),
        ("  ;  ", Preference.BOTH, ""),
    ],
)
def test_water_surfaces_are_kept_in_square_centimetres(typed: str, units: Preference, kept: str) -> None:
    form = _form(units, troughs_cm2=typed)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["troughs_cm2"] == kept


@pytest.mark.parametrize("typed", ["wide", "80 x", "-4", "1e9", "80 g"])
def test_what_is_no_surface_is_told(typed: str) -> None:
    form = _form(troughs_cm2=typed)
    assert "open water surface" in str(form.errors["troughs_cm2"])


@pytest.mark.parametrize(
    ("kept", "units", "shown"), [("80 230", "both", "80 230"), ("64.516", "us", "10"), ("a b", "us", "a b")]
)
def test_surfaces_are_shown_in_the_keepers_unit(kept: str, units: str, shown: str) -> None:
    form = _Form(voice=Voice(units=Preference(units)), initial={"troughs_cm2": kept})
    assert form["troughs_cm2"].value() == shown


def test_a_day_is_its_noon_on_the_clock_of_the_place() -> None:
    form = _form(day="2026-10-25")
    assert form.is_valid()
    assert form.cleaned_data["day"] == 1_792_926_000  # 12:00 in winter time is 11:00 UTC
    assert _Form(voice=Voice(), zone="Europe/Berlin", initial={"day": 1_792_926_000})["day"].value() == "2026-10-25"


@pytest.mark.parametrize("typed", ["25.10.2026", "2026-02-30", "2026-10-24..2026-10-25", "soon"])
def test_what_is_no_day_is_told(typed: str) -> None:
    assert "That is no day. Write it like 2026-10-24." in str(_form(day=typed).errors["day"])


def test_a_tray_is_kept_in_one_form_and_a_zone_by_its_name() -> None:
    form = _form(tray=" 4 × 7 ", zone="Europe/Lisbon", kind="Pekin")
    assert form.is_valid(), form.errors
    assert (form.cleaned_data["tray"], form.cleaned_data["zone"]) == ("4x7", "Europe/Lisbon")
    assert form.cleaned_data["kind"] == "duck"
    assert "nearest" in str(_form(zone="Europe/Lisboa").errors["zone"])


def test_a_kind_is_held_by_its_name_and_sent_back_it_is_the_same_kind() -> None:
    for key in ("chicken", "coturnix", "goose_heavy"):
        held = _Form(voice=Voice(), initial={"kind": key})["kind"].value()
        assert held != key
        form = _form(kind=str(held))
        assert form.is_valid()
        assert form.cleaned_data["kind"] == key


def test_only_what_was_written_over_is_put_into_a_record() -> None:
    row = m.Machine(uid="a", name="Box", troughs_cm2="80.123456", tray="odd")
    row._state.adding = False
    form = _Form(
        {"troughs_cm2": "80.123", "tray": "4x7"}, voice=Voice(), initial={"troughs_cm2": "80.123456", "tray": "odd"}
    )
    assert form.is_valid()
    fill(row, form, "troughs_cm2", "tray")
    assert (row.troughs_cm2, row.tray) == ("80.123456", "4x7")


def test_names_of_forms_are_such_as_rows_may_have() -> None:
    for given in ("", "a b", "\x00", "x" * 200, "ö", "fine-1"):
        form = _form(uid=given)
        assert (form.own_uid == given) is (given == "fine-1")
        assert len(form.act_uid) < 100
    same, other = _form(uid="u", tray="4x7"), _form(uid="u", tray="4x8")
    assert same.act_uid == _form(uid="u", tray="4x7").act_uid != other.act_uid
    assert isinstance(same.fields["uid"].widget, forms.HiddenInput)
