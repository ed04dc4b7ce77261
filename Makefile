# Set-up, demo, tests and checks. Every target makes .venv and installs what it needs.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint bench templates clean system

demo: $(VENV)/demo
	$(BIN)/groundtone demo

test: system $(VENV)/test lint
	$(BIN)/python -m pytest

lint: $(VENV)/test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check host/groundtone/wire host/groundtone/mat host/groundtone/link host/groundtone/calibration \
		host/groundtone/pressure host/groundtone/swing host/groundtone/cue host/groundtone/record \
		host/groundtone/lesson host/groundtone/build host/groundtone/app
	$(BIN)/mypy
	$(BIN)/python tests/firmware/check_types.py
	$(BIN)/python tests/firmware/compile_all.py

bench: $(VENV)/demo
	$(BIN)/groundtone bench all

# Cut and drill drawings of both builds at 1:1.
templates: $(VENV)/demo
	$(BIN)/groundtone build templates --out out/build

$(VENV)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "Python 3.11 or newer is needed: install it, or name it with make PYTHON=python3.12"; exit 1; }
	@$(PYTHON) -m venv $(VENV) || \
		{ echo "Python cannot make a virtual environment: sudo apt-get install python3-venv"; exit 1; }
	@touch $@

$(VENV)/demo: $(VENV)/python pyproject.toml
	$(BIN)/pip install --quiet --disable-pip-version-check -e '.[twin]'
	@touch $@

$(VENV)/test: $(VENV)/python pyproject.toml
	$(BIN)/pip install --quiet --disable-pip-version-check -e '.[twin,export,test]'
	@touch $@ $(VENV)/demo

# ngspice is the judge of the resistive network (tests/external).
system:
	@command -v ngspice >/dev/null || { \
		if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
			apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq ngspice >/dev/null; fi; }
	@command -v ngspice >/dev/null || { \
		echo "ngspice is missing and the tests need it: sudo apt-get install ngspice"; exit 1; }

clean:
	rm -rf $(VENV) out .mypy_cache .ruff_cache .pytest_cache .hypothesis
