"""Studies: the figures of docs/figures.md, each by a command (`make study NAME=…`). No part of the wheel."""
