# Everything runs in .venv; each target does its own set-up. `make demo` and `make test` are all a newcomer needs.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check -q

.PHONY: demo test lint bench docs examples clean

$(VENV)/.made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "beadwright needs Python 3.11 or newer; say which with: make PYTHON=python3.12 …"; exit 1; }
	@$(PYTHON) -m venv $(VENV) \
	  || { echo "This Python has no venv module. On Debian: apt-get install python3-venv"; exit 1; }
	@touch $@

$(VENV)/.installed: $(VENV)/.made pyproject.toml constraints.txt
	@echo "installing beadwright into $(VENV) (once) …"
	@$(PIP) install -c constraints.txt -e .
	@touch $@

$(VENV)/.installed-dev: $(VENV)/.installed
	@echo "installing what tests and checks need (once) …"
	@$(PIP) install -c constraints.txt -e '.[dev]'
	@touch $@

demo: $(VENV)/.installed
	@mkdir -p demo-out
	@$(BIN)/python tools/warm.py
	$(BIN)/beadwright diagnose examples/tern-lane/case.toml --html demo-out/case-sheet.html
	@echo
	@echo "The case sheet is in demo-out/case-sheet.html. Next, open the bench:  $(BIN)/beadwright serve"

test: $(VENV)/.installed-dev
	@sh tools/ensure-chromium.sh
	@$(BIN)/python tools/warm.py
	$(BIN)/python -m pytest -n 2 --dist loadfile

lint: $(VENV)/.installed-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/.installed-dev
	$(BIN)/python benchmarks/run.py

docs: $(VENV)/.installed-dev
	$(BIN)/python tools/build_docs.py

examples: $(VENV)/.installed
	$(BIN)/python examples/make_examples.py

clean:
	rm -rf $(VENV) build dist site demo-out .pytest_cache .mypy_cache .ruff_cache .import_linter_cache
