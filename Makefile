# Two words set everything up: `make demo` and `make test`. Only Python >= 3.11 with venv is needed.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test nightly lint lock bench clean browser services

$(VENV)/.ready: requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed: apt-get install python3"; exit 1; }
	@$(PYTHON) -c 'import venv, ensurepip' || { echo "Python's venv is missing: apt-get install python3-venv"; exit 1; }
	$(PYTHON) -m venv --clear $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

demo: $(VENV)/.ready
	$(BIN)/python -m clampwright.network.machine_code
	$(BIN)/clampwright demo demo

lint: $(VENV)/.ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

browser:
	@tools/install_browser

services:
	@tools/install_services

test: lint browser services
	$(BIN)/python -m pytest -n 2 -m "not long"

nightly: lint browser services
	$(BIN)/python -m pytest -n 2 -rA --durations=20

bench: $(VENV)/.ready
	@for script in benchmarks/*.py; do echo "== $$script"; $(BIN)/python $$script; done

lock:
	uv pip compile pyproject.toml --group test --universal --python-version 3.11 --generate-hashes \
	    --no-header --no-annotate -o requirements.lock

clean:
	rm -rf $(VENV) demo .hypothesis .mypy_cache .ruff_cache
