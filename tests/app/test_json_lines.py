"""Guided runs as lines of JSON: each command led by a client that knows docs/json-lines.md and WIRE.md only, on a mat
that is faster than time; and every line of that page against what is printed."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from lines_client import Client, Mat
from patience import PATIENCE_S

from groundtone.app.calibration import check_run
from groundtone.app.json_lines import word_of
from groundtone.app.twin import mat_of
from groundtone.calibration.checking.check_log import read_checks
from groundtone.calibration.guided.remarks import Ask, What
from groundtone.calibration.profile import read_profile
from groundtone.calibration.shoes import standing
from groundtone.engine.practice_state import State
from groundtone.errors import LostError
from groundtone.link.base import PATIENT_LOST_S
from groundtone.link.following import until_lost
from groundtone.twin.scenario import Check, GolferSpec, Hands, Scenario, Session, Standing, SwingSpec

UID = "67746d0000000007"
GOLFER = GolferSpec(mass_kg=78.0)


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """A user's folder that the runs of this file share: what one has calibrated the next one checks."""
    folder, before = tmp_path_factory.mktemp("home"), os.environ["GROUNDTONE_HOME"]
    os.environ["GROUNDTONE_HOME"] = str(folder)
    yield folder
    os.environ["GROUNDTONE_HOME"] = before


def led(home, act, arguments, on_line=lambda client, line: None):
    """A command, led to its end: the client with all lines, and the exit code in `code`."""
    path = home / "scenario.json"
    path.write_text(Scenario(mat_of(7, "starter-10x3"), act).to_json())
    mat = Mat(path)
    try:
        client = Client(mat, arguments)
        try:
            client.code = client.run(lambda line: on_line(client, line))
        finally:
            client.close()
    finally:
        mat.close()
    return client


@pytest.fixture(scope="module")
def stood(home):
    return led(home, Standing(GOLFER), ["calibrate", "standing", "--mass", "78"])


@pytest.fixture(scope="module")
def checked(home, stood):
    def answers(client, line):
        if line.get("ask") == "hand":
            client.answer("both", '{"answer": 1}', "{left", '{"answer": "Left"}')

    return led(home, Check(GOLFER), ["check", "--mass", "78"], answers)


@pytest.fixture(scope="module")
def practised(home, stood):
    def answers(client, line):
        if line.get("seen") == "swing" and line["number"] == 1:
            client.answer("6")
        if line.get("seen") == "swing" and line["number"] == 2:
            client.answer("q")

    act = Session(GOLFER, (SwingSpec("good"), SwingSpec("good", setup_heel_toe=0.80)))
    return led(home, act, ["practise", "--golfer", "Line"], answers)


CELLS = {(2, 1), (5, 1), (7, 1), (2, 4), (5, 4), (7, 4)}


@pytest.fixture(scope="module")
def benched(home):
    """Hands that do what the lines ask, on six cells; the others are left out. One lands beside and is taken back."""
    busy, odd = [], ["beside", "back"]

    def hands(client, line):
        if line.get("seen") == "placement":
            busy.clear()
            if odd == ["back"]:
                client.answer("take back")
                odd.clear()
        if line.get("ask") not in ("put", "add") or busy:
            return
        cell = line["row"], line["column"]
        if cell not in CELLS:
            client.answer("s")
            return
        if cell == (5, 1) and "beside" in odd:
            odd.remove("beside")
            cell = 7, 1
        busy.append(cell)
        client.mat.say(f"do press {cell[0]} {cell[1]} {line['force_n']} 3")

    act = Hands(force_spread=0.0, finger_mm=(30.0, 44.0), duration_s=36000.0)
    weights = ["--mass", "2", "--mass", "5", "--mass", "20", "--weighed", "--minutes", "25"]
    return led(home, act, ["calibrate", "bench", *weights, "--profile", home / "bench.json"], hands)


@pytest.fixture(scope="module")
def commissioned(home):
    def hands(client, line):
        if line.get("do"):
            client.mat.say(f"do {line['do']}")

    return led(home, Hands(duration_s=36000.0), ["build", "commission", "--soak", "5", "--out", home / "built"], hands)


def of(client, kind):
    """Values of the lines of a kind, in order."""
    return [line[kind] for line in client.those(kind)]


def test_standing_is_led_by_the_mats_clock_and_writes_a_profile(home, stood):
    assert stood.code == 0
    assert of(stood, "ask") == ["keep off", "step on", "rock slowly", "step off now", "step off, done"]
    # The person comes after three seconds of the mat's time, however long those were.
    assert 3.0 < stood.those("ask", "rock slowly")[0]["t_s"] < 4.0
    (result,) = stood.those("result")
    assert stood.lines[-1] is result
    assert (result["result"], result["exit"], result["known_before"]) == ("written", 0, False)
    assert read_profile(Path(result["profile"])).uid == UID
    assert result["postures"] > 30


def test_a_check_asks_until_it_is_answered(home, checked):
    assert checked.code == 0
    wrong = [line for line in checked.those("error") if "exit" not in line]
    for why, line in zip(("'both'", "with a text", "not JSON"), wrong, strict=True):
        assert why in line["error"]
    (result,) = checked.those("result", "ready")
    assert result["hand"] == "left"
    (kept,) = read_checks(home / "profiles" / f"{UID}.checks.jsonl")
    assert kept.hand == "left"
    assert result["share_95"] == pytest.approx(2 * kept.share_u, abs=1e-4)
    assert result["mass_kg"] == pytest.approx(78.0, abs=1.0)


def test_practice_tells_cues_swings_and_strikes_as_they_come(practised):
    assert practised.code == 0
    asks = of(practised, "ask")
    assert (asks[0], "play" in asks, asks[-1]) == ("step on", True, "over")
    one, two = practised.those("seen", "swing")
    (strike,) = practised.those("seen", "strike")
    assert (strike["number"], strike["told"]) == (1, "toe")
    begun, ended = practised.those("seen", "cue")
    assert (begun["cue"], begun["sounds"], ended["sounds"]) == ("toes", True, False)
    (heard,) = two["heard"]
    assert one["heard"] == []
    assert heard["begin_s"] + two["impact_s"] == pytest.approx(begun["t_s"], abs=1e-6)
    assert heard["end_s"] + two["impact_s"] == pytest.approx(ended["t_s"], abs=1e-6)
    (result,) = practised.those("result")
    assert (result["swings"], result["missed"], result["gaps"]) == (2, 0, 0)


def test_review_states_the_same_cue_in_the_same_time(home, practised):
    command = [sys.executable, "-m", "groundtone", "review", "last", "--json"]
    seen = json.loads(subprocess.run(command, capture_output=True, timeout=PATIENCE_S, check=True).stdout)
    begun, ended = practised.those("seen", "cue")
    (cue,) = seen["cues"]
    assert cue["cue"] == "toes"
    assert (cue["begin_s"], cue["end_s"]) == pytest.approx((begun["t_s"], ended["t_s"]), abs=1e-5)


def test_hands_that_follow_the_lines_calibrate_a_bench(home, benched):
    assert benched.code == 0
    (landed,) = benched.those("seen", "landed")
    assert landed["cells"][1] == [7, 1]
    assert len(benched.those("seen", "taken back")) == 1
    (result,) = benched.those("result", "done")
    assert {(p["row"], p["column"]) for p in benched.those("seen", "placement")} == CELLS
    assert result["placements"] == len(benched.those("seen", "placement")) - 1
    assert read_profile(Path(result["profile"])).weights == ("2 kg", "5 kg", "20 kg")


def test_hands_that_follow_the_lines_commission_a_mat(commissioned):
    assert commissioned.code == 0
    steps = {line["step"]: line["outcome"] for line in commissioned.those("seen", "step")}
    # There may be a radio on this computer, and no mat in it.
    assert {step for step, outcome in steps.items() if outcome != "passed"} <= {"radio"}
    (result,) = commissioned.those("result")
    assert [each["key"] for each in result["steps"]] == list(steps)


# The page


PAGE = Path(__file__).parents[2] / "docs" / "json-lines.md"
TITLES = ("calibrate bench", "calibrate standing", "check", "practise", "build commission")
EVERY = "Lines of every command"


def rows():
    """Of each table of lines: command, kind, values and fields."""
    out = []
    for part in PAGE.read_text("utf-8").split("\n## ")[1:]:
        title, _, text = part.partition("\n")
        if title not in (*TITLES, EVERY):
            continue
        for first, second in re.findall(r"^\| (`.*?) \| (.*) \|$", text, re.M):
            kind, *values = re.findall(r"`(.*?)`", first)
            fields = re.findall(r"`(.*?)`", second.split(":")[0])
            out.append((title, kind, set(values), "else" in first or "others" in first, set(fields)))
    return out


@pytest.fixture(scope="module")
def printed(stood, checked, practised, benched, commissioned):
    return {client.lines[0]["command"]: client.lines for client in (stood, checked, practised, benched, commissioned)}


def test_the_first_line_says_what_it_is(printed):
    assert set(printed) == set(TITLES)
    for command, lines in printed.items():
        assert lines[0] == {"groundtone": "json-lines", "version": 1, "command": command}
    assert "version 1" in PAGE.read_text("utf-8").partition("\n")[0]


def test_every_line_that_is_printed_is_on_the_page_with_its_fields(printed):
    for command, lines in printed.items():
        for line in lines[1:]:
            (kind,) = {"ask", "seen", "said", "result", "error"} & set(line)
            fields = set(line) - {kind, "t_s"}
            assert "t_s" in line
            if kind in ("said", "error"):
                assert fields <= {"exit"}
                continue
            known = [row for row in rows() if row[0] in (command, EVERY) and row[1] == kind]
            named = [row for row in known if line[kind] in row[2]] or [row for row in known if row[3]]
            assert [row[4] for row in named] == [fields], line


def test_every_row_of_the_page_is_printed_somewhere(printed):
    for command, kind, values, others, _ in rows():
        lines = [line for name in TITLES if command in (name, EVERY) for line in printed[name] if kind in line]
        known = set().union(*(row[2] for row in rows() if row[1] == kind and row[0] in (command, EVERY)))
        assert any(line[kind] in values or (others and line[kind] not in known) for line in lines), (command, values)


def test_the_fields_within_fields_are_on_the_page(printed):
    text = " ".join(PAGE.read_text("utf-8").split())

    def listed(words):
        return set(re.findall(r"`(.*?)`", re.search(words + r" ((?:`\w+` ?)+)", text).group(1)))

    last = {command: lines[-1] for command, lines in printed.items()}
    assert set(last["check"]["findings"][0]) == listed("A finding has")
    assert set(last["practise"]["blocks"][0]) == listed("each of `blocks` has")
    assert set(last["build commission"]["steps"][0]) == listed("each step with")
    heard = [line["heard"] for line in printed["practise"] if line.get("seen") == "swing"]
    assert {name for each in heard for cue in each for name in cue} == listed("Each of `heard` has")


def test_the_page_names_all_that_can_be_asked(printed):
    asks = {name: set().union(*(row[2] for row in rows() if row[:2] == (name, "ask"))) for name in TITLES}
    assert asks["calibrate bench"] == {each.value for each in Ask}
    assert asks["calibrate standing"] == {each.value for each in standing.Ask}
    assert asks["check"] == {words for words, _ in check_run._WORDS.values()} | {"step off", "hand", "mass"}
    assert asks["practise"] == {each.value for each in State}
    assert not {each.value for each in What} & {"mat", "time", "placement", "taken back"}


# Answers, and what goes wrong


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"\xff\xfe", "UTF-8"),
        (b'{"answer": "u"', "not JSON"),
        (b'{"answer": ["u"]}', "with a text"),
        (b'{"answer": "u", "why": 1}', "with a text"),
        (b"x" * 1001, "longer than"),
    ],
)
def test_an_answer_that_cannot_be_read_says_why(line, why):
    with pytest.raises(ValueError, match=why):
        word_of(line)


def lines_of(*arguments, **more):
    """A quick run on the twin in its own process: its lines and its exit code."""
    command = [sys.executable, "-m", "groundtone", *map(str, arguments), "--json-lines"]
    ended = subprocess.run(command, capture_output=True, timeout=PATIENCE_S, check=False, **more)
    assert b"Traceback" not in ended.stderr, ended.stderr
    return [json.loads(line) for line in ended.stdout.splitlines()], ended.returncode


QUICK = ("--twin", "7", "--fast", "--layout", "starter-10x3")


def test_a_question_without_an_input_is_taken_as_not_answered(stood):
    lines, code = lines_of("check", *QUICK, "--mass", "78", stdin=subprocess.DEVNULL)
    told = next(line for line in lines if "error" in line)
    assert "has ended" in told["error"]
    assert "exit" not in told
    assert (lines[-1]["result"], lines[-1]["hand"], code) == ("ready", "", 0)


def test_a_mass_that_is_not_this_persons_keeps_nothing(home, stood):
    before = (home / "profiles" / f"{UID}.checks.jsonl").read_bytes()
    # What the first question is not asked for has been told by then; the mass is the only one.
    scenario = home / "heavy.json"
    scenario.write_text(Scenario(mat_of(7, "starter-10x3"), Check(GolferSpec(mass_kg=78.0))).to_json())
    process = subprocess.Popen(
        [sys.executable, "-m", "groundtone", "check", "--twin", scenario, "--fast", "--mass", "92", "--json-lines"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    lines = []
    for raw in process.stdout:
        lines.append(json.loads(raw))
        if lines[-1].get("ask") == "mass":
            process.stdin.write("no\n")
            process.stdin.flush()
    assert process.wait(PATIENCE_S) == lines[-1]["exit"] == 2
    assert "right mass" in lines[-1]["error"]
    process.stdin.close()
    process.stdout.close()
    assert (home / "profiles" / f"{UID}.checks.jsonl").read_bytes() == before


def test_a_run_that_cannot_begin_ends_with_an_error_and_its_exit_code(home):
    lines, code = lines_of("check", "--port", "nowhere", stdin=subprocess.DEVNULL)
    assert lines[0]["command"] == "check"
    assert ("no mat at nowhere" in lines[1]["error"], lines[1]["exit"], code) == (True, 2, 2)
    assert len(lines) == 2


def test_an_answer_ends_a_run(home):
    lines, code = lines_of("calibrate", "standing", *QUICK, "--mass", "78", input=b"\nQ\n")
    assert code == lines[-1]["exit"] == 2
    assert not [line for line in lines if line.get("ask") == "rock slowly"]


def test_when_nobody_reads_any_more_the_run_ends(home):
    command = [sys.executable, "-m", "groundtone", "practise", *QUICK, "--no-record", "--json-lines"]
    process = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert "json-lines" in process.stdout.readline()
    process.stdout.close()
    assert process.wait(PATIENCE_S) == 2
    assert process.stderr.read() == ""
    process.stderr.close()


def test_silence_counts_by_the_patience_that_is_asked_for():
    def taken(**patience):
        seen = []
        with pytest.raises(LostError):
            seen.extend(until_lost(iter(lambda: None, 1), **patience))
        return len(seen)

    assert taken() == pytest.approx(3.0 / 0.05, abs=1)
    assert taken(lost_s=PATIENT_LOST_S) == pytest.approx(60.0 / 0.05, abs=1)
