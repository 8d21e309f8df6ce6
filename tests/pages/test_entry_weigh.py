"""Weighing egg by egg: stored once, questioned where it can hardly be, in the keeper's units, with and without a script."""

from collections.abc import Mapping
from urllib.parse import quote

import pytest
from django.test import Client
from tests.pages.entering import DUCKS, HENS, by_script, done, held, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.pages.entry import expected
from chalaza.records import acts, answers
from chalaza.records import models as m
from chalaza.words.numbers import Preference

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
WEIGH = f"{HENS}weigh/"
EGG = "hens-egg1"
FIELD = f"g-{EGG}"


def _hoped(egg: str = EGG) -> float:
    """What an egg is expected to weigh now. [g]"""
    batch = m.Batch.objects.get(uid="hens-batch")
    span = expected.masses(batch, [m.Egg.objects.get(uid=egg)], NOW)[egg].on.expected
    return round(0.5 * (span.low + span.high), 1)


def _swapped(value: float) -> float:
    """The same figures, the first two the other way round."""
    text = f"{value:.1f}"
    return float(text[1] + text[0] + text[2:])


def test_every_egg_that_is_in_has_a_line_with_what_is_expected(pages: Client, shown: Batches) -> None:
    html = pages.get(WEIGH).content.decode()
    fields = opened(pages, WEIGH)
    assert sum(name.startswith("g-") for name in fields) == 28
    assert html.count('class="yet"') == 28
    assert "first" in text_of(html)
    assert "expect" in text_of(html)


def test_all_lines_sent_at_once_are_one_act_and_one_session(pages: Client, shown: Batches) -> None:
    eggs = list(m.Egg.objects.filter(batch__uid="hens-batch").order_by("id")[:5])
    before = m.Weighing.objects.count()
    answer = send(pages, WEIGH, {f"g-{egg.uid}": str(_hoped(egg.uid)) for egg in eggs})
    assert answer.status_code == 303
    assert answer["Location"].startswith(HENS)
    rows = list(m.Weighing.objects.order_by("-id")[:5])
    assert m.Weighing.objects.count() == before + 5
    assert len({row.session for row in rows}) == 1
    assert {row.at for row in rows} == {NOW - NOW % 60}
    act = m.Act.objects.get(uid=done(answer))
    assert (act.verb, act.batch, act.changes.count()) == ("weigh", "hens-batch", 5)


def test_sent_twice_it_is_stored_once_and_answered_alike(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, WEIGH), FIELD: str(_hoped())}
    first, second = pages.post(WEIGH, form), pages.post(WEIGH, form)
    assert (first.status_code, first["Location"]) == (second.status_code, second["Location"])
    assert m.Weighing.objects.filter(session=form["session"]).count() == 1
    assert m.Act.objects.filter(uid=form["uid"]).count() == 1


def test_an_egg_weighed_again_in_a_session_is_put_right_and_not_added(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, WEIGH), FIELD: str(_hoped())}
    by_script(pages, WEIGH, form)
    by_script(pages, WEIGH, {**form, "uid": "second", FIELD: f"{float(form[FIELD]) + 0.1:.1f}"})
    row = m.Weighing.objects.get(session=form["session"])
    assert row.gross_g == pytest.approx(float(form[FIELD]) + 0.1)
    acts.undo(m.Keeper.objects.the_one(), m.Act.objects.get(uid="second"))
    assert m.Weighing.objects.get(session=form["session"]).gross_g == pytest.approx(float(form[FIELD]))


def test_a_page_opened_again_goes_on_where_it_was_left(pages: Client, shown: Batches) -> None:
    first = {**opened(pages, WEIGH), FIELD: str(_hoped())}
    by_script(pages, WEIGH, first)
    html = pages.get(WEIGH).content.decode()
    assert held(html)["session"] == first["session"]
    assert f'data-last-egg="{EGG}"' in html
    assert html.count('class="yet"') == 27
    anew = opened(pages, f"{WEIGH}?new=1")
    assert anew["session"] != first["session"]


def test_the_moment_a_script_took_is_the_moment_of_the_weighing(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, WEIGH), FIELD: str(_hoped())}
    answer = by_script(pages, WEIGH, {**form, "at_s": str(NOW - 400)})
    assert answer.json() == {"done": form["uid"]}
    assert m.Weighing.objects.get(session=form["session"]).at == NOW - 400


def test_swapped_figures_are_asked_about_with_the_likely_ones_first_and_nothing_is_stored(
    pages: Client, shown: Batches
) -> None:
    meant = _hoped()
    form = {**opened(pages, WEIGH), FIELD: str(_swapped(meant))}
    answer = by_script(pages, WEIGH, form)
    assert answer.status_code == 422
    said = answer.json()
    assert "two figures swapped" in " ".join(said["refused"]).lower()
    assert said["ways"][0] == {"name": f"answer_{FIELD}", "value": str(meant), "label": f"{meant}\u00a0g"}
    assert said["ways"][-1]["name"] == f"keep_{FIELD}"
    assert not m.Act.objects.filter(uid=form["uid"]).exists()
    for way, stored in ((said["ways"][0], meant), (said["ways"][-1], _swapped(meant))):
        with_answer = {**form, "uid": f"u-{way['name']}", way["name"]: way["value"]}
        assert by_script(pages, WEIGH, with_answer).status_code == 200
        assert m.Weighing.objects.get(session=form["session"]).gross_g == stored


def test_without_a_script_the_question_stands_at_its_line_and_what_was_typed_stays(
    pages: Client, shown: Batches
) -> None:
    typed = str(_swapped(_hoped()))
    answer = send(pages, WEIGH, {FIELD: typed, "g-hens-egg2": str(_hoped("hens-egg2"))})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert f'name="answer_{FIELD}" value="{_hoped()}"' in html
    assert f'name="keep_{FIELD}" value="{typed}"' in html
    assert held(html)[FIELD] == typed
    assert held(html)["g-hens-egg2"] == str(_hoped("hens-egg2"))
    kept = pages.post(WEIGH, {**held(html), f"keep_{FIELD}": typed})
    assert kept.status_code == 303


@pytest.mark.parametrize(
    ("typed", "says"), [("heavy", "write it like"), ("-3", "allowed: 0 to 60,000 g"), ("0", "no more than")]
)
def test_what_is_no_weight_is_told_with_what_is_allowed_and_stays(
    pages: Client, shown: Batches, typed: str, says: str
) -> None:
    answer = send(pages, WEIGH, {FIELD: typed})
    assert answer.status_code == 422
    assert says in text_of(answer.content.decode())
    assert held(answer.content.decode())[FIELD] == typed


def test_nothing_written_and_eggs_of_another_batch_are_told(pages: Client, shown: Batches) -> None:
    assert "at least one" in text_of(send(pages, WEIGH).content.decode())
    answer = by_script(pages, WEIGH, {**opened(pages, WEIGH), "g-ducks-egg1": "70"})
    assert answer.status_code == 422
    assert "not in this batch" in " ".join(answer.json()["refused"])
    assert not m.Weighing.objects.filter(eggs="ducks-egg1", at__gte=NOW - 60).exists()


def test_a_session_of_no_page_is_refused(pages: Client, shown: Batches) -> None:
    answer = send(pages, WEIGH, {FIELD: str(_hoped()), "session": "another one"})
    assert answer.status_code == 422
    assert "too old" in " ".join(
        by_script(pages, WEIGH, {**opened(pages, WEIGH), FIELD: "50", "session": "x"}).json()["refused"]
    )


def test_a_cup_is_taken_off_before_anything_is_judged_and_is_remembered(pages: Client, shown: Batches) -> None:
    gross = f"{_hoped() + 12.5:.1f}"
    assert by_script(pages, WEIGH, {**opened(pages, WEIGH), FIELD: gross}).status_code == 422
    assert send(pages, WEIGH, {FIELD: gross, "tare": "12.5"}).status_code == 303
    row = m.Weighing.objects.order_by("-id")[0]
    assert (row.tare_g, row.gross_g) == (12.5, float(gross))
    assert held(pages.get(WEIGH).content.decode())["tare"] == "12.5"


def test_a_keeper_of_ounces_weighs_in_ounces(pages: Client, shown: Batches) -> None:
    keeper = m.Keeper.objects.the_one()
    m.Keeper.objects.filter(pk=keeper.pk).update(units=Preference.US)
    form = opened(pages, WEIGH)
    assert form["scale"] == "oz:0.01"
    ounces = f"{_hoped() / 28.349523125:.2f}"
    assert by_script(pages, WEIGH, {**form, FIELD: ounces}).status_code == 200
    row = m.Weighing.objects.get(session=form["session"])
    assert row.gross_g == pytest.approx(float(ounces) * 28.349523125)
    assert row.resolution_g == pytest.approx(0.2834952)


def test_grams_on_a_scale_of_ounces_are_asked_about_in_ounces(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, f"{WEIGH}?scale=oz:0.01"), FIELD: str(_hoped())}
    assert form["scale"] == "oz:0.01"
    said = by_script(pages, WEIGH, form).json()
    assert "Meant in grams?" in " ".join(said["refused"])
    assert said["ways"][0]["value"] == f"{_hoped() / 28.349523125:.2f}"


def test_the_scale_is_remembered_by_an_act_of_its_own(pages: Client, shown: Batches) -> None:
    answer = send(pages, WEIGH, {FIELD: f"{_hoped():.2f}", "scale": "g:0.01"})
    assert answer.status_code == 303
    assert held(pages.get(f"{DUCKS}weigh/").content.decode())["scale"] == "g:0.01"
    assert not m.Act.objects.get(uid=done(answer)).changes.filter(model="Keeper").exists()


def test_a_moment_to_come_and_one_before_setting_are_asked_about(pages: Client, shown: Batches) -> None:
    ahead = send(pages, WEIGH, {FIELD: str(_hoped()), "at": "2026-04-18T18:00"})
    assert "still to come" in text_of(ahead.content.decode())
    assert 'name="answer_at" value="2026-04-17T18:00"' in ahead.content.decode()
    assert 'name="keep_at"' not in ahead.content.decode()
    before = send(pages, WEIGH, {FIELD: str(_hoped()), "at": "2026-03-01T18:00"})
    assert "before the eggs were set" in text_of(before.content.decode())
    assert 'name="keep_at" value="2026-03-01T18:00"' in before.content.decode()


def test_what_was_just_weighed_is_told_so_far(pages: Client, shown: Batches) -> None:
    form = opened(pages, WEIGH)
    so_far = f"{WEIGH}so-far/?session={form['session']}"
    assert text_of(pages.get(so_far).content.decode()).strip() == ""
    for n in range(1, 4):
        egg = f"hens-egg{n}"
        by_script(pages, WEIGH, {**form, "uid": f"w{n}", f"g-{egg}": str(_hoped(egg))})
    text = text_of(pages.get(so_far).content.decode())
    loss = answers.of("hens-batch", NOW).assessment.water.loss_now
    assert f"{100 * loss.value:.1f}" in text
    assert "from 3 eggs" in text


@pytest.mark.parametrize("sign", ["\x00", "'", "%", "<b>"])
def test_signs_that_no_name_has_are_refused_and_never_looked_up(pages: Client, shown: Batches, sign: str) -> None:
    form = {**opened(pages, WEIGH), FIELD: str(_hoped())}
    for name in ("uid", "session", "scale", "at", FIELD):
        assert pages.post(WEIGH, {**form, name: f"x{sign}"}).status_code in (303, 422)
    assert pages.get(f"{WEIGH}so-far/", {"session": f"x{sign}"}).status_code == 200
    assert pages.get(WEIGH, {"scale": sign, "done": sign}).status_code == 200
    assert pages.get(f"/batches/x{quote(sign)}/weigh/").status_code == 404


def test_no_such_batch_and_no_such_way(pages: Client, shown: Batches) -> None:
    assert pages.get("/batches/nobody/weigh/").status_code == 404
    assert pages.post("/batches/nobody/weigh/", {}).status_code == 404
    assert pages.put(WEIGH).status_code == 405
    assert pages.post(f"{WEIGH}so-far/").status_code == 405


def test_a_batch_in_no_machine_is_weighed_by_its_kind_alone(pages: Client, empty: None) -> None:
    keeper = m.Keeper.objects.the_one()
    batch = m.Batch(uid="b", name="Fresh", kind="chicken", set_at=NOW - 600)
    acts.act(
        keeper,
        "make",
        save=[batch, m.Egg(uid="e", batch_id="b", label="A1"), m.Egg(uid="g", batch_id="b", label="rest", count=6)],
    )
    url = "/batches/b/weigh/"
    assert by_script(pages, url, {**opened(pages, url), "g-e": "58.2", "g-g": "351"}).status_code == 200
    odd = by_script(pages, url, {**opened(pages, f"{url}?new=1"), "g-e": "5.8"})
    assert "odd for such an egg" in " ".join(odd.json()["refused"])
    assert odd.json()["ways"][0]["value"] == "58.0"
    assert "Not to be told yet" in text_of(
        pages.get(f"{url}so-far/?session={m.Weighing.objects.all()[0].session}").content.decode()
    )


def test_a_group_is_weighed_as_one_and_an_unknown_kind_without_questions(pages: Client, empty: None) -> None:
    batch = m.Batch(uid="b", name="Odd", kind="phoenix", set_at=NOW - 600)
    acts.act(m.Keeper.objects.the_one(), "make", save=[batch, m.Egg(uid="g", batch_id="b", label="rest", count=6)])
    assert send(pages, "/batches/b/weigh/", {"g-g": "351"}).status_code == 303
    row = m.Weighing.objects.get()
    assert (row.eggs, row.gross_g) == ("g", 351.0)


def test_what_was_weighed_without_reception_counts_though_the_egg_was_taken_out_since(
    pages: Client, shown: Batches
) -> None:
    page = opened(pages, WEIGH)
    egg = m.Egg.objects.get(uid=EGG)
    egg.removed_at = NOW - 600
    acts.act(m.Keeper.objects.the_one(), "remove", save=[egg])
    before = {**page, FIELD: str(_hoped()), "at": "", "at_s": str(NOW - 1200)}
    after = {**before, "uid": "later", "at_s": str(NOW - 300)}
    assert by_script(pages, WEIGH, after).status_code == 422
    assert by_script(pages, WEIGH, before).status_code == 200
    assert m.Weighing.objects.filter(eggs=EGG, at=NOW - 1200).count() == 1
