"""The command line: what may be asked for, and how it is carried out.

Every refusal is one sentence on standard error. Exit codes: 0 done, 1 it could not be done or a check failed,
2 the command itself was wrong.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from pydantic import ValidationError

from app import __version__
from app.record_arguments import add_record_commands
from app.records.places import keep_error
from app.refusals import checked_words

PROGRAM = "python3 -m app"
Command = Callable[[argparse.Namespace], int]
Options = Callable[[argparse.ArgumentParser], None]


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence instead of a page of usage.

    A command's options are added when it is the chosen one: what they need is not imported for the others.
    """

    options: Options | None = None

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """See `argparse.ArgumentParser.parse_known_args`."""
        options, self.options = self.options, None
        if options is not None:
            options(self)
        return super().parse_known_args(args, namespace)

    def error(self, message: str) -> NoReturn:
        """See `argparse.ArgumentParser.error`."""
        sentence = message[:1].upper() + message[1:]
        self.exit(2, f"{sentence.rstrip('.')}. `{self.prog} --help` lists what there is.\n")


def _at_least(kind: type[int] | type[float], least: float) -> Callable[[str], float]:
    def read(text: str) -> float:
        try:
            value = kind(text)
        except ValueError:
            raise argparse.ArgumentTypeError(
                f"{text!r} is no number; type one of at least {least:g}"
            ) from None
        if not value >= least:
            raise argparse.ArgumentTypeError(f"{text} is too small: at least {least:g}")
        if value == math.inf:
            raise argparse.ArgumentTypeError(f"{text} is too large")
        return value

    return read


def parser(commands: dict[str, Command]) -> argparse.ArgumentParser:
    """The command line of the program; `commands` carries out what is chosen."""
    top = _Parser(
        prog=PROGRAM, description="Guided bias adjustment and warm-up logging for audio amplifiers."
    )
    top.add_argument("--version", action="version", version=f"Warmtrim {__version__}")
    top.add_argument("--folder", type=Path, help="where the session folders are kept")
    top.set_defaults(carry_out=commands["start"])
    sub = top.add_subparsers(metavar="COMMAND", parser_class=_Parser)

    def add(name: str, words: str, options: Options | None = None) -> argparse.ArgumentParser:
        made = sub.add_parser(name, help=words, description=words)
        made.options = options
        made.set_defaults(carry_out=commands[name])
        return made

    add("window", "open the window")
    add("practice", "do the whole job on the simulated bench, here in the terminal", _practice)
    add("watch", "watch meters without questions, here in the terminal", _watch)
    add("meters", "list the meters that are there, or check one", _meters)
    sessions = add("sessions", "list the recorded sessions")
    sessions.add_argument("--most", type=_at_least(int, 1), default=50, help="how many, newest first")
    add("export", "write a session's readings, its picture, or all of it as one file", _export)
    taken = add("import", "take in sessions that were exported as bundles at another bench")
    taken.add_argument("bundle", nargs="+", type=Path)
    replay = add("replay", "judge a session again from its readings, and say whether it comes out the same")
    replay.add_argument("session", nargs="+")
    add_record_commands(add)
    assess = add("assess", "say how practice on the simulated bench went")
    assess.add_argument("session", nargs="+", help="a practice session, as `sessions` lists it")
    check = add("check", "read procedure, amplifier and simulated unit files, and say all that is wrong")
    check.add_argument("file", nargs="+", type=Path)
    add("sounds", "list the sounds and what they say; play one, or write them as files", _sounds)
    add("audio", "measure recordings, or look at the devices for measuring", _audio)
    add("procedures", "list the procedures")
    add("amplifiers", "list the amplifier examples")
    add("units", "list the units of the simulated bench")
    samples = add("samples", "record the sample sessions again, on the simulated bench")
    samples.add_argument("into", type=Path)
    judge = add("judge", "judge recorded readings; its own --help says how")
    judge.add_argument("arguments", nargs=argparse.REMAINDER)
    return top


def _export(made: argparse.ArgumentParser) -> None:
    from app.export_command import add_export_options

    add_export_options(made)


def _audio(made: argparse.ArgumentParser) -> None:
    from app.audio_arguments import add_audio_options

    add_audio_options(made)


def _practice(made: argparse.ArgumentParser) -> None:
    made.add_argument("--unit", default="healthy", help="a simulated unit's name, a unit file, or surprise")
    made.add_argument("--procedure", default="two-channel-bias-trim", help="a procedure's name, or a file")
    made.add_argument("--seed", type=_at_least(int, 0), default=1, help="decides every chance event")
    made.add_argument("--meters", type=int, choices=(1, 2), default=2, help="how many meters there are")
    made.add_argument("--speed", type=_at_least(float, 1.0), default=None, help="bench seconds a second")
    made.add_argument(
        "--stepped", action="store_true", help="without sockets and without waiting, as fast as it goes"
    )
    _for_job(made)
    made.add_argument(
        "--instruments",
        action="store_true",
        help="measure signals with a simulated SCPI generator and digitiser",
    )


def _watch(made: argparse.ArgumentParser) -> None:
    from app.sound_options import add_sound_options

    made.add_argument(
        "address",
        nargs="+",
        help="where each meter is: a VISA resource string, stream:…, file:…, typed, or simulated",
    )
    made.add_argument(
        "--channel",
        action="append",
        default=[],
        help="what each meter reads, in order; INPUT=CHANNEL,INPUT=CHANNEL for one with several inputs",
    )
    made.add_argument("--minutes", type=_at_least(float, 0.0), help="for how long; else until Ctrl+C")
    _for_job(made)
    made.add_argument(
        "--ground-referenced",
        action="store_true",
        help="the outputs are referenced to ground (not bridged): an earthed meter may read an offset",
    )
    made.add_argument(
        "--ask-every",
        type=_at_least(float, 0.0),
        metavar="SECONDS",
        help="how often a typed display is asked for, kept; 0: never",
    )
    made.add_argument(
        "--display",
        nargs=3,
        type=_at_least(float, 0.0),
        metavar=("PERCENT", "DIGITS", "MILLIVOLTS"),
        help="figures of the typed display, kept: percent of reading, digits, one digit in millivolts",
    )
    add_sound_options(made)
    _source(made)


def _for_job(made: argparse.ArgumentParser) -> None:
    made.add_argument("--job", default="", help="the job that the session belongs to, by its number")


def _meters(made: argparse.ArgumentParser) -> None:
    made.add_argument("--check", metavar="ADDRESS", help="look at one meter, changing none of its settings")
    _source(made)


def _sounds(made: argparse.ArgumentParser) -> None:
    from app.sound_options import add_sound_options
    from app.sounds_command import SOUNDS

    made.add_argument("--play", metavar="NAME", choices=tuple(SOUNDS), help="the sound to play, such as look")
    made.add_argument("--into", type=Path, metavar="FOLDER", help="write all of them there as WAV files")
    add_sound_options(made)


def _source(made: argparse.ArgumentParser) -> None:
    """What may be said about a meter: how it is spoken to, how its lines read, what is known about earth."""
    made.add_argument("--dialect", default="", help="the name of the dialect to insist on")
    made.add_argument(
        "--pattern", default="", help="what the lines of a stream look like: (?P<left_bias>…) around a number"
    )
    made.add_argument("--unit", default="", help="unit of bare numbers in a stream; mV unless given")
    earth = made.add_mutually_exclusive_group()
    earth.add_argument(
        "--isolated", action="store_true", help="inputs are isolated from earth, says their manual; kept"
    )
    earth.add_argument("--earthed", action="store_true", help="inputs are earthed; kept")


def run(arguments: Sequence[str], commands: dict[str, Command], refusals: tuple[type[Exception], ...]) -> int:
    """Understand and carry out; the exit code."""
    words = list(arguments)
    if words[:1] == ["judge"] and len(words) > 1:
        # Its arguments are its own: argparse would take its options for ours.
        chosen = argparse.Namespace(folder=None, arguments=words[1:], carry_out=commands["judge"])
    else:
        chosen = parser(commands).parse_args(words)
    try:
        return int(chosen.carry_out(chosen))
    except BrokenPipeError:
        # Whoever read our output has gone; nothing more is to be said to anybody.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except KeyboardInterrupt:
        print("Stopped from the keyboard.", file=sys.stderr)
        return 130
    except refusals as refusal:
        print(_sentence(refusal), file=sys.stderr)
        return 1
    except Exception as error:  # a defect of this program: its details are of no use to a person
        where = keep_error(traceback.format_exc())
        kept = f" The details are in {where}." if where is not None else ""
        sentence = f"This program has made an error ({type(error).__name__}: {error});"
        print(f"{sentence} what was recorded is kept.{kept}", file=sys.stderr)
        return 1


def _sentence(refusal: Exception) -> str:
    """A refusal for a person; what the operating system says comes without its number."""
    if isinstance(refusal, ValidationError):
        return checked_words(refusal)
    if isinstance(refusal, OSError) and refusal.filename is not None and refusal.strerror:
        return f"{refusal.filename}: {refusal.strerror}. Choose a place that exists and that you may use."
    return str(refusal)
