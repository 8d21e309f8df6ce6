"""Facts and sources: every figure of the tables with its span, sources and standing; every name finds its kind."""

import re

import pytest
from django.test import Client
from tests.pages.pseudo import speak_pseudo, unmarked
from tests.pages.reading import text_of

from chalaza import facts
from chalaza.words.basis import STATUS_MEANS, STATUSES
from chalaza.words.facts import known, span_words, spans
from chalaza.words.numbers import Voice

pytestmark = pytest.mark.usefixtures("stopped", "db")


@pytest.mark.parametrize("key", sorted(facts.kinds()))
def test_every_figure_of_a_kind_is_shown_with_its_sources(pages: Client, key: str) -> None:
    html = pages.get(f"/facts/{key}/").content.decode()
    text, rows = text_of(html), known(Voice(), key)
    for row in rows:
        figure = row.figure.replace("\u00a0", " ")
        assert figure in text, (row.quantity, figure)
        assert " ".join(row.note.split()) in text
        for source in row.sources:
            assert source.cite in text
            assert f'href="/sources/#{source.key}"' in html
    anchors = re.findall(r'<(?:div|li)[^>]* id="([^"]+)"', html)
    assert len(anchors) == len(set(anchors))
    assert {row.quantity for row in rows if row.group == "wanted"} <= set(anchors)


def test_the_figures_are_those_of_the_tables(pages: Client) -> None:
    text = text_of(pages.get("/facts/duck/").content.decode())
    values = {row["quantity"]: row for row in facts.table("kind_values") if row["kind"] == "duck"}
    term, rh = values["term"], values["rh_setting"]
    assert f"{float(term['typical']):.1f} d ({float(term['low']):.1f}–{float(term['high']):.1f})" in text
    shares = [100 * float(rh[name]) for name in ("typical", "low", "high")]
    assert f"{shares[0]:.0f} % ({shares[1]:.0f}–{shares[2]:.0f}) {STATUSES[rh['status']]}" in text


def test_where_sources_disagree_the_whole_range_stands_first_and_then_each_voice(pages: Client) -> None:
    text, rows = text_of(pages.get("/facts/chicken/").content.decode()), known(Voice(), "chicken")
    whole = spans(rows)
    low, high, n = whole["rh_setting"]
    said = f"humidity until the last days: {span_words(Voice(), 'rh_setting', low, high)}, by {n} voices"
    at = text.index(said.replace("\u00a0", " "))
    for row in rows:
        if row.group == "published" and row.quantity == "rh_setting":
            assert row.figure.replace("\u00a0", " ") in text[at:]


def test_units_are_the_keepers(pages: Client) -> None:
    from chalaza.records import models as m

    m.Keeper.objects.the_one()
    m.Keeper.objects.update(units="us")
    text = text_of(pages.get("/facts/chicken/").content.decode())
    assert "99.5 °F (99.0–100.0)" in text
    assert "37.5 °C (37.2" not in text


def test_kinds_are_listed_and_found_by_any_name(pages: Client) -> None:
    html = pages.get("/facts/").content.decode()
    assert all(f'href="/facts/{key}/"' in html for key in facts.kinds())
    found = pages.get("/facts/", {"q": "quail"}).content.decode()
    listed = re.findall(r'href="/facts/([a-z_]+)/"', found)
    assert listed == ["coturnix", "bobwhite", "calif_quail", "button_quail"]
    assert re.findall(r'href="/facts/([a-z_]+)/"', pages.get("/facts/", {"q": "gosse"}).content.decode())[:1] == [
        "goose_light"
    ]
    assert "No kind of that name." in text_of(pages.get("/facts/", {"q": "dragon"}).content.decode())


def test_another_name_leads_to_the_kind(pages: Client) -> None:
    assert pages.get("/facts/hen/")["Location"] == "/facts/chicken/"
    assert pages.get("/facts/guinea fowl/")["Location"] == "/facts/guinea/"
    assert pages.get("/facts/dragon/").status_code == 404


def test_all_sources_stand_under_their_key_with_how_far_each_was_checked(pages: Client) -> None:
    html = pages.get("/sources/").content.decode()
    text = text_of(html)
    for source in facts.sources().values():
        assert f'id="{source.key}"' in html
        assert f"{source.cite}, {STATUSES[source.status]}" in text
    for meaning in STATUS_MEANS.values():
        assert meaning in text


def test_every_word_can_be_translated(pages: Client) -> None:
    speak_pseudo()
    kinds = [kind.scientific_name for kind in facts.kinds().values()]
    aliases = [alias for kind in facts.kinds().values() for alias in kind.aliases]
    cites = [source.cite for source in facts.sources().values()]
    urls = [source.url for source in facts.sources().values() if source.url]
    units = [row.unit for row in known(Voice(), "duck") if row.unit]
    for url in ("/facts/", "/facts/duck/", "/sources/"):
        left = unmarked(pages.get(url).content.decode(), *kinds, *aliases, *cites, *urls, *units)
        assert left == [], url
