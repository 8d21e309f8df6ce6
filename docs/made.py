"""A directive for the parts of the manual that the program says itself: `.. made:: folder`.

What can be made stands in `MADE`, once; each function returns reStructuredText.
"""

import re
from collections.abc import Callable, Iterator, Sequence

import click
from docutils import nodes  # type: ignore[import-untyped]
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from chalaza import facts
from chalaza.cli.main import main
from chalaza.exchange import listing
from chalaza.quantities import QUANTITIES
from chalaza.words.advice import TEMPLATES
from chalaza.words.jobs import JOBS


def _commands() -> str:
    return "\n".join(_command(main, "chalaza"))


def _command(command: click.Command, path: str) -> Iterator[str]:
    """A command with its help as the terminal shows it, then those beneath it."""
    context = click.Context(command, info_name=path, terminal_width=96, max_content_width=96)
    yield from (path, "-" * len(path), "", ".. code-block:: text", "")
    yield from (f"   {line}" for line in command.get_help(context).splitlines())
    yield ""
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            if found is not None and not found.hidden:
                yield from _command(found, f"{path} {name}")


def _quantities() -> str:
    head = ("quantity", "unit inside", "can be at all", "shown as")
    rows = [
        (one.words, _unit(one.unit), f"{one.low:,g} to {one.high:,g}", ", ".join(one.displays))
        for one in QUANTITIES.values()
    ]
    return _table(head, rows)


def _kinds() -> str:
    head = ("kind", "key", "days to hatch", "turning ends, day", "loss wanted", "standing of term, loss")
    return _table(head, [_kind(one) for one in facts.kinds().values()])


def _kind(one: facts.Kind) -> tuple[str, ...]:
    term, loss = one.term_d, one.loss_target
    share = f"{100 * loss.low:g} to {100 * loss.high:g} % by day {loss.day_d:g}"
    standing = f"{term.status}, {loss.status}"
    return (
        one.name,
        f"``{one.key}``",
        f"{term.low:g} to {term.high:g}",
        f"{one.stop_turning_d.typical:g}",
        share,
        standing,
    )


def _advice() -> str:
    return _table(("code", "what it says", "what it asks"), [_advised(code) for code in TEMPLATES])


def _advised(code: str) -> tuple[str, ...]:
    one = TEMPLATES[code]
    return (f"``{code}``", *(_literal(text if isinstance(text, str) else text.many) for text in (one.what, one.do)))


def _jobs() -> str:
    return _table(("code", "what it asks", "why"), [_job(code) for code in JOBS if code.count(".") == 1])


def _job(code: str) -> tuple[str, ...]:
    one = JOBS[code]
    return (f"``{code}``", *(_literal(text if isinstance(text, str) else text.many) for text in (one.do, one.because)))


def _literal(text: str) -> str:
    """Words that reStructuredText shall take as they are; holes for figures are left as dots."""
    return re.sub(r"\{[^{}]*\}", "…", text).replace("*", "\\*").replace("`", "\\`").replace("|", "\\|")


def _cautions() -> str:
    head = ("at", "caution", "standing")
    rows = [(row["where"].replace("_", " "), row["text"], row["status"]) for row in facts.table("cautions")]
    return _table(head, rows)


def _unit(unit: str) -> str:
    return "share" if unit == "1" else unit


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [".. list-table::", "   :header-rows: 1", ""]
    for row in (head, *rows):
        lines += [f"   {'* -' if n == 0 else '  -'} {cell}" for n, cell in enumerate(row)]
    return "\n".join(lines) + "\n"


MADE: dict[str, Callable[[], str]] = {
    "folder": listing,
    "commands": _commands,
    "quantities": _quantities,
    "kinds": _kinds,
    "cautions": _cautions,
    "advice": _advice,
    "jobs": _jobs,
}


class Made(SphinxDirective):
    """Text that the program makes, read as if it stood here."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        """The nodes of the text; an unknown name ends the build with the names there are."""
        name = self.arguments[0]
        if name not in MADE:
            raise self.error(f"nothing called {name!r} is made; there are {', '.join(MADE)}")
        return self.parse_text_to_nodes(MADE[name](), allow_section_headings=True)


def setup(app: Sphinx) -> dict[str, bool]:
    """Called by Sphinx."""
    app.add_directive("made", Made)
    return {"parallel_read_safe": True}
