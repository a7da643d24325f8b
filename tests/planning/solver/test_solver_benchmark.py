"""The benchmark reads public instances as they are defined, and says what is wrong with others."""

import json
import re
from pathlib import Path

import pytest

from planning.solver.benchmark import main
from planning.solver.instances import InstanceError, read_folder, read_instance

HEAD = "id,x,y,service,score,open,close\n"
TINY = HEAD + "0,0,0,0,0,0,100\n1,3,4,10,5,0,50\n2,1,1,10,7,20,60\n3,40,40,10,99,0,30\n"
KEYS = ["instance", "routes", "solver", "score", "bound", "seconds"]


def test_times_are_cut_to_one_decimal_place_and_to_two_for_pr(tmp_path: Path) -> None:
    for name in ("r1.csv", "pr1.csv"):
        (tmp_path / name).write_text(TINY)
    one, two = read_instance(tmp_path / "r1.csv"), read_instance(tmp_path / "pr1.csv")
    # The square root of 2 is 1.41421...; 3-4-5 stays exact.
    assert (one.travel[0, 2], one.travel[0, 1], one.scale) == (14, 50, 10)
    assert (two.travel[0, 2], two.travel[0, 1], two.scale) == (141, 500, 100)
    assert one.closes[0] == 1000


def test_the_table_of_best_known_scores_is_not_an_instance(tmp_path: Path) -> None:
    (tmp_path / "best_known.csv").write_text("instance,routes,best_known\nr1,1,12\n")
    with pytest.raises(InstanceError, match="no CSV file"):
        read_folder(tmp_path)
    (tmp_path / "r1.csv").write_text(TINY)
    assert [instance.name for instance in read_folder(tmp_path)] == ["r1"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "first line"),
        ("id,x\n", "first line"),
        (HEAD + "0,0,0,0,0,0,100\n", "at least one visit"),
        (HEAD + "0,0,0,0,0,0,100\n1,2\n", "line 3"),
        (HEAD + "0,0,0,0,0,0,100\n1,2,x,1,1,1,1\n", "line 3"),
        (HEAD + "0,0,0,0,0,0,100\n1,2,nan,1,1,1,1\n", "finite"),
        (HEAD + "0,0,0,0,0,0,100\n1,2,2,-1,1,1,1\n", "below 0"),
    ],
)
def test_a_broken_file_is_refused_with_a_sentence(
    tmp_path: Path, text: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "r1.csv").write_text(text)
    assert main(["--instances", str(tmp_path)]) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert "r1.csv" in shown.err
    assert shown.out == ""


def test_a_folder_that_is_missing_or_empty_is_refused_with_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--instances", str(tmp_path / "nowhere")]) == 2
    assert "not a folder" in capsys.readouterr().err
    assert main(["--instances", str(tmp_path)]) == 2
    assert "no CSV file" in capsys.readouterr().err


def test_tours_are_timed_again_before_they_count(tmp_path: Path) -> None:
    (tmp_path / "r1.csv").write_text(TINY)
    instance = read_instance(tmp_path / "r1.csv")
    assert instance.scored([(1, 2)], routes=1) == 12
    with pytest.raises(ValueError, match="closes"):
        instance.scored([(3,)], routes=1)  # 56.5 away, and it closes at 30
    with pytest.raises(ValueError, match="twice"):
        instance.scored([(1,), (1,)], routes=2)
    with pytest.raises(ValueError, match="too many"):
        instance.scored([(1,), (2,)], routes=1)


def test_both_solvers_answer_one_line_each_and_nothing_else(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "r1.csv").write_text(TINY)
    assert main(["--instances", str(tmp_path), "--routes", "1", "--seconds", "0.2"]) == 0
    lines = [json.loads(line) for line in capfd.readouterr().out.splitlines()]
    assert [list(line) for line in lines] == [KEYS, KEYS]
    assert [line["solver"] for line in lines] == ["planner", "pyvrp"]
    assert [line["score"] for line in lines] == [12, 12]  # the third visit cannot be reached
    assert [line["bound"] for line in lines] == [None, None]


def test_made_weeks_show_the_planners_bound_and_a_checked_rival(
    capfd: pytest.CaptureFixture[str],
) -> None:
    asked = ["--weeks", "1", "--jobs", "8", "--crews", "2", "--days", "1", "--seconds", "1"]
    assert main(asked) == 0
    shown = capfd.readouterr()
    ours, theirs = [json.loads(line) for line in shown.out.splitlines()]
    assert (ours["solver"], theirs["solver"]) == ("planner", "pyvrp")
    assert ours["routes"] == theirs["routes"] == 2
    assert theirs["score"] <= ours["bound"]
    assert 0 < ours["score"] <= ours["bound"]
    said = re.fullmatch(r"first plan after \d+\.\d\d s, worth (\d+\.\d\d)\n", shown.err)
    assert said is not None
    assert 0 < float(said[1]) <= ours["score"]


def test_sizes_are_planned_by_territories(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["--sizes", "6", "--days", "1", "--seconds", "0.5"]) == 0
    lines = [json.loads(line) for line in capfd.readouterr().out.splitlines()]
    assert [line["instance"] for line in lines] == ["6-jobs-1-territories"] * 2
