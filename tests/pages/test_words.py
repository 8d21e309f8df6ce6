"""The tags of sentences: looked up first, escaped then, filled last; what a person typed is never a sentence with holes."""

from typing import Any

import pytest
from django.template import Context, Template

from chalaza.words.language import language
from chalaza.words.numbers import Voice


def _shown(text: str, *, spoken: str = "en", **context: Any) -> str:
    return Template(text).render(Context({"voice": Voice(language=language(spoken)), **context}))


def test_holes_are_filled_and_escaped() -> None:
    assert _shown('{% say "Lost {what}." what=typed %}', typed="<b>") == "Lost &lt;b&gt;."


@pytest.mark.parametrize("typed", ["{x}", "{", "}{", "{0}", "100 %s", "{{a}}"])
def test_words_with_braces_are_shown_as_they_were_typed(typed: str) -> None:
    assert _shown("{% say typed %}", typed=typed) == typed
    assert _shown('{% say "It says {what}" what=typed %}', typed=typed) == f"It says {typed}"


def test_a_text_is_looked_up_before_it_is_escaped() -> None:
    assert _shown("{% say typed %}", spoken="pseudo", typed="hen's & cock") == "⟦ħéń&#x27;ś &amp; ćóćķ⟧"


def test_a_plural_is_chosen_by_its_number() -> None:
    text = '{% say_n n "{n} egg of {whose}" "{n} eggs of {whose}" whose=whose %}'
    assert _shown(text, n=1, whose="<us>") == "1 egg of &lt;us&gt;"
    assert _shown(text, n=24, whose="us") == "24 eggs of us"


def test_nothing_to_say_says_nothing() -> None:
    assert _shown("{% say typed %}", typed="") == ""
