# Every target sets up what it needs; `make help` lists them.
SHELL := bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

PYTHON ?=
WORKERS ?= 2
PYTEST ?=

BIN := .venv/bin
READY := .venv/ready
export PYTHON

.PHONY: help setup demo test bench check mutation audit bill wheel docs validation format lock clean

help: ## Say what each target does
	@grep -E '^[a-z]+:.*## ' Makefile | sed -E 's/^([a-z]+):.*## /\1\t/' | \
	  while IFS=$$'\t' read -r target text; do printf '  make %-10s %s\n' "$$target" "$$text"; done

setup: $(READY) ## Build .venv with the tool in it (PYTHON=... picks the interpreter)

$(READY): pyproject.toml requirements.lock scripts/venv.sh src/bondwright/__init__.py
	@scripts/venv.sh
	@touch $@

demo: setup ## Write the papers of the demo farmhouse to out/farmhouse
	$(BIN)/bondwright papers examples/harrow-creek-farmhouse.yaml --out out/farmhouse

test: setup ## Run the tests (WORKERS=n at a time; PYTEST="-k name" for some of them)
	@scripts/system-packages.sh
	OPENBLAS_NUM_THREADS=1 $(BIN)/pytest -n $(WORKERS) $(PYTEST)

bench: setup ## Measure how fast it is, with ratios to ngspice (LARGE=1: 20,000 places as well)
	@scripts/system-packages.sh
	$(BIN)/python -m benchmarks.run
	$(BIN)/python benchmarks/sweep.py $(if $(LARGE),--very-large)

check: setup ## The gate: format, lint, types, import directions, changelog, the page's scripts
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python scripts/check_changelog.py
	$(BIN)/python scripts/check_page.py

mutation: setup ## Spoil the code on purpose and count what the tests notice (PART="network" NUMBER=n SEED=n)
	$(BIN)/python scripts/mutate.py $(if $(PART),--part "$(PART)") $(if $(NUMBER),--number $(NUMBER)) \
	  $(if $(SEED),--seed $(SEED)) --workers $(WORKERS)

audit: setup ## Ask public advisories about every locked package; without a network it says so
	$(BIN)/python scripts/supply.py audit

bill: setup ## Write the bill of materials (CycloneDX) of the lock to out/
	$(BIN)/python scripts/supply.py bill

wheel: setup ## Build the wheel into dist/, the same bytes wherever it is built, and say its SHA-256
	rm -rf dist
	$(BIN)/python -m hatchling build -t wheel
	sha256sum dist/*.whl

docs: setup ## Renew what docs/ takes from the code
	$(BIN)/python scripts/make_docs.py
	$(BIN)/python scripts/make_api.py
	$(BIN)/python scripts/supply.py licences
	$(BIN)/python scripts/make_page_types.py
	$(BIN)/python scripts/make_coverage.py
	$(BIN)/python -m scripts.make_images

validation: setup ## Write the list of all values from outside anew, from the tests
	@scripts/system-packages.sh
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m scripts.make_validation --workers $(WORKERS)

format: setup ## Format the code and fix what can be fixed by rule
	$(BIN)/ruff check --fix-only --quiet .
	$(BIN)/ruff format .

lock: setup ## Lock the dependencies anew, with hashes and without addresses (UPGRADE=1: newest)
	$(BIN)/uv pip compile -q --universal --python-version 3.11 --generate-hashes \
	  --no-emit-index-url --no-header --all-extras $(if $(UPGRADE),--upgrade) \
	  pyproject.toml -o requirements.lock

clean: ## Remove .venv, caches and the demo's output
	rm -rf .venv out build dist tools/page/node_modules .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis
	find src tests scripts -name __pycache__ -type d -prune -exec rm -rf {} +
