# Everything runs from .venv, made from the one lock file; `make help` lists the targets.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
OUT ?= demo/out
# SERVE=0 ends with the report, without serving the page.
SERVE ?= 1
PAGE := mapper/viewer/page
# The core is tested as if FastAPI, SQLAlchemy, PyVista and Typst were not installed.
CORE := tests/meshes tests/surface tests/job tests/partfile tests/estimate tests/corrosion

# Two workers, each a whole file at a time, in the order of tests/conftest.py.
SHARED := -n 2 --dist loadfile --no-loadscope-reorder -m "not bench"

.PHONY: help setup page demo test bench lint format lock pictures clean

help:
	@echo "make demo     set up, build the invented restoration, write its report, serve its page"
	@echo "make test     set up, check the house rules, run every test"
	@echo "make bench    measure speed, as ratios in the same run"
	@echo "make lint     ruff, and a strict type check of the core"
	@echo "make page     bundle the page at the wing"
	@echo "make format   let ruff put the layout right"
	@echo "make pictures make the pictures of README again"
	@echo "make lock     pin the versions of all packages again"
	@echo "make clean    remove the environment and what the demo wrote"

setup: $(READY)

# --no-deps with hashes: exactly what the lock names, and nothing else, is installed.
$(READY): requirements.lock pyproject.toml
	$(PYTHON) -c "import sys; sys.exit(sys.version_info < (3, 11) and 'Python 3.11 or newer is needed, this is ' + sys.version)"
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes --no-deps -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps -e .
	$(BIN)/python -m compileall -q mapper meshes demo
	$(BIN)/python -m mapper.surface.warm
	touch $@

# Looks at the digest of its sources and does nothing while that is the same.
page: $(READY)
	$(BIN)/python -m mapper.viewer.build_page

demo: page
	$(BIN)/python -m demo --out $(OUT)
ifneq ($(SERVE),0)
	$(BIN)/mapper serve --shop $(OUT)/shop
endif

test: lint
	$(BIN)/python -m pytest $(SHARED) -p tests.house.core_alone $(CORE) $(ARGS)
	$(BIN)/python -m pytest $(SHARED) $(addprefix --ignore=,$(CORE)) $(ARGS)

bench: $(READY)
	$(BIN)/python -m pytest -m bench tests/bench -s --benchmark-columns=min,median,rounds --benchmark-sort=name $(ARGS)

lint: page
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python -m mapper.viewer.build_page --check

format: $(READY)
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

pictures: page
	$(BIN)/python -m demo.pictures --out $(OUT)
	$(BIN)/python -m demo.page_pictures --out $(OUT)

# The file must name no address: hashes pin what is meant, wherever it comes from.
lock: $(READY)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-emit-find-links --no-header --no-annotate --extra test pyproject.toml -o requirements.lock

clean:
	rm -rf $(VENV) demo/out build dist mapper/viewer/static $(PAGE)/node_modules
