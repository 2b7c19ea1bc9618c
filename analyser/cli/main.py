"""The command ``analyser``: finds the verb, runs it, and turns every ending into an exit code.

0 done; 1 the tool itself failed; 2 the input, a list or a flag is unusable, said in one line on standard
error; 3 only from ``audit --strict``; 130 after Ctrl-C. With ``--json -`` an unusable input is also
answered on standard output, as the error object every verb shares.
"""

from __future__ import annotations

import errno
import importlib
import io
import sys

import click

from analyser.cli import settings
from analyser.cli.output import forget_output, one_line, print_json, print_version, wants_json_on_stdout
from analyser.errors import AnalyserError

#: verb -> (module of this package that holds it, one line for --help); loaded only when asked for.
VERBS = {
    "audit": "Judge a finished rope: is its colour even from end to end?",
    "batch": "One verb on many photos, in several processes; goes on where it was stopped.",
    "colourway": "From a photo and your stock: palette, matches, accent/body pairs, a page to keep.",
    "contrast": "Judge one pair of beads, accent and body.",
    "count": "Beads, grams and thread for a piece or a class.",
    "kept": "Your kept colourways: list, show, print, weave again, mark, delete.",
    "match": "Name the beads nearest to given colours.",
    "motif": "The motifs: list them, draw one, check your own.",
    "palette": "The reduced palette of a photo.",
    "schema": "Print the JSON schema of a verb's answer.",
    "serve": "Open the local page: the whole job in the browser, on this machine.",
    "sheet": "A page to print and photograph on: ground, scale, place of the cards.",
    "stock": "Check your stock list, add beads from a tray photo, book beads out.",
}


class _Verbs(click.Group):
    """The verbs, imported one at a time, so that --help and the light verbs stay quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module = importlib.import_module(f"analyser.cli.{cmd_name}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(VERBS.items()))


@click.group(cls=_Verbs, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=print_version,
    help="Print the version, and those of the libraries.",
)
@click.option("--quiet", is_flag=True, help="No progress, no remarks.")
@click.option("--verbose", is_flag=True, help="More remarks; the full story when the tool itself fails.")
@click.pass_context
def command(ctx: click.Context, quiet: bool, verbose: bool) -> None:
    """Colour for bead-woven rope jewellery, from measured photos and your own beads."""
    ctx.obj = {"quiet": quiet, "verbose": verbose}
    ctx.default_map = settings.as_default_map(VERBS)


def exit_code(arguments: list[str]) -> int:
    """Run the command with these arguments; the exit code of the ending it came to."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that lacks a sign, or a file's name that is no text, must end nothing half way.
            stream.reconfigure(errors="replace")
    try:
        ended = command.main(args=arguments, prog_name="analyser", standalone_mode=False)
        sys.stdout.flush()
    except click.exceptions.Abort:
        click.echo("stopped", err=True)
        return 130
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        return 0
    except click.ClickException as error:
        return _unusable("usage", error.format_message(), arguments)
    except AnalyserError as error:
        return _unusable(error.kind, str(error), arguments)
    except BrokenPipeError:
        forget_output()  # the reader (a pager, head) has gone; the work is fine
        return 0
    except Exception as error:
        if isinstance(error, OSError) and error.errno == errno.ENAMETOOLONG:
            return _unusable(
                "usage", f"{str(error.filename)[:40]}...: a name longer than files have", arguments
            )
        if "--verbose" in arguments:
            raise
        click.echo(
            f"analyser itself failed: {one_line(f'{type(error).__name__}: {error}')} "
            "(run again with --verbose for the full story)",
            err=True,
        )
        return 1
    return ended if isinstance(ended, int) else 0


def _unusable(kind: str, says: str, arguments: list[str]) -> int:
    if wants_json_on_stdout(arguments):
        print_json({"schema": 1, "error": {"kind": kind, "says": one_line(says)}})
    click.echo(f"analyser: {one_line(says)}", err=True)
    return 2
