"""The command line: one group, its commands loaded only when they are called, and what a fault looks like."""

import os
import sys
import traceback
from collections.abc import Mapping
from difflib import get_close_matches
from importlib import import_module
from types import MappingProxyType
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: small matrices are slower on several threads

import click

from chalaza import __version__
from chalaza.errors import BalanceError, ChalazaError, OutOfRange, TableError

#: Command -> its line in the list. Its module has the same name and holds a click command `command`.
COMMANDS: Mapping[str, str] = MappingProxyType(
    {
        "serve": "The notebook in your browser, and on your phone.",
        "begin": "A new batch folder, on the day of setting.",
        "assess": "What to do with a batch today, and why.",
        "read": "Read a logger file, whatever its look.",
        "facts": "What is known about a kind of bird, with sources.",
        "demo": "Three invented batches, in a notebook of their own.",
        "bring": "A batch folder into the notebook.",
        "give": "A batch of the notebook as a folder.",
        "backup": "Everything in one file, while it is in use.",
        "restore": "A backup in the place of the notebook.",
    }
)
#: Commands the program starts by itself: they can be called, and are not listed.
HIDDEN = frozenset({"work"})
#: Exit codes: all well, the keeper's mistake (click's own usage mistakes are 2), a fault of the program, stopped by hand.
FINE, MISTAKE, FAULT, STOPPED = 0, 1, 3, 130
#: Set it to see where a fault happened.
TRACE = "CHALAZA_TRACE"
_OURS = (BalanceError, TableError, OutOfRange)


class Commands(click.Group):
    """A group that imports a command when it is called, so that `--help` does not wait for numpy."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names, in the order a keeper meets them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name."""
        if cmd_name not in COMMANDS and cmd_name not in HIDDEN:
            return None
        found: click.Command = import_module(f"chalaza.cli.{cmd_name}").command
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does, naming the nearest command for one that is not there."""
        if args and args[0] not in {*COMMANDS, *HIDDEN} and not args[0].startswith("-"):
            near = get_close_matches(args[0], COMMANDS, n=1)
            hint = f"; nearest: {near[0]}" if near else ""
            ctx.fail(f"there is no command {args[0]!r}{hint}; allowed: {', '.join(COMMANDS)}")
        return super().resolve_command(ctx, args)

    def main(self, *args: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        """Run; a usage mistake ends with a sentence and the way to the help."""
        extra["standalone_mode"] = False
        if not standalone_mode:
            return super().main(*args, **extra)
        try:
            code = super().main(*args, **extra)
        except click.ClickException as mistake:
            context = getattr(mistake, "ctx", None)
            click.echo(capital(mistake.format_message()), err=True)
            if context is not None:
                click.echo(f"{context.get_usage()}\nMore: {context.command_path} --help", err=True)
            code = mistake.exit_code
        except click.Abort:
            code = STOPPED
        sys.exit(code if isinstance(code, int) else FINE)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a mistake ends with a sentence, a fault of ours with where to report it."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:  # whoever read us has seen enough: nothing is left to flush
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(FINE)
        except _OURS as fault:
            self._fault(ctx, fault)
        except (ChalazaError, OSError) as mistake:
            click.echo(sentence(mistake), err=True)
            ctx.exit(MISTAKE)
        except Exception as fault:
            self._fault(ctx, fault)

    def _fault(self, ctx: click.Context, fault: Exception) -> None:
        if os.environ.get(TRACE):
            traceback.print_exc()
        click.echo(fault_text(fault), err=True)
        ctx.exit(FAULT)


def sentence(mistake: Exception) -> str:
    """A mistake as a sentence."""
    if isinstance(mistake, OSError):
        name = f"{mistake.filename}: " if mistake.filename else ""
        return f"{name}{(mistake.strerror or str(mistake)).lower()}."
    return str(mistake) if getattr(mistake, "file", "") else capital(str(mistake))


def capital(text: str) -> str:
    """`text` with its first letter large."""
    return text[:1].upper() + text[1:]


def fault_text(fault: Exception) -> str:
    """What to say, and send, when the program itself is at fault."""
    last = traceback.extract_tb(fault.__traceback__)[-1:]
    where = "".join(f" at {os.path.basename(frame.filename)}:{frame.lineno}" for frame in last)
    return (
        f"This is a fault of the program, not of yours. Nothing was changed.\n"
        f"  chalaza {__version__}, Python {sys.version.split()[0]}: {type(fault).__name__}{where}: {fault}\n"
        f"Please report it where you got Chalaza: these lines, the command, and the folder or file if you may share it.\n"
        f"With {TRACE}=1 before the command it also shows the way there."
    )


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="chalaza")
def main() -> None:
    """Bring a batch of fertile eggs through a bench-top incubator.

    Chalaza reads what you logged, weighed and saw. It answers four questions about a batch (warmth, water, clock,
    count), says what to do today, and names the check that would help most. Every figure has its 90 % range and its
    source.

    \b
    Start here:
      chalaza demo                   an invented notebook in your browser, to see what it says
      chalaza serve                  your own notebook in your browser
    Without a browser, a folder for each batch:
      chalaza begin my-batch         a folder for your own batch (chalaza begin --help)
      chalaza read logger.csv        what a logger file holds; with --into my-batch it goes in
      chalaza assess my-batch        what to do with it today, and why
      chalaza facts duck             what is known about a kind of bird
    """


if __name__ == "__main__":
    main()
