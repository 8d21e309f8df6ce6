"""Words: what codes and figures say, in a language and in the keeper's units. Nothing here computes an answer.

>>> from chalaza.words import Preference, Voice, numbers
>>> numbers.band(Voice(), 37.2, 37.8, "temperature").replace("\\u00a0", " ")
'37.2–37.8 °C (99.0–100.0 °F)'
"""

from chalaza.words.language import Language, language, languages
from chalaza.words.numbers import Preference, Voice

__all__ = ["Language", "Preference", "Voice", "language", "languages"]
