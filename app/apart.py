"""Work that would hold up everything else in this process, done in a process of its own.

A thread is not enough for it: a minute of counting and sorting keeps the other threads from their turn, and
looking through millions of facts for garbage stops all of them.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import signal
import traceback
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import TypeVar, cast

from app.records.places import keep_error

T = TypeVar("T")

_NICER = 10


def apart(work: Callable[..., T], *arguments: object) -> T:
    """Do it and wait for what comes of it; for a thread beside the window.

    Args:
        work: A function of a module. What it returns can be pickled.
        arguments: What it is given; all of them can be pickled.

    Raises:
        ValueError: it refused, or could not be done; one sentence.
    """
    spawning = multiprocessing.get_context("spawn")
    here, there = spawning.Pipe(duplex=False)
    process = spawning.Process(target=_carry_out, args=(there, work, arguments), name="apart", daemon=True)
    try:
        process.start()
        there.close()  # else its end would not be noticed here
        done, came = here.recv()
    except EOFError:
        done, came = False, "the process that was to do it ended before its time; try again"
    except OSError as error:
        done, came = False, f"no process could be begun for it ({error.strerror or error}); try again"
    finally:
        there.close()
        here.close()
        if process.pid is not None:
            process.join()
    if not done:
        raise ValueError(came)
    return cast(T, came)


def _carry_out(back: Connection, work: Callable[..., object], arguments: tuple[object, ...]) -> None:
    """What the other process does: out of the way of whoever measures, without a screen."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # it ends with the program
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    with contextlib.suppress(AttributeError, OSError):  # not everywhere
        os.nice(_NICER)
    answer: tuple[bool, object]
    try:
        answer = (True, work(*arguments))
    except (OSError, ValueError) as refusal:
        answer = (False, str(refusal))
    except Exception as defect:
        keep_error(traceback.format_exc())
        answer = (False, f"something went wrong ({type(defect).__name__}: {defect})")
    with contextlib.suppress(OSError):  # whoever asked may have gone
        try:
            back.send(answer)
        except (AttributeError, TypeError, pickle.PicklingError) as defect:
            back.send((False, f"something went wrong ({type(defect).__name__}: {defect})"))
    back.close()
