"""Opens the window as the command does, on whatever display there is, and goes through its places by keys."""

import json
import sys
import time

from PyQt5.QtCore import Qt
from PyQt5.QtTest import QTest
from PyQt5.QtWidgets import QApplication

from groundtone.app.window.main import opened


def main():
    app = QApplication(sys.argv[:1])
    shell = opened(None, None, "reference-16x4", "dark")
    QTest.qWaitForWindowExposed(shell)
    shell.activateWindow()
    end = time.monotonic() + 100
    # Without a window manager nobody gives it the focus.
    while not shell.isActiveWindow() and time.monotonic() < end:
        QApplication.setActiveWindow(shell)
        app.processEvents()
    shown = []
    for key in (Qt.Key_F1, Qt.Key_F2, Qt.Key_F3, Qt.Key_F4, Qt.Key_F5):
        QTest.keyClick(QApplication.focusWidget() or shell, key)
        app.processEvents()
        shown.append(shell.shown)
    active = shell.isActiveWindow()
    shell.close()
    print(json.dumps({"platform": app.platformName(), "places": shown, "active": active}))


if __name__ == "__main__":
    main()
