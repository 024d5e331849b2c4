# make demo     fetch the solver, build bin/laneplan, plan the demo order book
# make test     every test
# make engine   fetch the solver alone
# make build    build bin/laneplan alone
# make pictures the README's pictures anew (wants pdftoppm and chromium)
# make bench    the planner on the benchmark's instances, TIME seconds each
# make growth   the times to a gap of 2 %, and their picture in DEVELOPERS.md
# make lint     formatting, vet, staticcheck, known vulnerabilities
# make release  static binaries for Linux, macOS and Windows in dist/
# make clean    drop what was built (the fetched solver stays)

MAKEFLAGS += --no-print-directory
.DEFAULT_GOAL := demo
.PHONY: demo test engine build bench growth pictures lint release clean need-go

# The engine is HiGHS as WebAssembly. npm fetches the pinned package and checks
# it against the hash in solver/highs/package-lock.json; what go:embed needs of
# it is copied into a folder whose name tells, in the error of a plain
# 'go build' without it, what to run.
ENGINE := solver/highs/run-make-engine-to-fetch-this
DEMO := testdata/demo/spice-mill.yaml
TIME := 10s
VERSION := $(shell git describe --tags --always --dirty 2>/dev/null || echo unknown)

# The linters are pinned here, not in go.mod: nothing of them is linked.
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2
GOVULNCHECK := golang.org/x/vuln/cmd/govulncheck@v1.9.0

# A work limit in place of a time limit: everyone's demo gives the same plan,
# which is the one that the README shows.
demo: build
	bin/laneplan plan $(DEMO) --work 5

test: need-go engine
	go test ./...

build: need-go engine
	CGO_ENABLED=0 go build -trimpath -ldflags "-X main.version=$(VERSION)" -o bin/ ./cmd/laneplan

bench: build
	bin/laneplan bench testdata/published --time $(TIME)
	bin/laneplan bench testdata/bench --time $(TIME)
	bin/laneplan bench testdata/twelve --time 5s

growth: build
	bin/laneplan growth --time 60s --plot $(PICTURES)/growth.svg

# The first page of the run sheet, and the tops of the report and of a morning
# page in a window.
PICTURES := testdata/pictures
CHROMIUM := chromium
pictures: build
	rm -rf bin/pictures
	bin/laneplan plan $(DEMO) --work 5 --printed 2026-11-30 --quiet --out bin/pictures >/dev/null
	pdftoppm -r 90 -png -singlefile -l 1 bin/pictures/spice-mill/run-sheet.pdf $(PICTURES)/run-sheet
	$(CHROMIUM) --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=1200,1130 \
		--screenshot=$(PICTURES)/report.png file://$(CURDIR)/bin/pictures/spice-mill/report.html 2>/dev/null
	bin/laneplan init bin/pictures/mill >/dev/null
	bin/laneplan batch --shop bin/pictures/mill/shop.yaml --orders bin/pictures/mill/orders.csv --out bin/pictures/night --date 2026-11-30 --work 1 --no-times >/dev/null 2>&1
	$(CHROMIUM) --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=1200,1130 \
		--screenshot=$(PICTURES)/morning-page.png file://$(CURDIR)/bin/pictures/night/index.html 2>/dev/null

engine: $(ENGINE)/highs.wasm

# The folder is filled beside its place and renamed, so that it is there whole
# or not at all. cp gives the files today's time: in the package all are of 1985.
$(ENGINE)/highs.wasm: solver/highs/package.json solver/highs/package-lock.json
	@command -v npm >/dev/null 2>&1 || { echo "make: npm is missing; install Node.js (18 or newer) with npm, which fetches the solver, and run this again" >&2; exit 1; }
	cd solver/highs && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error
	rm -rf $(ENGINE) $(ENGINE).part
	mkdir $(ENGINE).part
	cp solver/highs/node_modules/highs/build/highs.mjs solver/highs/node_modules/highs/build/highs.wasm solver/highs/node_modules/highs/LICENSE $(ENGINE).part/
	mv $(ENGINE).part $(ENGINE)

need-go:
	@command -v go >/dev/null 2>&1 || { echo "make: go is missing; install Go 1.26 or newer and run this again" >&2; exit 1; }

# govulncheck exits with 3 where it found something; anything else that is not
# 0 means that it could not look, mostly because its data is out of reach.
lint: need-go engine
	@unformatted=$$(gofmt -l cmd jobs nest solver) && [ -z "$$unformatted" ] || { echo "make lint: run gofmt -w on:" $$unformatted >&2; exit 1; }
	go vet ./...
	go run $(STATICCHECK) ./...
	GOBIN=$(CURDIR)/bin/tools go install $(GOVULNCHECK)
	@bin/tools/govulncheck ./... ; code=$$?; \
	if [ $$code -eq 3 ]; then exit 3; fi; \
	if [ $$code -ne 0 ]; then echo "make lint: known vulnerabilities were not looked up: their data could not be had"; fi

# Nothing needs cgo, so every system's binary is built anywhere.
SYSTEMS := linux-amd64 linux-arm64 darwin-amd64 darwin-arm64 windows-amd64 windows-arm64
RELEASES := $(foreach system,$(SYSTEMS),dist/laneplan-$(VERSION)-$(system)$(if $(findstring windows,$(system)),.exe))

release: need-go engine
	rm -rf dist
	@for file in $(RELEASES); do \
		system=$${file#dist/laneplan-$(VERSION)-}; system=$${system%.exe}; \
		echo "go build -o $$file"; \
		CGO_ENABLED=0 GOOS=$${system%-*} GOARCH=$${system#*-} \
			go build -trimpath -ldflags "-s -w -X main.version=$(VERSION)" -o $$file ./cmd/laneplan || exit 1; \
	done
	cd dist && { command -v sha256sum >/dev/null 2>&1 && sha256sum laneplan-* || shasum -a 256 laneplan-*; } > SHA256SUMS
	@cat dist/SHA256SUMS

clean:
	rm -rf bin dist
