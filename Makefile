# Set-up, demo, tests and checks. Every target makes .venv and installs what it needs.
PYTHON ?= python3
VENV := .venv
# The versions that the tests pass with; make CONSTRAINTS= takes the newest instead.
CONSTRAINTS ?= -c constraints.txt
BIN := $(VENV)/bin

.PHONY: chip-tools demo test long lint study bench templates chip clean system screenshots

demo: $(VENV)/demo
	$(BIN)/groundtone demo

test: system $(VENV)/test lint
	$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder -m "not long"

# What takes minutes by itself: every command of the documents.
long: $(VENV)/test
	$(BIN)/python -m pytest -n 2 -m long

lint: $(VENV)/test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check host tests
	$(BIN)/mypy
	$(BIN)/python tests/firmware/check_types.py
	$(BIN)/python tests/firmware/compile_all.py

# Figures of docs/figures.md: make study lists them; make study NAME=network; more with ARGS="--seeds 20 --json".
study: $(VENV)/test
	@PYTHONPATH=tests $(BIN)/python -m studies $(NAME) $(ARGS)

bench:
	@echo "bench has become study: make study lists the studies, make study NAME=all runs the quick ones"; exit 2

# The firmware on an emulated Pico (tests/chip): make chip UF2=… BOOTROM=…, with QUICK=1 a part of it. The image is what
# a builder flashes anyway; the boot ROM is Raspberry Pi's (BSD-3-Clause).
SHARED_CHIP := $(abspath ../shared/chip)
UF2 ?= $(wildcard $(SHARED_CHIP)/firmware.uf2)
BOOTROM ?= $(wildcard $(SHARED_CHIP)/bootrom.bin)
chip: $(VENV)/test chip-tools
	@test -f "$(UF2)" -a -f "$(BOOTROM)" || \
		{ echo "name the image and the boot ROM: make chip UF2=firmware.uf2 BOOTROM=bootrom.bin"; exit 1; }
	GROUNDTONE_CHIP_UF2=$(abspath $(UF2)) GROUNDTONE_CHIP_BOOTROM=$(abspath $(BOOTROM)) \
		$(BIN)/python -m pytest -n 2 --dist loadfile tests/chip $(if $(QUICK),-m "not whole")

# The emulator itself, from the npm registry.
chip-tools:
	@command -v node >/dev/null && command -v npm >/dev/null || \
		{ echo "node or npm is missing: sudo apt-get install nodejs npm"; exit 1; }
	@test -d tests/chip/node_modules/rp2040js || \
		npm install --prefix tests/chip --no-package-lock --no-audit --no-fund --silent || \
		{ echo "npm could not bring rp2040js: try npm install --prefix tests/chip and read what it says"; exit 1; }

# Cut and drill drawings of both builds at 1:1.
templates: $(VENV)/demo
	$(BIN)/groundtone build templates --out out/build

# Every place of the window, light and dark, on a small and a large screen, into docs/window.
screenshots: $(VENV)/test
	PYTHONPATH=tests $(BIN)/python -m studies.screenshots docs/window

$(VENV)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "Python 3.11 or newer is needed: install it, or name it with make PYTHON=python3.12"; exit 1; }
	@$(PYTHON) -m venv $(VENV) || \
		{ echo "Python cannot make a virtual environment: sudo apt-get install python3-venv"; exit 1; }
	@touch $@

$(VENV)/demo: $(VENV)/python pyproject.toml constraints.txt
	$(BIN)/pip install --quiet --disable-pip-version-check $(CONSTRAINTS) -e '.[twin]'
	@touch $@

$(VENV)/test: $(VENV)/python pyproject.toml constraints.txt
	$(BIN)/pip install --quiet --disable-pip-version-check $(CONSTRAINTS) -e '.[twin,export,academy,test]'
	@touch $@ $(VENV)/demo

# Judges of the tests that no wheel brings: ngspice for the resistive network, sox and a sound server for sound, poppler
# for the PDF; and what a window needs where there is no screen.
DEBIAN := postgresql ngspice sox espeak-ng pulseaudio pulseaudio-utils poppler-utils xvfb libgl1 libegl1 libdbus-1-3 libxkbcommon-x11-0 \
	libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-render-util0 libxcb-xinerama0 libxcb-shape0
system:
	@if command -v dpkg >/dev/null; then \
		missing=$$(for p in $(DEBIAN); do dpkg -s $$p >/dev/null 2>&1 || printf ' %s' $$p; done); \
		if [ -n "$$missing" ] && [ "$$(id -u)" = 0 ]; then \
			apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $$missing >/dev/null; missing=; fi; \
		if [ -n "$$missing" ]; then \
			echo "the tests need system packages that are missing: sudo apt-get install$$missing"; exit 1; fi; \
	else \
		for c in ngspice sox pulseaudio pdftotext Xvfb; do command -v $$c >/dev/null || { \
			echo "$$c is missing and the tests need it: install it with your system's packages"; exit 1; }; done; \
	fi

clean:
	rm -rf $(VENV) out .mypy_cache .ruff_cache .pytest_cache .hypothesis
