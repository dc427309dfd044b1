"""The command line. Each command imports what it needs when it runs, so that `crosslay ask` starts quickly."""

from __future__ import annotations

import json
import os
import sys
from typing import Annotated

import typer

from handlers.errors import CrosslayError

app = typer.Typer(
    name="crosslay",
    help="Pump pressures, tank and incident clocks for the crew of a fire engine. Without a command: the local room, "
    "and the page beside it.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

RigFile = Annotated[str, typer.Option("--rig", metavar="FILE", help="The company's rig file (TOML).")]
Json = Annotated[bool, typer.Option("--json", help="One JSON object a line.")]


def main() -> None:
    """Run a command and exit with its status; what goes wrong is said in one line, never as a traceback."""
    from bot.store import private

    private.from_now_on()
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run a command line; returns the exit status."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        return int(app(arguments, prog_name="crosslay", standalone_mode=False) or 0)
    except CrosslayError as error:
        return _say(error.message)
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the reader of our output has gone
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if hasattr(error, "format_message"):  # wrong usage; typer's error class has no public name
            problem = error.format_message().rstrip(".")
            return _say(f"{problem}. See crosslay --help.", status=2)
        from bot.program.logs import note_fault

        return _say(
            f"Something went wrong inside Crosslay ({type(error).__name__}). Details are in {note_fault(error)}."
        )


def _say(sentence: str, status: int = 1) -> int:
    print(" ".join(sentence.split()), file=sys.stderr)
    return status


@app.callback(invoke_without_command=True)
def room(
    context: typer.Context,
    rig: RigFile = "",
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    """Open the local room: type, get answers, timers run. A message a line when standard input is no terminal."""
    context.obj = rig
    if version:
        from bot import __version__

        print(f"crosslay {__version__}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        from bot import settings
        from bot.commands.room import open_room

        raise typer.Exit(open_room(settings.load(**_given(context, rig))))


@app.command(context_settings={"ignore_unknown_options": True})
def ask(
    context: typer.Context,
    text: Annotated[
        list[str] | None, typer.Argument(metavar="TEXT", help="What is said; - takes a message a line from input.")
    ] = None,
    as_json: Json = False,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of the answers.")] = False,
    rig: RigFile = "",
) -> None:
    """Read one message out of any incident and print the reply."""
    from bot import settings
    from bot.commands import ask

    if schema:
        from bot.commands.schema import schema as schema_of_answers

        print(json.dumps(schema_of_answers(), indent=2))
        return
    if not text:
        raise typer.BadParameter("Missing argument 'TEXT'")

    for word in text:
        if word.startswith("--") or (word.startswith("-") and word[1:2].isalpha()):  # "-200 feet" is said
            raise typer.BadParameter(f"No such option: {word}.")
    given = settings.load(**_given(context, rig))
    if text == ["-"]:
        raise typer.Exit(ask.ask_each(given, sys.stdin, as_json=as_json, out=sys.stdout))
    words = " ".join(text).encode("utf-8", "replace").decode()
    raise typer.Exit(ask.ask_one(given, words, as_json=as_json, out=sys.stdout))


@app.command()
def hear(
    context: typer.Context,
    files: Annotated[list[str], typer.Argument(metavar="FILE…", help="Recorded voice messages.")],
    as_json: Json = False,
    rig: RigFile = "",
) -> None:
    """Listen to recordings, offline, and answer them as ask does."""
    from bot import settings
    from bot.commands.hear import hear_files

    given = settings.load(**_given(context, rig))
    raise typer.Exit(hear_files(given, files, as_json=as_json, out=sys.stdout))


@app.command()
def drill(
    context: typer.Context,
    script: Annotated[str, typer.Argument(metavar="SCRIPT", help="A line an utterance: MM:SS who: what was said")],
    as_json: Json = False,
    start: Annotated[str, typer.Option(help="The clock's start, as 2026-03-02T14:00:00Z.")] = "",
    until: Annotated[str, typer.Option(help="Let the clock run on to MM:SS after the last line.")] = "",
    rig: RigFile = "",
) -> None:
    """Play a timed script through a whole incident on a simulated clock."""
    from bot import settings
    from bot.commands.drill import play_file

    given = settings.load(**_given(context, rig))
    play_file(given, script, start=start, until=until, as_json=as_json, out=sys.stdout)


@app.command()
def listen(
    context: typer.Context,
    source: Annotated[str, typer.Option("--from", metavar="FILE", help="A sound file in the microphone's place.")] = "",
    no_call_name: Annotated[bool, typer.Option("--no-call-name", help="Take everything said as meant for it.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Show the answers only.")] = False,
    rig: RigFile = "",
) -> None:
    """Listen hands-free at the panel: the rig's call name, then what you need; answers are shown and spoken."""
    from bot import settings
    from bot.commands.listen import listen as listen_on

    given = settings.load(**_given(context, rig))
    raise typer.Exit(listen_on(given, source=source, call_name=not no_call_name, quiet=quiet))


@app.command()
def telegram(context: typer.Context, rig: RigFile = "") -> None:
    """Run the bot on Telegram; the token and the rooms come from the settings."""
    import asyncio

    from bot import rigs, settings
    from bot.program import logs
    from bot.rooms.telegram.serve import serve

    given = settings.load(**_given(context, rig))
    known = rigs.load(given.rig)
    logs.write_to_file()
    asyncio.run(serve(given, known, lambda sentence: print(sentence, flush=True)))


@app.command()
def page(
    context: typer.Context,
    drills: Annotated[
        list[str] | None, typer.Option("--drill", metavar="SCRIPT", help="A drill that can be played on the page.")
    ] = None,
    rig: RigFile = "",
) -> None:
    """Serve the room as a page on the rig's own network: phones, tablets, the cab's screen; no internet."""
    import asyncio
    from pathlib import Path

    from bot import rigs, settings
    from bot.program import logs
    from bot.rooms.page.serve import serve

    given = settings.load(**_given(context, rig))
    known = rigs.load(given.rig)
    logs.write_to_file()
    asyncio.run(serve(given, known, lambda text: print(text, flush=True), [Path(drill) for drill in drills or ()]))


@app.command()
def serve(
    context: typer.Context,
    room: Annotated[str, typer.Argument(metavar="NAME", help="The room, as its package names it.")],
    rig: RigFile = "",
) -> None:
    """Run a room that another package adds (see bot.extensions)."""
    import asyncio

    from bot import extensions, rigs, settings
    from bot.program import logs

    served = extensions.find(extensions.ROOMS, room)
    if served is None:
        there = ", ".join(extensions.names(extensions.ROOMS)) or "none"
        raise typer.BadParameter(f"No installed package has a room {room} (there: {there})")
    given = settings.load(**_given(context, rig))
    known = rigs.load(given.rig)
    logs.write_to_file()
    asyncio.run(served(given, known))


@app.command()
def report(
    context: typer.Context,
    incident: Annotated[str, typer.Argument(metavar="INCIDENT", help="The incident's id, or: last")] = "",
    to: Annotated[str, typer.Option(metavar="FILE", help="Where to; .pdf, .csv, .png or .json.")] = "",
    readiness: Annotated[bool, typer.Option("--readiness", help="The latest daily check instead.")] = False,
    patient: Annotated[str, typer.Option(metavar="PATIENT", help="One patient's record: a number or name.")] = "",
    rig: RigFile = "",
) -> None:
    """Write an incident's record, in the form that the file's ending names; or show the latest daily check."""
    from bot import settings
    from bot.commands.report import write_check, write_patient, write_report

    if readiness == bool(incident) or not (to or readiness):
        raise typer.BadParameter(
            "Say which: report INCIDENT --to FILE [--patient PATIENT], or report --readiness [--to FILE]."
        )
    known = settings.load(**_given(context, rig))
    if patient:
        print(write_patient(known, incident, patient, to))
        return
    print(write_check(known, to) if readiness else write_report(known, incident, to))


@app.command()
def chart(
    context: typer.Context,
    to: Annotated[str, typer.Option(metavar="FILE", help="Where to; .png or .pdf.")],
    rig: RigFile = "",
) -> None:
    """Draw the rig's pump chart on one page, to be taped to the panel."""
    from pathlib import Path

    from bot import rigs, settings
    from bot.drawing import write_chart

    print(write_chart(rigs.load(settings.load(**_given(context, rig)).rig).own, Path(to)))


@app.command()
def check(
    context: typer.Context,
    live: Annotated[bool, typer.Option("--live", help="How the running bot is doing instead.")] = False,
    rig: RigFile = "",
) -> None:
    """Say what is set up, what is missing and how to get it; or how the running bot is doing."""
    if live:
        from bot import settings
        from bot.commands.check_live import report as report_live

        raise typer.Exit(report_live(settings.load(**_given(context, rig)), sys.stdout))
    from bot.commands.check import report

    raise typer.Exit(report(_given(context, rig), sys.stdout))


@app.command()
def incidents(context: typer.Context, rig: RigFile = "") -> None:
    """List the incidents in the record: number, company, beginning, how long, what."""
    from bot import settings
    from bot.commands.incidents import list_incidents

    print(list_incidents(settings.load(**_given(context, rig))))


@app.command()
def forget(
    context: typer.Context,
    incident: Annotated[str, typer.Argument(metavar="INCIDENT", help="The incident's id (see incidents), or: last")],
    rig: RigFile = "",
) -> None:
    """Erase an incident that is closed, with everything that was said in it."""
    from bot import settings
    from bot.commands.incidents import forget_incident

    print(forget_incident(settings.load(**_given(context, rig)), incident))


@app.command()
def backup(
    context: typer.Context,
    to: Annotated[str, typer.Argument(metavar="FILE", help="A new file, or a folder for one named by the time.")],
) -> None:
    """Copy the record to a new file, while the bot may go on running."""
    from bot import settings
    from bot.store import files

    print(f"The record is in {files.backup(settings.load(**_given(context, '')).database_url, to)}.")


@app.command()
def restore(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="What backup wrote.")],
) -> None:
    """Put a backup in the record's place, while no bot runs; the record that is there is kept under another name."""
    from bot import settings
    from bot.store import files

    path, before = files.restore(settings.load(**_given(context, "")).database_url, file)
    kept = f" The one that was there is kept as {before}." if before else ""
    print(f"{path} is the record of {file} now.{kept}")


def _given(context: typer.Context, rig: str) -> dict[str, str]:
    """Settings given on the command line, before or after the command's name."""
    named = rig or (context.find_root().obj or "")
    return {"rig": named} if named else {}
