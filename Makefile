# `make demo` and `make test` set up all they need; nothing else is needed before them.
PYTHON ?= $(firstword $(shell command -v python3.11 python3.12 python3.13 python3.14 python3 2>/dev/null))
VENV := .venv
BIN := $(VENV)/bin
# Tools that only the tests need: independent generators, codecs, receivers and a browser.
DEBIAN := ffmpeg sox libsox-fmt-all lame opus-tools multimon-ng libspandsp-dev gcc libc6-dev chromium poppler-utils espeak-ng

.PHONY: help demo test check soak bench wheel setup setup-test debian requirements generated clean

help: ## what can be made
	@grep -E '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 16

demo: setup ## set up, then the main job on two shows of our own; leaves everything in demo/
	@$(BIN)/thundersheet demo demo --replace
	@command -v thundersheet >/dev/null || echo "To have the command \`thundersheet\` in this terminal: . $(BIN)/activate"

test: setup-test debian check ## set up, then all that CI runs
	$(BIN)/python -m pytest -n 2 --dist worksteal -m "not soak"

check: setup-test ## lint, format, types, layers
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo

soak: setup-test debian ## the long proofs; their last figures stand in docs/reference/figures.md
	$(BIN)/python -m pytest -n 2 -m soak --timeout 3600

bench: setup-test debian ## ratios against named peers, in one run
	for bench in benchmarks/*.py; do $(BIN)/python $$bench || exit 1; done

wheel: setup-test ## build the wheel into dist/
	$(BIN)/python -m build --wheel --no-isolation

generated: setup-test ## write again what is generated: schemas and reference pages
	$(BIN)/python tools/generate.py

setup: $(VENV)/ready
setup-test: $(VENV)/ready-test

$(VENV)/bin/python:
	@test -n "$(PYTHON)" || { echo "Python 3.11 or newer is needed, and none was found: install python3 and try again."; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed; $(PYTHON) is older. Try: make PYTHON=python3.12 $(MAKECMDGOALS)"; exit 1; }
	@$(PYTHON) -m venv $(VENV) || { echo "Python's venv module is missing: apt-get install python3-venv"; exit 1; }

$(VENV)/ready: requirements.txt pyproject.toml | $(VENV)/bin/python
	@echo "Setting up: a minute or so, once."
	@$(BIN)/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements.txt
	@$(BIN)/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/ready-test: requirements-test.txt $(VENV)/ready
	@echo "Setting up what the tests need: a minute or so, once."
	@$(BIN)/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements-test.txt
	@touch $@

debian: ## install the Debian packages that the tests need, where it may; else name them
	@missing=""; for p in $(DEBIAN); do dpkg-query -W -f='$${Status}' $$p 2>/dev/null | grep -q 'ok installed' || missing="$$missing $$p"; done; \
	if [ -z "$$missing" ]; then exit 0; fi; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	  echo "Installing for the tests:$$missing"; \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$missing >/dev/null; \
	else echo "The tests need these packages; install them and try again: sudo apt-get install$$missing"; exit 1; fi

requirements: | $(VENV)/bin/python ## pin again (needs uv)
	uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-header --no-annotate --no-emit-index-url pyproject.toml --group build -o requirements.txt
	uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-header --no-annotate --no-emit-index-url pyproject.toml --group build --group check --group test -o requirements-test.txt

clean: ## remove what can be made again
	rm -rf $(VENV) build dist demo .pytest_cache .mypy_cache .ruff_cache
