# make demo   set up, then the main job on the demo corpus
# make test   set up, then lint, types and tests (what CI runs)
# make quick  the tests that need no speech model, no database server and no browser: under a minute on two idle cores
# make screens  pictures of every screen of the page in out/screens, and those of the README in docs/screens
# make golden  the screens and the values that tests hold, written anew (tests/golden, tests/held)
# make lock   write the hashed requirements anew from pyproject.toml
# Every step leaves a stamp in .setup/ and is skipped while its inputs have not changed.

PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV   := .venv
BIN    := $(VENV)/bin
ROOT   := $(shell [ "$$(id -u)" = 0 ] && echo yes)
# praat measures pitch as a second opinion; espeak-ng speaks the known recordings of the tests; sctk holds NIST sclite, the reference scorer;
# pocketsphinx-testdata holds real readings; postgresql is the journal's second database; chromium opens the page.
DEBIAN := praat espeak-ng sctk pocketsphinx-testdata postgresql chromium

# The tests of `make quick`, by what they are marked with; bench/mutants.py reads this line.
QUICK := not model and not postgres and not heavy

# What pip says of its work, one short line for each package that it fetches.
TELL := sed -n -e 's/^Collecting \([^ ;]*\).*/  \1/p' -e '/^Successfully/s/.*/  installed/p'

SHELL := /bin/bash
.SHELLFLAGS := -o pipefail -c

.PHONY: demo test quick check setup docs screens golden lock clean

demo: .setup/model
	$(BIN)/python corpus_demo/demo.py

test: .setup/model .setup/debian .setup/developer .setup/recordings
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -q -n 2 --dist worksteal

# What is left out is marked in the tests, never listed here. SQLite is a file and counts as no server.
# The profile draws fewer examples for the tests that make up their own; `make test` draws them all. In the order of
# the files what a file has loaded serves its next test; `make test` shuffles them. The plugin that is left out warns of
# errors that nobody can catch, and searches the memory five times at the end of each process for it.
quick: .setup/developer
	$(BIN)/python -m pytest -q -n 2 --dist worksteal -p no:randomly -p no:unraisableexception --hypothesis-profile quick -m "$(QUICK)"

# Two processes of tests on two cores: the threads that a numeric library starts beside them only wait for a core.
test quick: export OMP_NUM_THREADS := 1

check: test

docs: .setup/developer
	PYTHONPATH=. $(BIN)/python -m cogapp -r docs/commands.md docs/benches.md docs/tried.md

setup: .setup/model

.setup/venv: requirements.txt pyproject.toml
	@mkdir -p .setup
	@echo "making $(VENV), where everything offbook needs will stand"
	@sh .ci/venv "$(PYTHON)" "$(VENV)"
	@echo "installing the libraries of requirements.txt: a few minutes the first time"
	$(BIN)/python -m pip install --disable-pip-version-check --progress-bar off --require-hashes -r requirements.txt | $(TELL)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

.setup/model: .setup/venv models/manifest.toml
	@echo "fetching the speech model, about 40 MB, and checking it"
	$(BIN)/offbook setup
	@touch $@

.setup/developer: requirements-dev.txt .setup/venv
	@echo "installing what the tests need"
	$(BIN)/python -m pip install --disable-pip-version-check --progress-bar off --require-hashes -r requirements-dev.txt | $(TELL)
	@touch $@

.setup/debian: Makefile
	@mkdir -p .setup
ifeq ($(ROOT),yes)
	@sh .ci/debian $(DEBIAN)
else
	@echo "not root: the tests need these Debian packages: $(DEBIAN)"
endif
	@touch $@

.setup/recordings: tests/fetch_recordings.py .setup/developer
	@echo "making ready the recordings of the tests"
	$(BIN)/python tests/fetch_recordings.py
	@touch $@

screens: .setup/model .setup/debian .setup/developer
	$(BIN)/python -m tests.page_screens out/screens docs/screens

golden: .setup/developer
	$(BIN)/python -m tests.golden_screens
	$(BIN)/python -m tests.held_all

lock: .setup/developer
	$(BIN)/uv pip compile --quiet --universal --no-header --generate-hashes --extra build pyproject.toml -o requirements.txt
	$(BIN)/uv pip compile --quiet --universal --no-header --generate-hashes --extra build --extra dev pyproject.toml -o requirements-dev.txt

clean:
	rm -rf .setup $(VENV)
