"""What the program does about its own environment before it starts."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from app import environment


def test_requirements_are_those_of_the_project_file_with_the_extra() -> None:
    """The extra's lines come on top of the dependencies."""
    plain, tests = environment.wanted_requirements(), environment.wanted_requirements("test")

    assert any(line.startswith("PySide6-Essentials==6.11") for line in plain)
    assert set(plain) < set(tests)
    assert any(line.startswith("pytest>=") for line in tests)


@pytest.mark.parametrize(
    ("requirement", "installed", "accepted"),
    [
        ("thing==6.11.3", "6.11.3", True),
        ("thing==6.11.3", "6.12.0", False),
        ("thing>=2,<3", "2.4.6", True),
        ("thing>=2,<3", "3.0", False),
        ("thing>=1.16", "1.9.1", False),
        ("thing>=2", "2", True),
        ("thing==0.14.0", "0.14", True),
        ("thing", "0.1", True),
        ("thing~=2.0", "2.0", False),  # a form this reader leaves to pip
    ],
)
def test_an_installed_version_is_compared_as_numbers(
    requirement: str, installed: str, accepted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """1.9 is older than 1.16, and 0.14 is 0.14.0."""
    monkeypatch.setattr(environment.importlib.metadata, "version", lambda name: installed)

    assert environment._satisfied([requirement]) is accepted


def test_a_changed_pin_is_not_complete(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The note holds one line a package, so going back to an earlier pin is noticed too."""
    monkeypatch.setattr(environment, "COMPLETE", tmp_path / "complete")
    (tmp_path / "complete").write_text("Thing==2\nother>=1\n")

    assert environment._noted_complete(["Thing==2"])
    assert not environment._noted_complete(["thing==1"])
    assert not environment._noted_complete(["thing==2", "third"])


def test_window_libraries_are_asked_for_only_where_a_display_is_announced(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without a display nobody is asked to install libraries of X11."""
    monkeypatch.setattr(environment, "_loads", lambda library: False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)

    without = environment._missing_packages(making=False)
    monkeypatch.setenv("DISPLAY", ":1")
    with_display = environment._missing_packages(making=False)

    assert "libegl1" in without
    assert not [name for name in without if "xcb" in name]
    assert "libxcb-cursor0" in with_display


def test_a_user_is_told_one_line_that_installs_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not root: the program installs nothing and stops with the command to run."""
    monkeypatch.setattr(environment.shutil, "which", lambda name: "/usr/bin/" + name)
    monkeypatch.setattr(os, "geteuid", lambda: 1000, raising=False)

    with pytest.raises(SystemExit) as stopped:
        environment._ensure_system_packages(["libegl1", "libgl1"])

    assert str(stopped.value).splitlines()[-1] == "sudo apt-get install libegl1 libgl1"


@pytest.mark.parametrize("refused", [False, True])
def test_what_is_only_useful_is_tried_as_root_and_never_stops_the_program(
    refused: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The library for sound: installed where that is possible, else one sentence."""
    asked: list[list[str]] = []

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        asked.append(command)
        return subprocess.CompletedProcess(command, int(refused))

    monkeypatch.setattr(environment, "_loads", lambda library: False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(environment.shutil, "which", lambda name: "/usr/bin/" + name)
    monkeypatch.setattr(os, "geteuid", lambda: 0, raising=False)
    monkeypatch.setattr(environment.subprocess, "run", run)
    environment._try_optional_packages()

    assert asked[0][-1] == "libportaudio2"
    assert ("works without sound" in capsys.readouterr().err) is refused


def test_a_user_who_is_not_root_is_not_asked_for_what_is_only_useful(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nothing is installed and nothing is said at the start."""
    monkeypatch.setattr(environment, "_loads", lambda library: False)
    monkeypatch.setattr(os, "geteuid", lambda: 1000, raising=False)
    monkeypatch.setattr(environment.subprocess, "run", None)

    environment._try_optional_packages()
