"""The installer against MicroPython itself: a folder as flash, power that goes at any moment, a serial port."""

import json
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from board_double import Direct, SerialBoard, boot
from mpremote import transport_serial
from mpremote.transport import TransportError
from patience import until

from groundtone.app.builder import build_install
from groundtone.app.command import main
from groundtone.build.install import InstallError, back, check_board, firmware_files, install, look
from groundtone.mat.layout import layout_of

FIRMWARE = Path(__file__).parents[2] / "firmware"
CHOOSER = (FIRMWARE / "chooser.py").read_bytes()


def tiny(who):
    """A firmware that says who it is, of a main.py and two modules."""
    return {
        "main.py": b"from mat import app\napp.run()\n",
        "mat/app.py": b"from mat import words\n\n\ndef run():\n    print(words.WHO)\n",
        "mat/words.py": f"WHO = {who!r}\n# {'filler ' * 60}\n".encode(),
    }


def put(folder, files):
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def installed(folder, who, cut_after=None):
    board = Direct(folder, cut_after)
    try:
        install(board, tiny(who), CHOOSER)
        return board.ran
    finally:
        board.prompt.close()


@pytest.fixture(autouse=True)
def no_pauses(monkeypatch):
    """The prompt's 10 ms after each 256 bytes: a real board's UART needs them, the double reads as it comes."""
    quick = SimpleNamespace(**{**vars(time), "sleep": lambda seconds: time.sleep(min(seconds, 0.0002))})
    monkeypatch.setattr(transport_serial, "time", quick)


@pytest.fixture
def by_hand(tmp_path):
    """A board whose files somebody copied, with settings."""
    put(tmp_path, tiny("by hand"))
    (tmp_path / "settings.json").write_text('{"name": "kept"}')
    return tmp_path


def test_versions_replace_each_other_and_there_is_a_way_back(by_hand):
    assert boot(by_hand) == "by hand"
    installed(by_hand, "A")
    assert boot(by_hand) == "A"
    board = Direct(by_hand)
    back(board, CHOOSER)
    assert boot(by_hand) == "by hand"
    back(board, CHOOSER)
    board.prompt.close()
    installed(by_hand, "B")
    assert boot(by_hand) == "B"
    installed(by_hand, "C")
    board = Direct(by_hand)
    back(board, CHOOSER)
    assert boot(by_hand) == "B"
    state = look(board, CHOOSER)
    board.prompt.close()
    # Two versions stay; what was copied by hand has gone, the settings have not.
    assert (state.now, state.before, len(state.folders)) == ("fw-2", "fw-3", 2)
    assert not (by_hand / "mat").exists()
    assert json.loads((by_hand / "settings.json").read_text()) == {"name": "kept"}


def test_a_bare_board_gets_its_first_version(tmp_path):
    installed(tmp_path, "A")
    assert boot(tmp_path) == "A"
    board = Direct(tmp_path)
    with pytest.raises(InstallError, match="no earlier version"):
        back(board, CHOOSER)
    board.prompt.close()


@pytest.mark.parametrize("start", ["by hand", "chooser"])
def test_power_may_go_at_any_moment(tmp_path, start):
    """After every third piece of code that is sent; the old version or the new one starts, and it can be done again."""
    whole = put(tmp_path / "whole", tiny("old"))
    if start == "chooser":
        installed(whole, "old")
    steps = installed(_copy(whole, tmp_path / "all"), "new")
    said = set()
    for cut in range(1, steps, 3):
        flash = _copy(whole, tmp_path / f"cut{cut}")
        with pytest.raises(TransportError):
            installed(flash, "new", cut)
        said.add(boot(flash))
        if cut % 5 == 1:
            installed(flash, "new")
            assert boot(flash) == "new"
    assert said <= {"old", "new"}
    assert "old" in said


def _copy(source, target):
    shutil.copytree(source, target)
    return target


def test_a_version_that_cannot_start_gives_way_to_the_one_before(by_hand):
    installed(by_hand, "A")
    board = Direct(by_hand)
    install(board, {**tiny("B"), "mat/words.py": b"WHO = this is no MicroPython\n"}, CHOOSER)
    board.prompt.close()
    assert boot(by_hand).endswith("A")
    assert "does not start" in boot(by_hand)


def test_what_reads_back_differently_is_not_switched_to(by_hand):
    class Worn(Direct):
        def fs_hashfile(self, path, algo, chunk_size=256):
            return b"worn flash" if path.endswith("words.py") else super().fs_hashfile(path, algo, chunk_size)

    board = Worn(by_hand)
    with pytest.raises(InstallError, match=r"words.py reads back differently"):
        install(board, tiny("A"), CHOOSER)
    board.prompt.close()
    assert boot(by_hand) == "by hand"


def test_a_full_board_is_refused_before_anything_is_copied(by_hand):
    class Full(Direct):
        def eval(self, expression, parse=True):
            return (4096, 0, 0, 0) if "statvfs" in expression else super().eval(expression)

    board = Full(by_hand)
    with pytest.raises(InstallError, match="0 kB free"):
        install(board, tiny("A"), CHOOSER)
    board.prompt.close()
    assert sorted(p.name for p in by_hand.iterdir()) == ["main.py", "mat", "settings.json"]


@pytest.mark.parametrize(
    ("implementation", "says"),
    [
        (("circuitpython", (9, 1), "Pico W with rp2040"), "runs circuitpython and not MicroPython"),
        (("micropython", (1, 19), "Raspberry Pi Pico W with RP2040"), "MicroPython 1.19"),
        (("micropython", (1, 28), "PYBv1.1 with STM32F405RG"), "PYBv1.1"),
        (None, "does not say what it is"),
    ],
)
def test_boards_that_will_not_do_are_refused_with_a_sentence(implementation, says):
    class Board:
        def eval(self, expression):
            return implementation

    with pytest.raises(InstallError, match=says):
        check_board(Board())


def test_boards_that_will_do():
    class Board:
        def eval(self, expression):
            return ("micropython", (1, 28), "Raspberry Pi Pico 2 W with RP2350")

    assert "RP2350" in check_board(Board())


def test_package_json_lists_every_file_of_the_firmware():
    listed = {name for name, _ in json.loads((FIRMWARE / "package.json").read_text())["urls"]}
    there = {str(p.relative_to(FIRMWARE)) for p in FIRMWARE.rglob("*.py")}
    # The chooser stands beside versions and is in none.
    assert listed == there - {"chooser.py"}
    assert set(firmware_files(FIRMWARE)) == listed


def test_a_firmware_folder_that_is_not_whole_is_refused(tmp_path):
    (tmp_path / "package.json").write_text('{"urls": [["main.py", "main.py"]]}')
    with pytest.raises(InstallError, match="not whole"):
        firmware_files(tmp_path)


# Over a serial port


def run(capfd, *arguments):
    with pytest.raises(SystemExit) as ended:
        main(["build", "install", *map(str, arguments)])
    said = capfd.readouterr()
    assert "Traceback" not in said.err + said.out
    return ended.value.code or 0, said.out, said.err


def small_folder(folder, who):
    files = tiny(who)
    put(folder, files)
    (folder / "package.json").write_text(json.dumps({"urls": [[name, name] for name in files]}))
    shutil.copy(FIRMWARE / "chooser.py", folder)
    return folder


def test_the_real_firmware_over_a_serial_port_to_a_mat_that_runs(tmp_path, capfd):
    flash = put(tmp_path / "flash", firmware_files(FIRMWARE))
    (flash / "settings.json").write_text('{"name": "kept"}')
    with SerialBoard(flash, mat=True) as board:
        code, out, err = run(capfd, "--port", board.port, "--any-board")
        assert (code, err) == (0, "")
        assert "kept as the version before" in out
        assert "The mat answers: firmware" in out
        code, out, _ = run(capfd, "--port", board.port, "--any-board", "--back")
        assert code == 0
        assert "Back to fw-0" in out
    assert (flash / "version").read_text().split() == ["fw-0", "fw-1"]
    assert (flash / "settings.json").read_text() == '{"name": "kept"}'


def test_a_new_board_becomes_the_mat_that_is_named_and_a_starter_without_a_name(tmp_path, capfd, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    flash = tmp_path / "flash"
    flash.mkdir()
    with SerialBoard(flash, mat=True) as board:
        code, out, err = run(capfd, "--port", board.port, "--any-board")
        assert (code, err) == (0, "")
        assert "It is a starter-10x3 now: 10 rows by 3 columns a foot." in out
        assert json.loads((flash / "settings.json").read_text())["layout"] == "starter-10x3"
        # A mat of one's own: its layout goes among this user's, where every command finds it.
        own = tmp_path / "garage.toml"
        text = (FIRMWARE.parent / "hardware" / "mats" / "starter.toml").read_text()
        text = text.replace('"starter-10x3"', '"garage-10x3"').replace("pulldown_ohm = 1000.0", "pulldown_ohm = 820.0")
        own.write_text(text)
        code, out, _ = run(capfd, "--port", board.port, "--any-board", "--mat", own)
        assert code == 0
        assert "It is a garage-10x3 now" in out
        assert layout_of("garage-10x3").pulldown_ohm == 820.0
        # Without a name it keeps what it is.
        code, out, _ = run(capfd, "--port", board.port, "--any-board")
        assert (code, "layout garage-10x3" in out, "It is a" in out) == (0, True, False)


def test_a_mat_that_was_never_set_stays_what_its_old_firmware_took_it_for(tmp_path, capfd):
    old = firmware_files(FIRMWARE)
    old["mat/settings.py"] = old["mat/settings.py"].replace(b"starter-10x3", b"reference-16x4")
    flash = put(tmp_path / "flash", old)
    with SerialBoard(flash, mat=True) as board:
        code, out, err = run(capfd, "--port", board.port, "--any-board")
        assert (code, err) == (0, "")
        assert "It is a reference-16x4 now: 16 rows by 4 columns a foot." in out
    assert json.loads((flash / "settings.json").read_text())["layout"] == "reference-16x4"


def test_a_port_that_sends_without_pause_is_given_up_in_one_sentence(tmp_path, capfd, monkeypatch):
    # What it waits for in all: the hello, silence, the prompt.
    assert 1.0 + build_install.CHATTER_S + build_install.TRIES * build_install.PROMPT_S < 20.0
    monkeypatch.setattr(build_install, "CHATTER_S", 0.5)

    class Chatter(SerialBoard):
        def _byte(self, byte):
            """Does not listen."""

        def talk(self, over):
            while not over.wait(0.01):
                self._say(b"$GPGGA,120000,0000.0,N\r\n")

    over = threading.Event()
    with Chatter(tmp_path) as board:
        talking = threading.Thread(target=board.talk, args=(over,))
        talking.start()
        code, _, err = run(capfd, "--port", board.port)
        over.set()
        talking.join()
    assert code == 2
    assert "sends without pause" in err
    assert err.count("\n") == 1


def test_a_copy_that_is_killed_leaves_the_old_version(tmp_path, monkeypatch):
    monkeypatch.setattr(build_install, "PATIENCE_S", 1.0)
    flash = put(tmp_path / "flash", tiny("old"))
    source = small_folder(tmp_path / "source", "new")
    (source / "mat/words.py").write_bytes(b"WHO = 'new'\n" + b"# filler\n" * 30_000)
    with SerialBoard(flash) as board:
        command = [sys.executable, "-m", "groundtone", "build", "install", "--port", board.port, "--any-board"]
        process = subprocess.Popen([*command, "--firmware", source], stdout=subprocess.DEVNULL)
        copied = flash / "fw-1" / "mat" / "words.py"
        until(lambda: copied.exists() and copied.stat().st_size > 5_000, step_s=0.001)  # in the middle of a long file
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert copied.stat().st_size < 270_000
        assert not (flash / "version").exists()
        assert boot(flash) == "old"


def test_what_is_no_micropython_is_left_alone(tmp_path, capfd, monkeypatch):
    monkeypatch.setattr(build_install, "TRIES", 1)

    class Deaf(SerialBoard):
        def _byte(self, byte):
            """Takes everything and says nothing."""

    with Deaf(tmp_path) as board:
        code, _, err = run(capfd, "--port", board.port)
    assert code == 2
    assert "gives no MicroPython prompt" in err
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_board_is_refused_and_keeps_what_it_has(tmp_path, capfd):
    flash = put(tmp_path / "flash", tiny("old"))
    with SerialBoard(flash) as board:
        code, _, err = run(capfd, "--port", board.port)
    assert code == 2
    assert "has pins for RP2040" in err
    assert sorted(p.name for p in flash.iterdir()) == ["main.py", "mat"]


def test_a_port_in_use_a_port_that_is_not_there_no_board_and_two(tmp_path, capfd, monkeypatch):
    import serial

    with SerialBoard(tmp_path) as board, serial.Serial(board.port, exclusive=True):
        code, _, err = run(capfd, "--port", board.port)
        assert (code, "in use" in err) == (2, True)
    code, _, err = run(capfd, "--port", tmp_path / "nothing")
    assert (code, "There is no mat at" in err) == (2, True)

    class Port:
        def __init__(self, device, vid):
            self.device, self.vid, self.description = device, vid, ""

    monkeypatch.setattr(build_install.list_ports, "comports", lambda: [Port("/dev/ttyS0", None), Port("x", 0x1234)])
    code, _, err = run(capfd)
    assert (code, "No board was found" in err) == (2, True)
    two = [Port("/dev/ttyACM0", 0x2E8A), Port("/dev/ttyACM1", 0x303A)]
    monkeypatch.setattr(build_install.list_ports, "comports", lambda: two)
    code, _, err = run(capfd)
    assert (code, "/dev/ttyACM0, /dev/ttyACM1" in err) == (2, True)
