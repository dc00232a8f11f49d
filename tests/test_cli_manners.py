"""Manners of the command: one line and the right code where it is stopped or its output is lost; progress, quiet, completion."""

import dataclasses
import errno
import io
import os
import subprocess
import sys
import time
from types import SimpleNamespace

import pytest
import z3
from kept_kit import full_device

from hiveweek.authoring.logic import Logic
from hiveweek.cli import main as cli
from hiveweek.cli import progress, week
from hiveweek.cli.complaint import complain, lines
from hiveweek.cli.main import COMMANDS, main
from hiveweek.plan.model import Withheld
from hiveweek.problems import Problem
from hiveweek.texts.parts import message


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_stopped_by_the_keeper_it_says_so_in_one_line(capsys, monkeypatch):
    def stop(_):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_run", stop)
    assert main(["week"]) == 130  # 128 and the number of the signal, as shells count
    assert capsys.readouterr().err.strip() == "stopped"


@full_device
def test_where_the_output_is_full_or_gone_it_ends_in_one_line():
    command = [sys.executable, "-m", "hiveweek.cli.main", "climate", "list"]
    with open("/dev/full", "w") as full:
        ran = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    assert ran.returncode == 74 and ran.stderr.startswith(
        "cannot-write standard output: "
    )  # EX_IOERR of BSD's sysexits
    assert ran.stderr.count("\n") == 1
    near, far = os.pipe()
    os.close(near)
    ran = subprocess.run(command, stdout=far, stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    os.close(far)
    assert ran.returncode == 0 and ran.stderr == ""


def test_another_error_of_the_system_is_not_taken_for_a_full_disk(monkeypatch):
    def fail(_):
        raise FileNotFoundError(2, "No such file", "x")

    monkeypatch.setattr(cli, "_run", fail)
    with pytest.raises(FileNotFoundError):
        main(["week"])


@pytest.mark.parametrize("alone", [True, False])
def test_work_over_a_second_shows_how_far_it_has_come_and_leaves_no_trace(monkeypatch, alone):
    said = Terminal()
    monkeypatch.setattr(sys, "stderr", said)
    monkeypatch.setattr(progress, "AFTER_S", 0.0)
    monkeypatch.setenv("TERM", "xterm")
    with progress.Working(3, alone=alone) as working:
        time.sleep(0.05)
        working.step()
        working.step()
        time.sleep(0.2)
    assert "working it out" in said.getvalue() and "2/3" in said.getvalue()


@pytest.mark.parametrize(
    ("stream", "quiet", "after"), [(io.StringIO, False, 0.0), (Terminal, True, 0.0), (Terminal, False, 9.0)]
)
def test_quick_work_quiet_work_and_piped_work_show_nothing(monkeypatch, stream, quiet, after):
    said = stream()
    monkeypatch.setattr(sys, "stderr", said)
    monkeypatch.setattr(progress, "AFTER_S", after)
    for alone in (True, False):
        with progress.Working(2, quiet=quiet, alone=alone) as working:
            working.step()
            time.sleep(0.02)
    assert said.getvalue() == ""


def test_work_of_unknown_length_says_what_is_done_and_for_how_long(monkeypatch):
    said = Terminal()
    monkeypatch.setattr(sys, "stderr", said)
    monkeypatch.setattr(progress, "AFTER_S", 0.0)
    monkeypatch.setenv("TERM", "xterm")
    with progress.Working(alone=False) as working:
        working.tell("year of [boreal]")
        assert list(working.each("ab")) == ["a", "b"]
    assert "year of [boreal]" in said.getvalue() and "0:00:00" in said.getvalue() and working.done == 2


def test_what_draws_the_line_is_loaded_only_to_draw_it():
    code = "import sys, hiveweek.cli.progress; assert not any(name.startswith('rich') for name in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert (ran.returncode, ran.stderr) == (0, "")


@pytest.mark.parametrize(
    "words", ["rules prove", "rules impact", "rules check", "season", "record check", "climate build"]
)
def test_long_work_can_be_asked_to_be_quiet(words, capsys):
    with pytest.raises(SystemExit):
        main([*words.split(), "--help"])
    assert "--quiet" in capsys.readouterr().out


def test_the_solver_lets_itself_be_stopped():
    """It takes the signal for itself, answers that it does not know, and would go on with the next question."""
    logic = Logic.__new__(Logic)
    logic.solver = SimpleNamespace(check=lambda *asked: z3.unknown, reason_unknown=lambda: "interrupted from keyboard")
    with pytest.raises(KeyboardInterrupt):
        logic.satisfiable()
    logic.solver.reason_unknown = lambda: "timeout"
    assert logic.satisfiable() is None


# --- complaints -------------------------------------------------------------------------------------------------------------
LONG = Problem("yards/mill lane/2026.yaml", 12, 7, "unknown-fact", "'colony.egs' is no fact; nearest: colony.eggs")


@pytest.mark.parametrize("width", [40, 60, 80])
def test_a_complaint_is_wrapped_for_a_person_and_its_place_stays_whole(width):
    told = lines(LONG, width)
    assert max(map(len, told)) < width and told[0].startswith("yards/mill lane/2026.yaml:12:7:")
    assert " ".join(line.strip() for line in told) == str(LONG)
    assert all(line.startswith("  ") for line in told[1:])


def test_a_complaint_is_one_line_for_a_program_and_a_long_place_is_never_broken(monkeypatch):
    assert lines(LONG, None) == [str(LONG)] == lines(LONG, 400)
    deep = dataclasses.replace(LONG, file="a-long-name/" * 6 + "x.yaml")
    assert lines(deep, 40)[0] == f"{deep.file}:12:7:"
    assert lines(dataclasses.replace(LONG, file=""), 40) == [
        "unknown-fact 'colony.egs' is no fact;",
        "  nearest: colony.eggs",
    ]
    said = Terminal()
    monkeypatch.setattr(sys, "stderr", said)
    monkeypatch.setenv("COLUMNS", "40")
    complain([LONG, LONG])
    assert said.getvalue().count("\n") == 6


def test_where_nobody_can_be_told_the_code_still_says_it(monkeypatch):
    class Full(io.StringIO):
        def write(self, text):
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(sys, "stderr", Full())
    assert main(["wekk"]) == 2


# --- completion -------------------------------------------------------------------------------------------------------------
COMPLETED = {
    "hiveweek we": "week",
    "hiveweek rules pr": "prove",
    "hiveweek week --cal": "--calendar",
    "hiveweek week ya": "yard.yaml",
    "hiveweek week --rules ya": "yard.yaml",
    "hiveweek practice --from mi": "mine",
    "hiveweek season --keeper a": "advice",
    "hiveweek hive show ya": "",
}


def test_bash_completes_commands_options_choices_and_files(capsys, tmp_path):
    assert main(["completion", "bash"]) == 0
    (tmp_path / "yard.yaml").touch()
    (tmp_path / "mine").mkdir()
    asks = "".join(f"ask {words}\n" for words in COMPLETED)
    ask = 'ask() { COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=(); _shtab_hiveweek; echo "${COMPREPLY[*]}"; }'
    script = f"{capsys.readouterr().out}\n{ask}\n{asks}"
    ran = subprocess.run(["bash"], input=script, text=True, capture_output=True, cwd=tmp_path, timeout=20, check=True)
    assert dict(zip(COMPLETED, ran.stdout.split("\n"), strict=False)) == COMPLETED and ran.stderr == ""


@pytest.mark.parametrize("shell", ["zsh", "tcsh"])
def test_other_shells_are_told_every_command(capsys, shell):
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert all(name in script for name in COMMANDS) and ("--calendar" in script or shell == "tcsh")


# --- why --------------------------------------------------------------------------------------------------------------------
class Keeper(Terminal):
    pass


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Run the week over the demo, its answer worked out once for all tests."""
    kept = {}
    answers = week.answers

    def once(yards, asking, done):
        if not kept:
            answers(
                yards, type(asking)(**{**vars(asking), "show": lambda found: kept.setdefault("found", found)}), done
            )
        return [asking.show(kept["found"])]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(week, "answers", once)
        yield kept


def test_why_takes_an_action_and_says_what_its_points_mean(capsys, demo):
    assert main(["week", "--offline", "--why", "treat-mites"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Hive Ash: Treat against mites" in said and "One point is one colony in a hundred" in said
    assert "mites_deciding.treat-late-summer at hive Ash: holds" in said and "Beech" not in said


def test_why_asks_for_the_hive_where_several_fire(capsys, demo, monkeypatch):
    assert main(["week", "--offline", "--why", "feed-thick-syrup"]) == 2
    assert "which-hive" in (err := capsys.readouterr().err) and "--hive: Beech, Cherry" in err
    assert main(["week", "--offline", "--why", "feed-thick-syrup", "--hive", "Cherry"]) == 0
    said = capsys.readouterr().out
    assert "Hive Cherry" in said and "Beech" not in said
    answered = Terminal()
    monkeypatch.setattr(sys, "stdin", Keeper())
    monkeypatch.setattr(sys, "stdout", answered)
    monkeypatch.setattr("builtins.input", lambda asked: "Beech")
    assert main(["week", "--offline", "--why", "feed-thick-syrup"]) == 0 and "Hive Beech" in answered.getvalue()
    monkeypatch.setattr("builtins.input", lambda asked: "Beach")
    assert main(["week", "--offline", "--why", "feed-thick-syrup"]) == 2
    assert "nearest: Beech" in capsys.readouterr().err


def test_why_of_an_action_that_is_not_advised_names_the_rules_that_could(capsys, demo):
    assert main(["week", "--offline", "--why", "shade-hive", "--hive", "Fir"]) == 0
    assert "Rules that can advise it: heat." in " ".join(capsys.readouterr().out.split())
    assert main(["week", "--offline", "--why", "shade-hiv"]) == 2
    assert "nearest: shade-hive" in capsys.readouterr().err


def test_why_of_an_action_that_waits_says_what_for(capsys, demo):
    (elm,) = [hive for hive in demo["found"].plan.hives if hive.id == "Elm"]
    elm.withheld.append(Withheld("fit-mouse-guard", "no.rule", "prohibition", message("not-known"), waits=True))
    assert main(["week", "--offline", "--why", "fit-mouse-guard"]) == 0
    assert "Waits: fit the mouse guard" in capsys.readouterr().out


def test_quiet_leaves_the_answer_alone(capsys, demo, tmp_path):
    assert main(["week", "--offline", "--quiet"]) == 0
    assert capsys.readouterr().out.startswith("Mill Lane, week of")
    assert main(["week", "--offline", "--quiet", "--calendar", str(tmp_path / "week.ics")]) == 0
    assert capsys.readouterr() == ("", "") and (tmp_path / "week.ics").is_file()
