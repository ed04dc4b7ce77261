"""The steps of a procedure: which are done, which is now; by marks and weight, not by colour."""

from __future__ import annotations

from PyQt5.QtWidgets import QVBoxLayout, QWidget

from groundtone.app.window.widgets.parts import label, role


class Steps(QWidget):
    """Steps one below the other."""

    def __init__(self) -> None:
        super().__init__()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._steps: tuple[str, ...] = ()

    def show_steps(self, steps: tuple[str, ...], at: int) -> None:
        """Draws the steps, the one at `at` being now."""
        if steps != self._steps:
            while (item := self._column.takeAt(0)) is not None:
                if (old := item.widget()) is not None:
                    old.deleteLater()
            for _ in steps:
                self._column.addWidget(label())
            self._steps = steps
        for i, step in enumerate(steps):
            item = self._column.itemAt(i)
            line = item.widget() if item is not None else None
            if line is not None:
                mark = "✓" if i < at else "➤" if i == at else "·"
                line.setText(f"{mark}  {step}")
                role(line, "title" if i == at else "faint" if i > at else "")
