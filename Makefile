# Two commands matter: `make demo` and `make test`. Both make their own environment first.
.SHELLFLAGS := -eu -c
VENV := .venv
ifeq ($(OS),Windows_NT)
BIN := $(VENV)/Scripts
else
BIN := $(VENV)/bin
endif
# The first interpreter that runs and is new enough.
FIND_PYTHON := for p in $(PYTHON) python3 python3.13 python3.12 python3.11 python; do \
	if $$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then \
	echo $$p; exit 0; fi; done; echo "Backbearing needs Python 3.11 or newer." >&2; exit 1

TESTS := -m pytest -n 2 --dist loadgroup
QUICK := -m "not slow and not browser"
OLDEST := .venv-oldest
PIP := -m pip --quiet --disable-pip-version-check

.PHONY: demo test docs lint types unit quick coverage oldest browser bench doubt hard-frames mutants soak fuzz faults audit wheel clean

demo: $(VENV)/.for-use
	@$(BIN)/backbearing demo

test: lint types unit

lint: $(VENV)/.for-work
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/.for-work
	$(BIN)/mypy

unit: $(VENV)/.for-work browser
	$(BIN)/python $(TESTS) $(COVER)

# For while you work: what takes over a second and a half, or a browser, is left to `make test`.
quick: lint types
	$(BIN)/python $(TESTS) $(QUICK)

# All tests, and which share of the lines they run.
coverage: COVER := --cov --cov-report=term:skip-covered
coverage: unit

# The quick tests on the oldest releases that pyproject.toml allows; what those releases themselves
# warn of as retired by newer ones is let pass.
oldest: $(OLDEST)/.ready
	NUMBA_CACHE_DIR=$(OLDEST)/numba $(OLDEST)/bin/python $(TESTS) $(QUICK) \
	-W default::DeprecationWarning -W default::PendingDeprecationWarning

$(OLDEST)/.ready: $(VENV)/.for-work pyproject.toml .ci/oldest.py
	rm -rf $(OLDEST)
	$(BIN)/python -m venv $(OLDEST)
	$(BIN)/python .ci/oldest.py > $(OLDEST)/oldest.txt
	$(OLDEST)/bin/python $(PIP) install --constraint $(OLDEST)/oldest.txt --editable '.[dev]'
	@touch $@

# The documents and the reference of the public names as a site to read from disk; a link that
# leads nowhere stops it.
docs: $(VENV)/.for-work
	$(BIN)/python -m sphinx -q -W --keep-going -b html docs build/site
	@echo "Open build/site/index.html"

bench: $(VENV)/.for-work
	$(BIN)/python benchmarks/skyline.py
	$(BIN)/python benchmarks/sky.py
	$(BIN)/python benchmarks/previews.py
	$(BIN)/python benchmarks/plan.py --same
	$(BIN)/python benchmarks/terrain.py
	$(BIN)/python benchmarks/sweep_errors.py
	$(BIN)/python benchmarks/scout.py
	$(BIN)/python benchmarks/pocket.py

# The stated doubt of skylines against drawn rasters, for every elevation product: minutes.
doubt: $(VENV)/.for-work
	$(BIN)/python tests/tools/doubt.py

# Trails, lens, streaks and plate of rendered hard frames: the table of docs/review.md.
hard-frames: $(VENV)/.for-work
	$(BIN)/python tests/tools/hard_frames.py

# Mutants inside the functions of chosen modules (pyproject.toml), then thresholds of ours doubled
# and halved. By hand and not in CI: together they take most of an hour.
mutants: $(VENV)/.for-work
	-$(BIN)/mutmut run --max-children 2
	$(BIN)/python tests/tools/mutants.py
	-$(BIN)/python tests/tools/thresholds.py

# Random valid outings, each held against raw geometry, the clock and itself; a failing seed again
# by `make soak SEED=... N=1`.
N := 50
SEED := 0
soak: $(VENV)/.for-work
	$(BIN)/python tests/soak/run.py --seed $(SEED) --outings $(N)

# Every reader given hostile bytes for so long; what is found is kept in fuzz/finds.
SECONDS := 600
fuzz: $(VENV)/.for-work
	cd fuzz && ../$(BIN)/python run.py --seconds $(SECONDS)

# What writes, killed at so many moments of chance, stopped, and short of disk.
KILLS := 200
faults: $(VENV)/.for-work
	KILLS=$(KILLS) $(BIN)/python -m pytest tests/faults

# Known weaknesses of what is installed, from a public list; the one target that asks the network.
audit: $(VENV)/.for-work
	$(BIN)/python $(PIP) install pip-audit
	$(BIN)/pip-audit --skip-editable

# The wheel and the source, built, and each tried in an environment of its own; the source's
# smallest tests run from what was unpacked, against what was installed.
wheel: $(VENV)/.for-work
	rm -rf build/dist build/clean build/source build/unpacked
	mkdir -p build/unpacked
	$(BIN)/python -m build --outdir build/dist . >build/dist.log 2>&1 || { cat build/dist.log; exit 1; }
	$(BIN)/python -m venv build/clean
	build/clean/bin/python $(PIP) install build/dist/*.whl
	cd build && clean/bin/backbearing doctor && clean/bin/backbearing new starter.toml --starter --overwrite
	$(BIN)/python -m venv build/source
	build/source/bin/python $(PIP) install build/dist/*.tar.gz pytest hypothesis
	build/source/bin/backbearing doctor
	tar --extract --strip-components 1 --directory build/unpacked --file build/dist/*.tar.gz
	cd build/unpacked && ../source/bin/python -m pytest tests/base --ignore tests/base/test_notebook.py

# The browser tests drive Chromium and Firefox. Where Debian's packages can be installed they are;
# elsewhere the tests say what is missing and are skipped (under CI a skip is a failure).
browser:
	@if command -v chromium >/dev/null && command -v firefox-esr >/dev/null; then :; \
	elif command -v apt-get >/dev/null 2>&1 && [ "$$(id -u)" = 0 ]; then \
	apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq chromium firefox-esr >/dev/null; \
	else echo "No Chromium or no Firefox here (Debian's chromium, firefox-esr): install them to run the browser tests."; fi

$(BIN)/python:
	python=$$($(FIND_PYTHON)); $$python -m venv $(VENV)

$(VENV)/.for-use: $(BIN)/python pyproject.toml
	$(BIN)/python $(PIP) install --editable .
	@touch $@

$(VENV)/.for-work: $(BIN)/python pyproject.toml
	$(BIN)/python $(PIP) install --editable '.[dev]'
	@touch $@ $(VENV)/.for-use

clean:
	rm -rf $(VENV) $(OLDEST) build dist mutants .mypy_cache .ruff_cache .pytest_cache .coverage
