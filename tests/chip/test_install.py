"""The installer's own steps at the emulated board's prompt: compiled files, one switch, a mat that sends its cells."""

import hashlib

import flashes
import pytest
import truth
from wire_host import Host

from groundtone.build.compiled import compiled
from groundtone.build.install import check_board, firmware_files, install

MPY = "getattr(__import__('sys').implementation, '_mpy', 0)"


class AtThePrompt:
    """The board's raw prompt with the calls that mpremote's transport has."""

    def __init__(self, board):
        self.board = board

    def exec(self, command):
        return self.board.python(command).encode()

    def eval(self, expression):
        return eval(self.board.python(f"print(repr({expression}))"))

    def fs_writefile(self, dest, data, chunk_size=256):
        self.board.write(dest, data)

    def fs_hashfile(self, path, algo):
        code = f"import hashlib\nh=hashlib.{algo}()\nf=open({path!r},'rb')\nwhile True:\n d=f.read(512)\n"
        code += " if not d:\n  break\n"
        return bytes.fromhex(self.board.python(code + " h.update(d)\nf.close()\nprint(h.digest().hex())"))


@pytest.mark.whole
def test_the_installer_puts_a_mat_onto_an_empty_board(board):
    board.circuit(cells=truth.distinct(), settle=0.0)
    board.prompt()
    files = AtThePrompt(board)
    assert "Pico with RP2040" in check_board(files)
    new = compiled(firmware_files(flashes.FIRMWARE), files.eval(MPY))
    assert any(name.endswith(".mpy") for name in new)
    chooser = (flashes.FIRMWARE / "chooser.py").read_bytes()
    assert install(files, new, chooser) == "fw-1"
    assert files.fs_hashfile("main.py", "sha256") == hashlib.sha256(chooser).digest()
    board.circuit(cells=[[0.0] * 8] * 16)
    board.power(keep=True)
    host = Host(board)
    assert host.hello().state == 0
    board.circuit(cells=truth.distinct())
    host.start(100)
    frame = host.follow(40_000)[-1]
    assert frame.cells[:12] == list(truth.frame(truth.distinct())[0][:12])
