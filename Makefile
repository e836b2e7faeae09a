# castwright: make demo builds the tool and runs the whole job on the demo cruise; make test runs every test. Both install what they need.

BUILD_PACKAGES = gcc libc6-dev pkg-config libnetcdf-dev libhdf5-dev
# What the tests hold the results against: the reference toolbox and general libraries, never part of the tool.
TEST_PACKAGES = $(BUILD_PACKAGES) netcdf-bin udunits-bin python3-numpy python3-scipy python3-gsw python3-xarray python3-netcdf4 python3-prov \
	python3-geographiclib librsvg2-bin poppler-utils coreutils time python3-pandas chromium zsh fish groff-base

VERSION = $(shell sed -n 's/^version: *//p' CITATION.cff)
GOFLAGS_BUILD = -trimpath -ldflags "-X main.version=$(VERSION)"
GO_PACKAGES = ./...
PARSERS = ./ingest ./ingest/draft ./ingest/ncprofile ./cmd/internal/pipeline ./export ./ingest/cruisefile ./metadata/units ./section ./export/bag ./cmd/internal/verify ./cmd/internal/bundle

.PHONY: all demo build man test race lint fuzz property forge corrupt test-page golden bench cover check packages test-packages need-go

all: build

need-go:
	@command -v go >/dev/null 2>&1 || { echo "castwright: Go 1.26 or newer is needed and not on the PATH" >&2; exit 1; }

packages: need-go
	@sh .ci/need $(BUILD_PACKAGES)

test-packages: need-go
	@sh .ci/need $(TEST_PACKAGES)

build: packages
	go build $(GOFLAGS_BUILD) -o bin/castwright ./cmd/castwright

# The manual page, from the texts of the commands' help.
man: build
	bin/castwright man > bin/castwright.1

demo: build
	bin/castwright check testdata/cruise/cruise.yaml
	bin/castwright build --out demo testdata/cruise/cruise.yaml
	bin/castwright verify demo/saltmarten-2026-05
	@echo "castwright: the archive is demo/saltmarten-2026-05; start with data/README.txt in it"

test: test-packages
	@sh .ci/axe
	go test -timeout 30m -shuffle=on $(GO_PACKAGES)

# The page of an archive in a browser: readouts, decisions, accessibility, size.
test-page: test-packages
	@sh .ci/axe
	go test -timeout 20m -v ./export/report ./cmd/internal/browser ./cmd/internal/serve

race: test-packages
	go test -race -short ./internal/nc ./export ./export/bag ./export/place ./export/netcdf ./ingest/...
	go test -race -run 'Worker|Interrupted|SameBytes' ./cmd/internal/pipeline ./gridding

lint: packages
	@out=$$(gofmt -l $$(git ls-files '*.go')); [ -z "$$out" ] || { echo "gofmt would change:"; echo "$$out"; exit 1; }
	go vet ./...
	CGO_ENABLED=0 go build ./...
	go tool staticcheck ./...

fuzz: test-packages
	@for p in $(PARSERS); do \
		for f in $$(grep -ho '^func Fuzz[A-Za-z0-9_]*' $$p/*_test.go | sed 's/^func //'); do \
			echo "$$p $$f"; go test -run '^$$' -fuzz "^$$f\$$" -fuzztime $${FUZZTIME:-10s} -fuzzminimizetime 10x $$p || exit 1; \
		done; done
	$(MAKE) property N=$${N:-30} SEED=$${SEED:-$$(date +%s)}

# Forges N archives and counts what verify finds by default; all of them must be found with --all.
forge: test-packages
	go test -timeout 80m -count=1 -run '^TestForgedArchives$$' -v ./cmd/internal/verify -forgeries $${N:-1000} -seed $${SEED:-1}

# Damages N casts and N/4 bundles; what reads as another cast in silence fails, beyond what stays grammatical.
corrupt: test-packages
	go test -timeout 30m -count=1 -run '^TestCorrupted' -v ./cmd/internal/pipeline -casts $${N:-3000} -seed $${SEED:-1}

# Builds N generated cruises, from seed SEED on, verifies them, and makes them again.
property: test-packages
	go test -timeout 80m -count=1 -run '^TestGeneratedCruises$$' -v ./cmd/internal/property -cruises $${N:-300} -seed $${SEED:-1}

# Maps N invented oceans of each of five kinds by every method, and with lengths of several multiples of the rule's.
oceans: test-packages
	go test -timeout 80m -count=1 -run '^TestKindsOfOcean$$' -v ./gridding -oceans $${N:-40} -firstocean $${SEED:-101}

golden:
	@for p in $$(grep -rlE '^[[:space:]]*"github.com/castwright/castwright/internal/golden"' --include='*_test.go' . | xargs -n1 dirname | sort -u); do go test $$p -update || exit 1; done

bench: build test-packages
	sh .ci/bench

cover: test-packages
	go test -coverprofile=coverage.out ./section/... ./ingest/... ./metadata/... && go tool cover -func=coverage.out | tail -1

check: lint test test-page race fuzz
