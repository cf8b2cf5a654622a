"""What every command shares: the book, the person, the form of the answer, errors.

`--book`, `--as` and `--format` may stand before or after the command's name;
the later one counts. Errors become one sentence with a hint on standard error,
and an exit status that a script can use; unexpected ones keep their traceback
in a log.
"""

from __future__ import annotations

import functools
import logging
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from schemas.errors import WitnessmarkError
from tui.commands.output import NobodyReads, finish, let_go, not_written, say
from tui.error_log import particulars, start_log

if TYPE_CHECKING:
    from engine.book import Book

EXIT_DONE, EXIT_FOUND, EXIT_WRONG, EXIT_REFUSED = 0, 1, 2, 3
EXIT_STOPPED, EXIT_UNREAD = 130, 141  # as if by SIGINT and by SIGPIPE: what shells expect


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

            book.watch(Reading(), Reading("checking: {count:,} documents (Ctrl-C stops)"))
        errors = {error.message: error.hint for error in book.past_errors()}
        for warning in book.warnings():
            say(f"{'error' if warning in errors else 'note'}: {warning}")
            if warning in errors:
                say(f"  {errors[warning]}")
        click.get_current_context().call_on_close(lambda: _tell_notices(book))
        return book


def _tell_notices(book: Book) -> None:
    """What came up on the way, after the answer."""
    for notice in book.notices():
        say(f"note: {notice}")


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
    start_log()
    status = _status_of(lambda: _called(group, arguments))
    return _status_of(_finished) or status  # an answer that is not whole is none


def _called(group: click.Group, arguments: list[str] | None) -> int:
    status = group.main(arguments, prog_name="witnessmark", standalone_mode=False)
    return status if isinstance(status, int) else EXIT_DONE


def _finished() -> int:
    finish()
    return EXIT_DONE


def _status_of(work: Callable[[], int]) -> int:
    """What came of some work, as an exit status; what went wrong is said."""
    try:
        return work()
    except (KeyboardInterrupt, click.exceptions.Abort):
        say("stopped; what was saved is saved")
        return EXIT_STOPPED
    except click.ClickException as error:
        _tell_misuse(error)
        return EXIT_WRONG
    except WitnessmarkError as error:
        say(f"witnessmark: {error}")
        if error.hint:
            say(f"  {error.hint}")
        return error.exit_code
    except (NobodyReads, SystemExit):  # click leaves so where nobody reads its help
        let_go()
        return EXIT_UNREAD
    except Exception as error:  # the command's edge: a traceback goes to the log, not to a pipe
        return _tell_unexpected(error)


def _tell_misuse(error: click.ClickException) -> None:
    """What click has to say: it repeats words of the command line, which may be file names."""
    context = getattr(error, "ctx", None)
    if context is not None:
        say(context.get_usage())
        say(f"Try '{context.command_path} --help' for help.\n")
    say(f"Error: {error.format_message()}")


def _tell_unexpected(error: Exception) -> int:
    """A fault of this program, or standard output that takes no more; the exit status."""
    if isinstance(error, OSError) and _is_of_printing(error):
        return _status_of(lambda: not_written(error))
    logging.getLogger("witnessmark").error("unexpected", exc_info=error)
    say(f"witnessmark: something unexpected went wrong: {error or type(error).__name__}")
    say(f"  Nothing that was saved is lost. {particulars()}")
    return EXIT_WRONG


def _is_of_printing(error: OSError) -> bool:
    """Whether it was click's own help, or the like, that could not be written."""
    steps = traceback.walk_tb(error.__traceback__)
    return any(frame.f_code is click.echo.__code__ for frame, _ in steps)
