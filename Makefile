# The engine is HiGHS as WebAssembly. npm fetches the pinned package and checks
# it against the hash in solver/highs/package-lock.json; what go:embed needs of
# it is copied into a folder whose name tells, in the error of a plain
# 'go build' without it, what to run.
ENGINE := solver/highs/run-make-engine-to-fetch-this

.PHONY: engine
engine: $(ENGINE)/highs.wasm

# The folder is filled beside its place and renamed, so that it is there whole
# or not at all. cp gives the files today's time: in the package all are of 1985.
$(ENGINE)/highs.wasm: solver/highs/package.json solver/highs/package-lock.json
	@command -v npm >/dev/null 2>&1 || { echo "make engine: npm is missing; install Node.js (18 or newer) with npm, which fetches the solver, and run this again" >&2; exit 1; }
	cd solver/highs && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error
	rm -rf $(ENGINE) $(ENGINE).part
	mkdir $(ENGINE).part
	cp solver/highs/node_modules/highs/build/highs.mjs solver/highs/node_modules/highs/build/highs.wasm solver/highs/node_modules/highs/LICENSE $(ENGINE).part/
	mv $(ENGINE).part $(ENGINE)
