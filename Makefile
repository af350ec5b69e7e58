# The front door: `make help` lists what there is.

.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
MAKEFLAGS += --no-print-directory

VENV := .venv
BIN := $(VENV)/bin
# Made anew when either file it depends on changes; holds the folder it was made in.
STAMP := $(VENV)/.installed
SYSTEM_STAMP := $(VENV)/.system

# The first that runs, is 3.11 or newer and can make a venv is taken. `make setup PYTHON=...` names another.
PYTHONS := $(or $(PYTHON),python3.11 python3.12 python3.13 python3 python)

# Programs that only tests use, as package:program. Without one, the tests that need it are skipped.
SYSTEM_PACKAGES := poppler-utils:pdftotext chromium:chromium

# A .venv that was copied along with its folder still points to the old one.
ifneq ($(shell cat $(STAMP) 2>/dev/null),$(CURDIR))
.PHONY: $(STAMP)
endif

.PHONY: help setup demo test lint bench page tables long pin clean

help: ## List the targets
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/  make \1  \2/p' Makefile | awk '{printf "  %s %-7s", $$1, $$2; $$1 = $$2 = ""; print}'

setup: $(STAMP) ## Make .venv and install what is missing
	@$(install_system_packages)
	@$(say_what_is_off)
	@echo "Ready: $(BIN)/sidetrip --help"

demo: $(STAMP) ## Plan the demo show, prove it on a stand-in with a fault, print its paper to demo/paper
	@$(BIN)/sidetrip plan demo/tin-lantern --paper demo/paper
	@echo
	@echo "Now the take 'loops' is played through a stand-in for desk and units, in a copy of the show: demo/played."
	@echo "Narrator's loop is inverted there on purpose; what is sound is adopted as proven."
	@echo
	@rm -rf demo/played && mkdir -p demo/played && cp demo/tin-lantern/show.yaml demo/played/
	@$(BIN)/sidetrip stand-in demo/played --fault "inverted: Narrator"
	@$(BIN)/sidetrip prove demo/played --recording demo/played/proofs/loops-stand-in.wav --adopt --paper demo/paper || \
	  { status=$$?; [ $$status -eq 1 ] && [ -e demo/paper/proof-sheet.pdf ] || exit $$status; }
	@echo
	@echo "Look at demo/paper. Then try:"
	@echo "  $(BIN)/sidetrip plan demo/tin-lantern --buffer 128    what a larger buffer costs"
	@echo "  $(BIN)/sidetrip hold demo/tin-lantern                 which buffer to set, and how sure that is"
	@echo "  $(BIN)/sidetrip check demo/tin-lantern                every finding with its line"
	@echo "  $(BIN)/sidetrip signal demo/tin-lantern               how a take is played and recorded"
	@echo "  $(BIN)/sidetrip desks '32-strip theatre desk'         what the desk is taken to be, and how surely"
	@echo "  $(BIN)/sidetrip new my-show --desk '32-strip theatre desk' --inputs demo/input-list.csv"
	@echo "and change a want or a keep in demo/tin-lantern/show.yaml."

test: $(STAMP) $(SYSTEM_STAMP) ## Run the tests, but for those that take minutes
	@$(say_what_is_off)
	@$(BIN)/python -m pytest -m "not long" -rs -n auto --dist loadfile

lint: $(STAMP) ## Check style, types and layers
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports --cache-dir build/import-linter

bench: $(STAMP) ## Measure against the goals; writes build/bench.json
	@$(BIN)/python -m benchmarks

page: $(STAMP) ## Open the page in the browser: the demo, or a show of your own (kept in demo/shows)
	@mkdir -p demo/shows
	@$(BIN)/sidetrip page --folder demo/shows

tables: $(STAMP) ## Make the tables of the docs from the code; a thousand rigs take a while
	@$(BIN)/python tools/tables.py
	@$(BIN)/python tools/rig_trials.py
	@$(BIN)/python tools/evidence_trials.py

# Exit status 5 is pytest's "nothing was selected".
long: $(STAMP) $(SYSTEM_STAMP) ## Run the tests that take minutes
	@$(say_what_is_off)
	@HYPOTHESIS_PROFILE=long $(BIN)/python -m pytest -m long -rs || \
	  { status=$$?; [ $$status -eq 5 ] && echo "No test is marked long." || exit $$status; }

pin: ## Resolve constraints.txt anew; needs Python 3.11
	@python3.11 -c '' 2>/dev/null || { echo "Pins are made with Python 3.11, the oldest supported; python3.11 was not found." >&2; exit 1; }
	@rm -rf build/pin && mkdir -p build && python3.11 -m venv build/pin
	@build/pin/bin/python -m pip install $(QUIET_PIP) -e '.[dev]'
	@{ echo "# Every package that sidetrip and its tools install, pinned. Made by 'make pin'; do not edit."; \
	  build/pin/bin/python -m pip --disable-pip-version-check freeze --exclude-editable; } > build/constraints.txt
	@mv build/constraints.txt constraints.txt && rm -rf build/pin
	@echo "constraints.txt: $$(grep -c == constraints.txt) packages"

clean: ## Remove .venv and everything that was made
	@rm -rf $(VENV) build dist demo/paper demo/played demo/*/proofs src/*.egg-info
	@rm -rf .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
	@find src tests benchmarks tools -name __pycache__ -type d -prune -exec rm -rf {} + 2>/dev/null || true

# -qq hides warnings, which are about the machine's own set-up, and still shows errors.
QUIET_PIP := -qq --disable-pip-version-check --no-input

$(STAMP): pyproject.toml constraints.txt
	@set -e; \
	if [ -e $@ ] && [ "$$(cat $@)" != "$(CURDIR)" ]; then rm -rf $(VENV); fi; \
	if ! $(call good_python,$(BIN)/python); then \
	  python=; \
	  for candidate in $(PYTHONS); do \
	    if $(call good_python,"$$candidate"); then python=$$candidate; break; fi; \
	  done; \
	  if [ -z "$$python" ]; then \
	    echo "No Python 3.11 or newer that can make a venv was found (tried: $(PYTHONS))." >&2; \
	    echo "Install one (on Debian: python3 python3-venv) or name one: make setup PYTHON=python3.12" >&2; \
	    exit 1; \
	  fi; \
	  echo "Making $(VENV) with $$("$$python" --version)."; \
	  rm -rf $(VENV); "$$python" -m venv $(VENV); \
	fi; \
	echo "Installing sidetrip and its tools into $(VENV)."; \
	$(BIN)/python -m pip install $(QUIET_PIP) -c constraints.txt -e '.[dev]'; \
	printf '%s' "$(CURDIR)" > $@

# Tried once for a .venv, not at every test run; `make setup` tries again.
$(SYSTEM_STAMP): | $(STAMP)
	@$(install_system_packages)
	@touch $@

good_python = $(1) -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1

define install_system_packages
missing=; root=none; \
for pair in $(SYSTEM_PACKAGES); do \
  command -v "$${pair#*:}" >/dev/null || missing="$$missing $${pair%%:*}"; \
done; \
if [ "$$(id -u)" = 0 ]; then root=; elif sudo -n true 2>/dev/null; then root="sudo -n"; fi; \
if [ -n "$$missing" ] && [ "$$root" != none ] && command -v apt-get >/dev/null; then \
  echo "Installing for the tests:$$missing."; \
  mkdir -p build; \
  apt="$$root env DEBIAN_FRONTEND=noninteractive apt-get -q -y -o DPkg::Lock::Timeout=60 -o Acquire::Retries=1"; \
  { $$apt update; $$apt install --no-install-recommends $$missing; } >build/system.log 2>&1 </dev/null || \
    echo "That failed; build/system.log says why."; \
fi
endef

define say_what_is_off
for pair in $(SYSTEM_PACKAGES); do \
  command -v "$${pair#*:}" >/dev/null || \
    echo "Off: tests that need $${pair#*:}, which is missing (package $${pair%%:*})."; \
done
endef
