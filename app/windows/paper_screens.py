"""The screens on which data is written and checked: amplifiers and data files, and the way between them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QScrollArea, QStackedWidget, QWidget

from app.windows.amplifier_form import AmplifierForm
from app.windows.amplifier_ports import AmplifierSource
from app.windows.draft_keeping import DraftKeeping
from app.windows.file_check_screen import FileCheckScreen
from app.windows.leave_question import LeaveQuestion, ReplaceQuestion
from app.windows.ports import Workshop
from app.windows.scrolling import scrolling
from app.windows.start_screen import StartScreen
from app.windows.target_form import TargetForm
from procedures.amplifier import Amplifier


class PaperScreens(QObject):
    """Shows them in the window's stack. `left`: back to the start, with an amplifier to be chosen or none."""

    left = Signal(str)

    def __init__(self, workshop: Workshop, start: StartScreen, stack: QStackedWidget) -> None:
        super().__init__(stack)
        self._workshop = workshop
        self._papers = workshop.papers
        self._start = start
        self._stack = stack
        self.targets: TargetForm | None = None
        self._targets_page: QScrollArea | None = None
        self.form: AmplifierForm | None = None
        self.keeping: DraftKeeping | None = None
        self.files: FileCheckScreen | None = None
        self.question: LeaveQuestion | ReplaceQuestion | None = None
        self._waiting: Amplifier | None = None
        self._then: Callable[[], object] = self.leave_form
        self._saved = ""
        start.targets.connect(self.show_targets)
        start.edit_amplifier.connect(self.edit)
        start.check_files.connect(self.check_files)
        start.dropped.connect(self.check)
        self._tell()

    def _tell(self) -> None:
        """Say on the start screen which files cannot be used."""
        self._start.prepare.show_broken([path.name for path in self._papers.broken()])

    def _leave(self) -> None:
        saved, self._saved = self._saved, ""
        self._tell()
        self.left.emit(saved)

    # --- showing --------------------------------------------------------------------------------------

    @Slot(str)
    def show_targets(self, key: str) -> None:
        """Describe an amplifier by current and resistors, beginning with a known one."""
        known = self._workshop.amplifier(key)
        self.targets = TargetForm(known, papers=self._papers)
        self.targets.described.connect(self._described)
        self.targets.back.connect(self._leave_targets)
        self._targets_page = scrolling(self.targets, self._stack)
        self._show(self._targets_page)

    @Slot(object)
    def _described(self, amplifier: object) -> None:
        key = ""
        if isinstance(amplifier, Amplifier):
            try:
                key = self._workshop.describe(amplifier)
            except (OSError, ValueError) as refusal:
                if self.targets is not None:
                    self.targets.refuse(str(refusal))
                return
        self._saved = key
        self._leave_targets()

    @Slot()
    def _leave_targets(self) -> None:
        page, self._targets_page, self.targets = self._targets_page, None, None
        if page is not None:
            self._drop(page)
        self._leave()

    @Slot(str)
    def edit(self, key: str) -> None:
        """Edit a known amplifier; without a key, a new one."""
        try:
            self._show_form(self._papers.known(key))
        except (OSError, ValueError) as refusal:
            self._start.complain(str(refusal))

    @Slot(object)
    def edit_file(self, path: object) -> None:
        """Edit an amplifier's file, whatever is wrong with it."""
        if not isinstance(path, Path):
            return
        try:
            self._show_form(self._papers.from_file(path))
        except (OSError, ValueError) as refusal:
            if self.files is not None:
                self.files.say(str(refusal))

    def _show_form(self, source: AmplifierSource) -> None:
        self._saved = ""
        self.form = AmplifierForm(source)
        self.form.save.connect(self._save)
        self.form.back.connect(self.leave_form)
        self.keeping = DraftKeeping(self.form, self._papers)
        self._show(self.form)

    @Slot()
    def check_files(self) -> None:
        """Show the checking of files, beginning with the amplifiers that cannot be used."""
        self.check(list(self._papers.broken()))

    @Slot(object)
    def check(self, paths: object) -> None:
        """Check files."""
        if self.files is None:
            self.files = FileCheckScreen(self._papers)
            self.files.form.connect(self.edit_file)
            self.files.back.connect(self._leave_files)
        self.files.take([path for path in paths if isinstance(path, Path)] if isinstance(paths, list) else [])
        self._show(self.files)

    def _show(self, screen: QWidget) -> None:
        if self._stack.indexOf(screen) < 0:
            self._stack.addWidget(screen)
        self._stack.setCurrentWidget(screen)

    # --- leaving --------------------------------------------------------------------------------------

    @Slot()
    def leave_form(self) -> None:
        """Back to where the form was opened from; what was changed is asked about first."""
        form = self.form
        if form is None or self._asks(self.leave_form):
            return
        self._drop(form)
        self.form = None
        if self.files is not None:
            self.files.check_again()
            self._show(self.files)
        else:
            self._leave()

    @property
    def shown(self) -> bool:
        """Whether one of its screens is open."""
        return any(screen is not None for screen in (self.form, self.targets, self.files))

    def holds(self, close: Callable[[], object]) -> bool:
        """Whether the window must stay open for a question; `close` is called when it may go."""
        return self._asks(close)

    def _asks(self, then: Callable[[], object]) -> bool:
        """Ask about unsaved changes, if there are any."""
        form = self.form
        if form is None or not form.changed:
            return False
        if self.question is None:
            self._then = then
            to_do = form.state if form.amplifier is None else ""
            name = form.draft.name or self.tr("the new amplifier")
            self.question = LeaveQuestion(form, name, to_do, self._answered)
        return True

    @Slot(int)
    def _answered(self, _code: int) -> None:
        question, self.question = self.question, None
        form = self.form
        if not isinstance(question, LeaveQuestion) or form is None:
            return
        if question.saving:
            form.ask_save()
        elif question.keeping and self.keeping is not None and self.keeping.keep():
            form.draft.give_up()
        elif question.leaving:
            form.draft.give_up()
            if self.keeping is not None:
                self.keeping.drop()
        if not form.changed:
            self._then()

    @Slot()
    def _leave_files(self) -> None:
        if self.files is not None:
            self._drop(self.files)
            self.files = None
        self._leave()

    def _drop(self, screen: QWidget) -> None:
        self._stack.removeWidget(screen)
        screen.hide()
        screen.deleteLater()

    # --- saving ---------------------------------------------------------------------------------------

    @Slot(object)
    def _save(self, amplifier: object) -> None:
        form = self.form
        if form is None or not isinstance(amplifier, Amplifier):
            return
        there = self._papers.taken(amplifier, form.draft.source)
        if there is None:
            self._keep(form, amplifier)
        elif self.question is None:
            self._waiting = amplifier
            self.question = ReplaceQuestion(form, amplifier.name, there.name, self._replace_answered)

    @Slot(int)
    def _replace_answered(self, _code: int) -> None:
        question, self.question = self.question, None
        amplifier, form = self._waiting, self.form
        if isinstance(question, ReplaceQuestion) and question.replacing and form and amplifier:
            self._keep(form, amplifier)

    def _keep(self, form: AmplifierForm, amplifier: Amplifier) -> None:
        before = form.draft.source
        try:
            source = self._papers.keep(amplifier, before)
        except (OSError, ValueError) as refusal:
            form.say(self.tr("Not saved: {reason}").format(reason=refusal))
            return
        self._saved = amplifier.name
        if self.keeping is not None:
            self.keeping.drop()
        words = self.tr("Saved in {file}.").format(file=source.path)
        if before.name not in ("", amplifier.name) and not before.shipped:
            words += self.tr(" {name} stays as it was.").format(name=before.name)
        form.saved(source, words)
