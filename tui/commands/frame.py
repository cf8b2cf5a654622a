"""What every command shares: the book, the person, the form of the answer, errors.

`--book`, `--as` and `--format` may stand before or after the command's name;
the later one counts. Errors become one sentence with a hint on standard error,
and an exit status that a script can use; unexpected ones keep their traceback
in a log.
"""

from __future__ import annotations

import functools
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from schemas.errors import WitnessmarkError
from tui.commands.output import say

if TYPE_CHECKING:
    from engine.book import Book

EXIT_DONE, EXIT_FOUND, EXIT_WRONG, EXIT_REFUSED = 0, 1, 2, 3


@dataclass
class CommandOptions:
    """The options that every command has."""

    book: str = "."
    person: str = ""
    form: str = "text"

    def open(self) -> Book:
        """The book, opened for the person at the terminal."""
        from engine.book import Book

        book = Book.open(Path(self.book), as_person=self.person)
        if sys.stderr.isatty():
            from tui.commands.progress import Reading

            book.watch(Reading())
        errors = {error.message: error.hint for error in book.past_errors()}
        for warning in book.warnings():
            say(f"{'error' if warning in errors else 'note'}: {warning}")
            if warning in errors:
                say(f"  {errors[warning]}")
        return book


_OPTIONS = (
    click.option("--book", metavar="DIR", help="The book's folder (default: this folder)."),
    click.option(
        "--as", "person", metavar="PERSON", help="Who you are, where the login does not tell."
    ),
    click.option(
        "--format",
        "form",
        type=click.Choice(["text", "json", "csv"]),
        help="Form of the answer (default: text).",
    ),
)


def shared_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add --book, --as and --format; what is given here overrules what stood before."""

    @functools.wraps(function)
    @click.pass_context
    def wrapped(
        context: click.Context,
        /,
        book: str | None,
        person: str | None,
        form: str | None,
        **arguments: Any,
    ) -> Any:
        wanted = context.ensure_object(CommandOptions)
        context.obj = CommandOptions(
            book or wanted.book, person or wanted.person, form or wanted.form
        )
        return context.invoke(function, context.obj, **arguments)

    for option in reversed(_OPTIONS):
        wrapped = option(wrapped)
    return wrapped


def run(group: click.Group, arguments: list[str] | None = None) -> int:
    """Run the command line; the exit status. Nothing that goes wrong shows a traceback."""
    try:
        status = group.main(arguments, prog_name="witnessmark", standalone_mode=False)
        return status if isinstance(status, int) else EXIT_DONE
    except click.exceptions.Abort:
        say("stopped; what was saved is saved")
        return EXIT_WRONG
    except click.ClickException as error:
        error.show()
        return EXIT_WRONG
    except WitnessmarkError as error:
        say(f"witnessmark: {error}")
        if error.hint:
            say(f"  {error.hint}")
        return error.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return EXIT_DONE
    except Exception as error:  # the command's edge: a traceback goes to the log, not to a pipe
        say(f"witnessmark: something unexpected went wrong: {error or type(error).__name__}")
        say(f"  Nothing that was saved is lost. The particulars are in {log_traceback()}")
        return EXIT_WRONG


def log_traceback() -> Path:
    """Write the present traceback to the log; where that is."""
    import platformdirs

    file = platformdirs.user_log_path("witnessmark") / "errors.log"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("a", encoding="utf-8") as log:
            now = datetime.now().astimezone().isoformat()
            log.write(f"--- {now}\n{traceback.format_exc()}\n")
    except OSError as error:  # HOME may be another account's
        say(f"  ({file} cannot be written: {error.strerror})")
        say(traceback.format_exc(limit=-3))
    return file
