# Two commands matter: `make demo` and `make test`. Both make their own environment first.
SHELL := bash
.SHELLFLAGS := -eu -o pipefail -c
VENV := .venv
BIN := $(VENV)/bin
# The first interpreter that runs and is new enough.
FIND_PYTHON := for p in $(PYTHON) python3 python3.13 python3.12 python3.11 python; do \
	if $$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then \
	echo $$p; exit 0; fi; done; echo "Backbearing needs Python 3.11 or newer." >&2; exit 1

.PHONY: demo test lint types unit browser bench mutants wheel clean

demo: $(VENV)/.for-use
	@$(BIN)/backbearing demo

test: lint types unit

lint: $(VENV)/.for-work
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/.for-work
	$(BIN)/mypy

unit: $(VENV)/.for-work browser
	$(BIN)/python -m pytest -n 2 --dist loadgroup

bench: $(VENV)/.for-work
	$(BIN)/python benchmarks/skyline.py
	$(BIN)/python benchmarks/sky.py
	$(BIN)/python benchmarks/previews.py
	$(BIN)/python benchmarks/plan.py --same
	$(BIN)/python benchmarks/terrain.py
	$(BIN)/python benchmarks/scout.py

# Mutants inside the functions of chosen modules (pyproject.toml), then every threshold of ours
# doubled and halved. By hand and not in CI: the first takes about a quarter of an hour.
mutants: $(VENV)/.for-work
	-$(BIN)/mutmut run --max-children 2
	$(BIN)/python tests/tools/mutants.py
	-$(BIN)/python tests/tools/thresholds.py

# The wheel, built and tried in an environment of its own.
wheel: $(VENV)/.for-work
	rm -rf build/wheel build/clean
	$(BIN)/python -m pip wheel --quiet --disable-pip-version-check --no-deps --wheel-dir build/wheel .
	$(BIN)/python -m venv build/clean
	build/clean/bin/python -m pip install --quiet --disable-pip-version-check build/wheel/*.whl
	cd build && clean/bin/backbearing doctor && clean/bin/backbearing new starter.toml --overwrite

# The browser tests drive Chromium. Where Debian's packages can be installed they are;
# elsewhere the tests say what is missing and are skipped (under CI a skip is a failure).
browser:
	@if command -v chromium chromium-browser >/dev/null 2>&1; then :; \
	elif command -v apt-get >/dev/null 2>&1 && [ "$$(id -u)" = 0 ]; then \
	apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq chromium >/dev/null; \
	else echo "No Chromium here: install it to run the browser tests."; fi

$(VENV)/bin/python:
	python=$$($(FIND_PYTHON)); $$python -m venv $(VENV)

$(VENV)/.for-use: $(VENV)/bin/python pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(VENV)/.for-work: $(VENV)/bin/python pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev]'
	@touch $@ $(VENV)/.for-use

clean:
	rm -rf $(VENV) build dist mutants .mypy_cache .ruff_cache .pytest_cache
