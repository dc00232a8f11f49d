"""Manners of the command: one line and the right code where it is stopped or its output is lost; progress, quiet, completion."""

import io
import os
import subprocess
import sys
import time

import pytest

from hiveweek.cli import main as cli
from hiveweek.cli import progress, week
from hiveweek.cli.main import COMMANDS, main
from hiveweek.plan.model import Withheld
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


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device on this machine")
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


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_a_shell_completes_every_command(capsys, shell):
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert all(name in script for name in COMMANDS) and ("--calendar" in script or shell == "tcsh")
    if shell == "bash":
        subprocess.run(["bash", "-n"], input=script, text=True, check=True, timeout=20)


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
