# make demo    find top dead centre in a shipped recording
# make test    every test, with what the tests need
# make quick   within a minute: the tests of what has changed, then the fastest files
# make lint    style, types, and the three rooms
# make bench   figures of speed and accuracy (minutes)
# make mutants  how many small faults the tests notice (an hour or two; N=… and SEED=… choose)
# make trust   damage of every kind by the thousand, into tests/TRUST.md (an hour or two; SHARE, MINUTES)
# make board   real firmware in a simulator, on a port (SCENARIO=cranked chooses what turns)
# make docs    the reference of the public names, into build/docs
# make pictures  the README's pictures of the window, and every page on one sheet, without a screen
#
# Each makes its own virtual environment in .venv first. PYTHON=python3.12 chooses another Python.

PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
JOBS   ?= 2
N      ?= 600
SEED   ?= 1
SHARE  ?= 1

# After so many, no more damaged recordings are begun on the way to a verdict.
MINUTES ?= inf

DEMO_RECORDING = recordings/cranked.swr

HEADLESS = -p no:pytest-qt --no-qt --ignore-glob='tests/*/window'
WHOLE    = --durations=20 --keep-seconds

# What is compiled is kept, whatever the surroundings say: pytest rewrites each file of tests, and
# the tests start the commands by the dozen. And a make that a test starts is no part of this one.
PYTEST   = env -u PYTHONDONTWRITEBYTECODE -u MAKEFLAGS -u MFLAGS $(BIN)/python -m pytest

# A copy installed the plain way: type checkers and import-linter cannot see through an editable one.
CHECKED = build/lint

.PHONY: pictures docs board demo test quick mutants trust test-headless test-window test-beside lint style types rooms checked format bench clean

demo: $(VENV)/.for-demo
	$(BIN)/strokewise find $(DEMO_RECORDING)

# Both halves beside each other: those of the window wait for much of their time. What fits come to
# is kept for both.
test: $(VENV)/.for-test
	@fits=$$(mktemp -d) && trap 'rm -rf "$$fits"' EXIT && \
	    STROKEWISE_FITS_OF_THIS_RUN="$$fits" \
	    $(MAKE) --no-print-directory --keep-going -j2 test-headless test-beside

# Everything but the window's tests, with Qt made unimportable: the commands must not need it.
test-headless: $(VENV)/.for-test
	$(PYTEST) -n $(JOBS) $(HEADLESS) $(WHOLE)

test-window: $(VENV)/.for-test
	QT_QPA_PLATFORM=offscreen $(PYTEST) -n $(JOBS) $(wildcard tests/*/window) $(WHOLE)

# In one process, and said when it is done: two runs would write into each other's lines.
test-beside: $(VENV)/.for-test
	@mkdir -p build
	@$(MAKE) --no-print-directory test-window JOBS=1 > build/test-window.txt 2>&1; \
	    code=$$?; cat build/test-window.txt; exit $$code

# Starts no test that would not end in time; says how many it did not reach.
quick: $(VENV)/.for-test
	$(PYTEST) -n $(JOBS) $(HEADLESS) --dist loadfile --no-loadscope-reorder --within 50

lint: style types rooms

style: $(VENV)/.for-lint
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: checked
	cd build && MYPYPATH=lint ../$(BIN)/mypy --config-file ../pyproject.toml \
	    -p strokewise.daq -p strokewise.analysis -p strokewise.gui

rooms: checked
	PYTHONPATH=$(CHECKED) $(BIN)/lint-imports

checked: $(VENV)/.for-lint
	rm -rf $(CHECKED) build/lib
	$(BIN)/pip install --quiet --no-deps --target $(CHECKED) .

format: $(VENV)/.for-lint
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

bench: $(VENV)/.for-test
	for script in $$(grep -l __main__ tests/benchmarks/*.py); do \
	    echo "== $$script"; $(BIN)/python $$script || exit 1; \
	done

# name of the picture, recording, second, view
PICTURES = chart:hand-turned:14:chart angle:cranked:4:angle loglog:cranked:4:loglog fit:rocked:6:fit

mutants: $(VENV)/.for-mutants
	$(BIN)/python -m pytest -q tests/mutation
	nice $(BIN)/python tests/mutation/mutants.py $(N) --seed $(SEED) --jobs $(JOBS)

SPEEDS = decoder_speed tracker_speed window_speed folder_speed

# A figure of speed that is missed ends nothing: the page shows it.
trust: $(VENV)/.for-test
	mkdir -p build && rm -f build/trust.jsonl
	STROKEWISE_TRUST=$(SHARE) STROKEWISE_TRUST_MINUTES=$(MINUTES) \
	    STROKEWISE_TRUST_TABLE=$(CURDIR)/build/trust.jsonl \
	    $(BIN)/python -m pytest -q -n $(JOBS) --dist worksteal tests/trust
	mkdir -p build/speed
	for each in $(SPEEDS); do \
	    QT_QPA_PLATFORM=offscreen $(BIN)/python tests/benchmarks/$$each.py > build/speed/$$each.txt; \
	    done; true
	$(BIN)/python tests/trust/table.py build/trust.jsonl tests/TRUST.md \
	    $(SPEEDS:%=build/speed/%.txt)

pictures: $(VENV)/.for-test
	mkdir -p gui/pictures build
	for each in $(PICTURES); do set -- $$(echo "$$each" | tr : ' '); \
	    $(BIN)/strokewise replay recordings/$$2.swr --at $$3 --view $$4 --size 1366x768 \
	        --picture gui/pictures/$$1.png; code=$$?; \
	    [ $$code = 0 ] || [ $$code = 3 ] || exit $$code; done
	$(BIN)/python tests/benchmarks/pictures/contact_sheet.py build/contact-sheet.png

SCENARIO ?= hand-turned

board: $(VENV)/.for-test
	$(MAKE) --no-print-directory -C firmware_notes avr harness BAUD=500000 RATE=2000
	$(BIN)/python firmware_notes/sim/on_the_bench.py firmware_notes/build $(SCENARIO)

docs: $(VENV)/.for-docs
	$(BIN)/python .ci/make_docs.py

clean:
	rm -rf $(VENV) build dist firmware_notes/build *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis

$(BIN)/python:
	sh .ci/make-venv "$(PYTHON)" "$(VENV)"

$(VENV)/.for-demo: pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet --editable .
	touch $@

$(VENV)/.for-test: pyproject.toml .ci/system-packages | $(BIN)/python
	sh .ci/system-packages
	$(BIN)/pip install --quiet --editable '.[test,window]'
	touch $@

$(VENV)/.for-mutants: pyproject.toml $(VENV)/.for-test
	$(BIN)/pip install --quiet --editable '.[mutants]'
	touch $@

$(VENV)/.for-docs: pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet --editable '.[docs]'
	touch $@

$(VENV)/.for-lint: pyproject.toml | $(BIN)/python
	$(BIN)/pip install --quiet --editable '.[lint]'
	touch $@
