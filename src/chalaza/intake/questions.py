"""Questions: where a file allows two readings the reader asks, and never guesses.

A *blocking* question keeps back the readings it touches until it is answered; an open one says what was taken
meanwhile and what else it could be.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from chalaza.errors import ReadingError


@dataclass(frozen=True, slots=True)
class Option:
    """One reading: the `key` answers the question, `preview` shows rows as this reading has them."""

    key: str
    words: str
    preview: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """A question about a file. `free` says what may be written where there is no list; `taken` what holds meanwhile."""

    code: str
    words: str
    options: tuple[Option, ...] = ()
    blocking: bool = True
    taken: str = ""
    free: str = ""

    def to_json(self) -> dict[str, Any]:
        """The question as plain values."""
        return {
            "code": self.code,
            "words": self.words,
            "blocking": self.blocking,
            "open": True,
            "taken": self.taken or None,
            "free": self.free or None,
            "options": [{"key": o.key, "words": o.words, "preview": list(o.preview)} for o in self.options],
        }

    def lines(self) -> list[str]:
        """The question for a terminal, with a preview under each option."""
        result = [f"{self.code}: {self.words}"]
        if self.taken:
            result[0] += f" (taken meanwhile: {self.taken})"
        for option in self.options:
            key = f"{self.code}={option.key}  " if option.key else ""
            result.append(f"    {key}{option.words}")
            result += [f"        {line}" for line in option.preview]
        if self.free:
            result.append(f"    {self.code}=...  {self.free}")
        return result


@dataclass(slots=True)
class Asked:
    """Answers given, questions still open, and which answers were used."""

    answers: Mapping[str, str]
    open: list[Question] = field(default_factory=list)
    used: dict[str, str] = field(default_factory=dict)

    def ask(self, question: Question) -> str | None:
        """The answer, or what is taken meanwhile, or None for a blocking question without an answer.

        Raises `ReadingError` for an answer that is not among the options.
        """
        given = self.answers.get(question.code)
        if given is not None:
            keys = [option.key for option in question.options]
            if given not in keys and not question.free:
                raise ReadingError(f"{given!r} is no answer to {question.code!r}; allowed: {', '.join(keys)}")
            self.used[question.code] = given
            return given
        if all(question.code != other.code for other in self.open):
            self.open.append(question)
        return None if question.blocking else question.taken
