# Everything a new machine needs is Python >= 3.11 (with venv), make and git.
# `make demo`, `make test` and `make quick` set themselves up: a virtual environment in .venv, packages by hash.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/ready

# Side by side on all cores; what a module makes once for its tests stays on one worker.
BESIDE := -n auto

.PHONY: setup demo test quick nights corpus corpus-accept lint types check docs sample lock clean

setup: $(READY)

$(READY): requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "soak needs Python 3.11 or newer; set PYTHON=/path/to/python3.11"; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps -e .
	@touch $(READY)

demo: $(READY)
	$(BIN)/soak demo

test: $(READY)
	$(BIN)/python -m pytest $(BESIDE) -rs -m "not nights"

quick: $(READY)
	$(BIN)/python -m pytest -n $$($(BIN)/python -c 'import os; print(os.cpu_count())') \
	  -m "not nights and not slow"

nights: $(READY)
	$(BIN)/python -m pytest $(BESIDE) -rs -m nights

# What the judge makes of the frozen corpus, difference by difference; the second expects it from now on.
corpus: $(READY)
	$(BIN)/python tests/corpus/freeze.py

corpus-accept: $(READY)
	$(BIN)/python tests/corpus/freeze.py --accept

lint: $(READY)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/lint-imports

types: $(READY)
	$(BIN)/mypy

check: test nights lint types demo

docs: $(READY)
	$(BIN)/python docs/generate.py

sample: $(READY)
	$(BIN)/soak demo

# Makers of the project only: needs `uv`. No header and no index address, so the file is the same everywhere.
lock:
	uv pip compile --quiet --universal --generate-hashes --no-header --no-annotate --no-emit-index-url \
	  --python-version 3.11 --group dev --all-extras pyproject.toml -o requirements.lock

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache build dist
