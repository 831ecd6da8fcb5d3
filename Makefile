# Two commands matter: `make demo` and `make test`. Each does its own set-up.

PYTHON ?= python3
BIN := .venv/bin
WORKERS ?= 2

.PHONY: help setup demo test lint bench lock clean

help:
	@echo "make demo   plan, rehearse, check, retake, assemble and publish a made-up shoot"
	@echo "make test   lint, types, import order and all tests"
	@echo "make lint   lint, types and import order alone"
	@echo "make bench  figures: faults found on 60 rehearsed shoots, mosaics against the truth, large plans, frames"
	@echo "make lock   write requirements.lock anew from pyproject.toml"
	@echo "make clean  remove what the above made"

setup:
	@$(PYTHON) tools/set_up.py

demo: setup
	@$(BIN)/python tools/demo.py

lint: setup
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache

test: lint
	@$(PYTHON) tools/set_up.py --browser
	$(BIN)/pytest -n $(WORKERS) --dist worksteal -m "not slow"

bench: setup
	$(BIN)/python bench/check_bench.py
	$(BIN)/python bench/mosaic_truth.py
	$(BIN)/python bench/plan_bench.py
	$(BIN)/python bench/rehearse_bench.py

lock: setup
	$(BIN)/uv pip compile pyproject.toml --group dev --universal --python-version 3.11 \
		--generate-hashes --no-header --no-annotate --quiet -o requirements.lock

clean:
	rm -rf .venv .setup demo build dist pages/viewer/node_modules src/belvedere/publish/page \
		.mypy_cache .ruff_cache .pytest_cache .hypothesis bench/results
	find src tests bench tools -name __pycache__ -type d -prune -exec rm -rf {} +
