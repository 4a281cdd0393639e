"""`job …` on the command line: make a job, show it, write something down in it, erase the customer."""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path

from app.job_taking_back import KINDS, taking_back
from app.records.erasing import erase_customer
from app.records.job_folder import (
    Job,
    add_facts,
    change_customer,
    customer_of,
    file_session,
    find_job,
    jobs_root,
    list_jobs,
    new_part_id,
    open_job,
    open_new_job,
)
from app.records.job_pictures import add_photograph, remove_dropped, require_picture_file
from drivers.reading import Unit
from procedures.checking import nearest
from procedures.job import (
    ComplaintTried,
    Concluded,
    Customer,
    EntryKind,
    Filled,
    JobFact,
    JobOutcome,
    PartFitted,
    PartTakenBack,
    Reproduced,
    SessionFiled,
    SheetField,
    State,
    StateNoted,
    TestLeftOut,
    Worked,
)

_OPENING = {
    "number": SheetField.NUMBER,
    "reference": SheetField.CUSTOMER_REFERENCE,
    "maker": SheetField.MAKER,
    "model": SheetField.MODEL,
    "serial": SheetField.SERIAL,
    "complaint": SheetField.COMPLAINT,
}
MOST_PIECES = 10_000
_PART_WORDS = ("rating_asked", "rating_fitted", "maker", "source", "batch", "matched", "price")


class JobWordsRefused(ValueError):
    """What was to be written down cannot be understood; the text says why."""


# --- what may be asked for --------------------------------------------------------------------------------


def add_job_options(made: argparse.ArgumentParser, parser_class: type[argparse.ArgumentParser]) -> None:
    """Add every deed of `job` to its parser."""
    deeds = made.add_subparsers(dest="deed", metavar="DEED", required=True, parser_class=parser_class)

    def add(name: str, words: str, *positional: str) -> argparse.ArgumentParser:
        deed = deeds.add_parser(name, help=words, description=words)
        for one in positional:
            deed.add_argument(one)
        return deed

    new = add("new", "open a job")
    for option in _OPENING:
        new.add_argument(f"--{option}", default="")
    add("list", "list the jobs")
    add("show", "show what is known of a job", "job").add_argument(
        "--customer", action="store_true", help="with the customer's name and contact"
    )
    add(
        "fill",
        "fill in a line of the sheet, such as complaint, fuse rating or accessories",
        "job",
        "line",
        "words",
    )
    tried = add("complaint", "say whether the complaint was met again", "job")
    tried.add_argument("result", choices=[one.value for one in Reproduced])
    tried.add_argument("--hours", type=_span)
    tried.add_argument("--words", default="")
    _state(add("state", "note something as received, as found or as left", "job"))
    _part(add("part", "write down a part that was fitted", "job", "reference"))
    add("take-back-part", "take the entry of a part back", "job", "part").add_argument("--words", default="")
    back = add("take-back", "take an entry back: it was wrong and counts no more", "job")
    back.add_argument("kind", choices=KINDS, help="what it is; with an outcome the job goes on")
    back.add_argument("which", nargs="?", default="", help="some of its words, or its identifier")
    back.add_argument("--words", default="", help="why")
    worked = add("work", "write down what was done", "job", "action")
    for option in ("step", "reference", "fault"):
        worked.add_argument(f"--{option}", default="")
    worked.add_argument("--minutes", type=_span)
    add("left-out", "say which test was not done, and why", "job", "test", "reason")
    filed = add("session", "file sessions under the job", "job")
    filed.add_argument("session", nargs="+")
    filed.add_argument("--take-out", action="store_true", help="they no longer belong to it")
    photograph = add("photograph", "keep a picture with the job", "job", "file")
    photograph.add_argument("--words", default="")
    photograph.add_argument("--state", choices=[one.value for one in State])
    photograph.add_argument(
        "--of-customer", action="store_true", help="it shows who the customer is, and is erased with that"
    )
    outcome = add("outcome", "say how the job ended", "job")
    outcome.add_argument("outcome", choices=[one.value for one in JobOutcome])
    outcome.add_argument("--words", default="")
    customer = add("customer", "write down who the customer is, in a file of its own", "job")
    for option in ("name", "contact", "words"):
        customer.add_argument(f"--{option}", help="left as it stands where it is not given")
    erase = add("erase-customer", "erase who the customer is; measurements stay", "job")
    erase.add_argument("--reference-too", action="store_true", help="clear the customer reference as well")


def _state(made: argparse.ArgumentParser) -> None:
    made.add_argument("state", choices=[one.value for one in State])
    made.add_argument("name", help="what, such as mains or idle power")
    made.add_argument("value", nargs="?", type=_number, help="in the unit's own size: volts, amperes, watts")
    made.add_argument("unit", nargs="?", choices=[one.value for one in Unit])
    made.add_argument("--channel", default="")
    made.add_argument("--words", default="", help="what was seen")
    made.add_argument("--not-measured", dest="reason", default="", metavar="REASON")


def _part(made: argparse.ArgumentParser) -> None:
    for name in _PART_WORDS:
        made.add_argument(f"--{name.replace('_', '-')}", default="")
    made.add_argument("--quantity", type=_pieces, default=1)
    made.add_argument("--safety-critical", action="store_true")
    made.add_argument("--customer-supplied", action="store_true")
    made.add_argument("--returned", choices=("yes", "no"), help="whether the old part went back")
    made.add_argument("--words", default="")


def _number(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is no number that can be written down")
    return value


def _span(text: str) -> float:
    value = _number(text)
    if value < 0.0:
        raise argparse.ArgumentTypeError(f"{text} is less than nothing; write down how long it took")
    return value


def _pieces(text: str) -> int:
    if not (text.isdecimal() and 1 <= int(text[:9]) <= MOST_PIECES and len(text) < 9):
        raise argparse.ArgumentTypeError(f"{text!r} pieces cannot have been fitted: from 1 to {MOST_PIECES}")
    return int(text)


# --- carrying it out --------------------------------------------------------------------------------------


def carry_out_job(chosen: argparse.Namespace, sessions_root: Path) -> int:
    """Do one deed; its exit code."""
    root = jobs_root(sessions_root)
    if chosen.deed == "list":
        return _list(root)
    if chosen.deed == "new":
        now = datetime.now(UTC)
        given = [Filled(now, line, getattr(chosen, name)) for name, line in _OPENING.items()]
        job = open_new_job(root, [one for one in given if one.words])
        print(f"Job {job.name} was opened: {job.folder}")
        return 0
    folder = find_job(root, chosen.job)
    done = _DEEDS[chosen.deed](chosen, folder, sessions_root)
    for line in done:
        print(line)
    return 0


def _list(root: Path) -> int:
    jobs, troubles = list_jobs(root)
    for trouble in troubles:
        print(trouble, file=sys.stderr)
    if not jobs:
        print(f"There are no jobs in {root}.")
    for job in jobs:
        opened = job.journal.header.opened_utc.astimezone().strftime("%Y-%m-%d")
        outcome = job.sheet.outcome.outcome.value if job.sheet.outcome else "under way"
        unit = str(job.sheet.unit) or "unit not named"
        print(f"{opened}  {job.name:<14} {unit:<40} {outcome}  ({job.folder.name})")
    return 0


Lines = Sequence[str]


def _written(job: Job, what: str) -> Lines:
    return (f"Job {job.name}: {what}.",)


def _fill(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    known = [one.value for one in SheetField]
    line = chosen.line.replace("-", " ").replace("_", " ").strip().casefold()
    if line not in known:
        raise JobWordsRefused(f"the sheet has no line {chosen.line!r}; {nearest(line, known)}")
    job = add_facts(folder, [Filled(datetime.now(UTC), SheetField(line), chosen.words)])
    return _written(job, f"{line} is filled in")


def _fact(chosen: argparse.Namespace) -> JobFact:
    """The fact that a deed of one line writes down."""
    now = datetime.now(UTC)
    match chosen.deed:
        case "complaint":
            return ComplaintTried(now, Reproduced(chosen.result), chosen.hours, chosen.words)
        case "state":
            if chosen.value is not None and chosen.unit is None:
                raise JobWordsRefused(f"{chosen.name}: say the unit too, such as `{chosen.value:g} V`")
            if chosen.value is None and not (chosen.words or chosen.reason):
                raise JobWordsRefused(
                    f"{chosen.name}: give a value with its unit, --words for what was seen, or "
                    "--not-measured with the reason"
                )
            unit = Unit(chosen.unit) if chosen.unit else None
            told = (chosen.value, unit, chosen.channel, chosen.words, chosen.reason)
            return StateNoted(now, State(chosen.state), chosen.name, *told)
        case "take-back-part":
            return PartTakenBack(now, chosen.part, chosen.words)
        case "work":
            return Worked(now, chosen.action, chosen.step, chosen.reference, chosen.fault, chosen.minutes)
        case "left-out":
            return TestLeftOut(now, chosen.test, chosen.reason)
        case _:
            return Concluded(now, JobOutcome(chosen.outcome), chosen.words)


def _one_fact(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    fact = _fact(chosen)
    if isinstance(fact, PartTakenBack) and fact.part not in {p.part for p in open_job(folder).sheet.parts}:
        raise JobWordsRefused(f"no part {fact.part!r} was written down; `job show` lists them")
    return _written(add_facts(folder, [fact]), "written down")


def _fitted(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    part = PartFitted(
        datetime.now(UTC),
        new_part_id(),
        chosen.reference,
        quantity=chosen.quantity,
        safety_critical=chosen.safety_critical,
        customer_supplied=chosen.customer_supplied,
        returned=None if chosen.returned is None else chosen.returned == "yes",
        words=chosen.words,
        **{name: getattr(chosen, name) for name in _PART_WORDS},
    )
    job = add_facts(folder, [part])
    return (*_written(job, f"part {part.part}, {part.reference}, is written down"), *part.questions)


def _session(chosen: argparse.Namespace, folder: Path, sessions_root: Path) -> Lines:
    job = open_job(folder)
    for key in chosen.session:
        if chosen.take_out:
            meant = [one for one in job.sheet.sessions if one.startswith(key.rpartition("-")[2])]
            if len(meant) != 1:
                raise JobWordsRefused(f"session {key!r} is not filed under job {job.name}")
            job = add_facts(folder, [SessionFiled(datetime.now(UTC), meant[0], belongs=False)])
        else:
            job = file_session(folder, sessions_root, key)
    return _written(job, f"{len(job.sheet.sessions)} sessions belong to it")


def _photograph(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    state = State(chosen.state) if chosen.state else None
    require_picture_file(Path(chosen.file))
    job = add_photograph(folder, Path(chosen.file), chosen.words, state, chosen.of_customer)
    return _written(job, "the picture is kept")


def _take_back(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    sheet = open_job(folder).sheet
    job = add_facts(folder, [taking_back(sheet, chosen.kind, chosen.which, chosen.words, datetime.now(UTC))])
    gone = remove_dropped(folder) if chosen.kind == EntryKind.PHOTOGRAPH else 0
    return _written(job, "taken back" + (", and the picture's file is removed" if gone else ""))


def _customer(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    said = {one.name: getattr(chosen, one.name) for one in fields(Customer)}
    said = {name: words for name, words in said.items() if words is not None}
    if not said:
        raise JobWordsRefused("say who the customer is: --name, --contact, --words")
    change_customer(folder, said)
    return _written(open_job(folder), "the customer is written down, in a file of its own")


def _erase(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    erased = erase_customer(folder)
    job, cleared = open_job(folder), ""
    if chosen.reference_too and job.sheet.text(SheetField.CUSTOMER_REFERENCE):
        job = add_facts(folder, [Filled(datetime.now(UTC), SheetField.CUSTOMER_REFERENCE, "")])
        cleared = "the reference is cleared (the job's journal still has what stood there)"
    words = "the customer's identity is erased here; think of backup copies and exported files too"
    if not erased:
        words = "nobody had written down who the customer is"
    return _written(job, "; ".join(filter(None, (words, cleared))))


def _show(chosen: argparse.Namespace, folder: Path, _: Path) -> Lines:
    job = open_job(folder)
    for problem in job.journal.problems:
        print(problem, file=sys.stderr)
    lines = sheet_lines(job)
    if chosen.customer:
        customer = customer_of(folder) or Customer()
        said = (customer.name, customer.contact, customer.words)
        lines += ["customer: " + (", ".join(filter(None, said)) or "not written down")]
    return lines


def sheet_lines(job: Job) -> list[str]:
    """A job as lines of words; what nobody has filled in is left out."""
    sheet = job.sheet
    lines = [f"job {job.name} ({job.folder.name})"]
    lines += [f"{one.value}: {sheet.text(one)}" for one in SheetField if sheet.text(one)]
    lines.append(f"complaint reproduced: {sheet.complaint_words}")
    for noted in sheet.states:
        name = " ".join(filter(None, (noted.name, noted.channel)))
        lines.append(f"{noted.state.value}: {name}: {state_words(noted)}")
    for part in sheet.parts:
        marks = [word for word, true in (("safety-critical", part.safety_critical),) if true]
        marks += ["customer-supplied"] if part.customer_supplied else []
        told = [
            f"{part.quantity} x {part.reference}",
            part.rating_fitted,
            part.maker,
            part.source,
            part.batch,
        ]
        lines.append(f"part {part.part}: {', '.join(filter(None, [*told, *marks]))}")
        lines += [f"  {question}" for question in part.questions]
    for work in sheet.work:
        minutes = "" if work.minutes is None else f"{work.minutes:g} min"
        lines.append(f"work: {', '.join(filter(None, (work.step, work.fault, work.action, minutes)))}")
    lines += [f"not done: {one.test}: {one.reason}" for one in sheet.left_out]
    for picture in sheet.photographs:
        theirs = "shows the customer" if picture.of_customer else ""
        said = (picture.file, picture.words, picture.state or "", theirs)
        lines.append(f"photograph: {', '.join(filter(None, said))}")
    lines += [f"session: {one}" for one in sheet.sessions]
    if sheet.outcome is not None:
        lines.append(f"outcome: {sheet.outcome.outcome.value}. {sheet.outcome.words}".rstrip())
    if sheet.identity_erased is not None:
        lines.append(f"the customer's identity was erased on {sheet.identity_erased.at_utc:%Y-%m-%d}")
    return lines


def state_words(noted: StateNoted) -> str:
    """A noted state in words; what has no value and no words reads "not measured"."""
    if noted.value is not None:
        unit = noted.unit.value if noted.unit else ""
        return " ".join(filter(None, (f"{noted.value:g}", unit, noted.words)))
    if noted.words:
        return noted.words
    return f"not measured ({noted.reason or 'no reason given'})"


_DEEDS: dict[str, Callable[[argparse.Namespace, Path, Path], Lines]] = {
    "show": _show,
    "fill": _fill,
    "complaint": _one_fact,
    "state": _one_fact,
    "part": _fitted,
    "take-back-part": _one_fact,
    "take-back": _take_back,
    "work": _one_fact,
    "left-out": _one_fact,
    "session": _session,
    "photograph": _photograph,
    "outcome": _one_fact,
    "customer": _customer,
    "erase-customer": _erase,
}
