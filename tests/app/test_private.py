"""Nothing of groundtone listens on a network; the licences of all it needs are listed; SECURITY.md says what is."""

import re
import sys
from pathlib import Path

import pytest
from patience import until

from groundtone.app.licences import licences
from groundtone.app.window import pupil_jobs

ROOT = Path(__file__).parents[2]
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="who listens is read from /proc")
_LISTENS = "0A"


def sockets_of(pid):
    """The numbers of the sockets that a process holds."""
    found = set()
    for handle in Path(f"/proc/{pid}/fd").iterdir():
        try:
            number = re.fullmatch(r"socket:\[(\d+)\]", str(handle.readlink()))
        except OSError:
            continue
        if number:
            found.add(number[1])
    return found


def listening():
    """The numbers of all sockets on which somebody may be called over a network: TCP that listens, any UDP."""
    found = set()
    for name in ("tcp", "tcp6", "udp", "udp6", "raw", "raw6"):
        path = Path("/proc/net") / name
        for line in path.read_text().splitlines()[1:] if path.exists() else []:
            fields = line.split()
            if not name.startswith("tcp") or fields[3] == _LISTENS:
                found.add(fields[9])
    return found


def family_of(pid):
    """A process and all that it has started."""
    out = [pid]
    for task in Path(f"/proc/{pid}/task").iterdir():
        for child in (task / "children").read_text().split():
            out += family_of(int(child))
    return out


@LINUX
def test_nobody_can_call_a_practice_over_a_network(running, tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    practice = running("practise", "--twin", "3", "--golfer", "anna")
    (file,) = until(lambda: list((tmp_path / "recordings").glob("*.mcap")))
    until(lambda: file.stat().st_size > 20_000)
    family = family_of(practice.process.pid)
    assert len(family) >= 3  # the mat and its firmware, the sound
    held = set().union(*map(sockets_of, family))
    assert not held & listening()


@LINUX
def test_who_listens_is_found():
    import socket

    with socket.socket() as ear, socket.socket(type=socket.SOCK_DGRAM) as letters:
        ear.bind(("127.0.0.1", 0))
        ear.listen()
        letters.bind(("127.0.0.1", 0))
        assert len(sockets_of("self") & listening()) == 2


def test_every_package_is_listed_with_its_licence(groundtone):
    said = groundtone("doctor", "--licences")
    assert said.code == 0
    lines = dict(line.split(": ", 1) for line in said.out.splitlines())
    names = {line.split()[0].lower().replace("_", "-") for line in lines}
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    needed = re.search(r"^dependencies = \[(.*?)^\]", text, re.S | re.M)[1]
    wanted = {re.match(r"[\w-]+", each)[0].lower() for each in re.findall(r'"([^"]+)"', needed)}
    assert wanted <= names
    assert {"groundtone", "contourpy"} <= names  # what others need in their turn is there too
    stated = {each.name.lower(): each.licence for each in licences()}
    assert stated["groundtone"] == "MIT"
    assert "BSD" in stated["click"]
    assert [name for name, licence in stated.items() if licence == "not said" and name in wanted] == []


def test_security_says_where_everything_lies(groundtone, tmp_path, monkeypatch):
    """Whatever a practice leaves in the data folder stands in the table of SECURITY.md."""
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    assert groundtone("practise", "--twin", "3", "--fast", "--seconds", "12", "--golfer", "anna").code == 0
    told = (ROOT / "SECURITY.md").read_text("utf-8")
    for path in tmp_path.iterdir():
        name = f"{path.name}/" if path.is_dir() else path.name.removesuffix("-wal").removesuffix("-shm")
        assert f"`{name}`" in told, path.name


@pytest.mark.parametrize("by_command", [True, False])
def test_pages_of_the_window_go_with_the_golfer(groundtone, tmp_path, monkeypatch, by_command):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    for name in ("Ann", "Ann 2"):
        assert groundtone("library", "add", name).code == 0
    pages = tmp_path / "pages"
    pages.mkdir()
    for name in ("page-Ann-2026-03-14.pdf", "page-Ann-2026-03-14-card.png", "page-Ann-2-2026-03-14.pdf"):
        (pages / name).touch()
    if by_command:
        assert groundtone("library", "erase", "Ann", "--yes").code == 0
    else:
        pupil_jobs.erased("Ann")
    assert [path.name for path in pages.iterdir()] == ["page-Ann-2-2026-03-14.pdf"]
