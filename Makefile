# What is done often. cmd/run.sh and cmd/test.sh do their own set-up; the rest
# here assumes it was done.

.PHONY: run test check bench kill match accuracy set-up format lint wasm race generated

run:
	@sh cmd/run.sh

test:
	@sh cmd/test.sh

# The whole truth: cheap things first, every test last.
check: set-up format lint wasm generated race
	@sh cmd/test.sh

set-up:
	@sh cmd/test.sh --set-up

format:
	@echo "gofmt"; files=$$(gofmt -l analysis audio cmd webview/*.go webview/page/build); \
	  test -z "$$files" || { echo "not formatted, run gofmt -w: $$files"; exit 1; }

lint:
	go vet ./...
	go tool staticcheck ./...

# The ear must also run in a browser; the catalogue, which is files, need not.
wasm:
	GOOS=js GOARCH=wasm go build $$(go list ./analysis/... | grep -v /catalogue$$)

# What is generated and committed is what its sources give.
generated:
	cd webview/page && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error
	go generate ./webview ./cmd/ringwell
	git diff --exit-code -- webview/page/dist cmd/ringwell/licences.txt

race:
	go test -timeout 20m -race ./audio/... ./webview/... ./analysis/listen/... ./analysis/catalogue ./cmd/ringwell

# Figures, not tests. Those of the microphone and the page need the rig.
bench:
	go test -timeout 60m -run '^$$' -bench . ./analysis/... ./audio/... ./webview/... ./cmd/ringwell
	@sh cmd/rig.sh env RINGWELL_BROWSER=1 go test -count=1 -run '^$$' -bench Latency -benchtime 30x ./audio/mic ./cmd/ringwell

# A shelf that keeps strikes is killed a thousand times: about 20 minutes.
kill:
	RINGWELL_KILL=1000 go test -count=1 -timeout 60m -v -run '^TestKill$$' ./analysis/catalogue

# How often the shelf knows a thing again, and says that one has changed: on
# invented things, and as sound through the whole ear. RINGWELL_SEED=N takes
# things that nothing was tuned on.
match:
	@RINGWELL_THINGS=$${RINGWELL_THINGS:-100} go test -count=1 -timeout 60m -v -run '^Test(Recognition|Health)' ./analysis/match ./cmd/ringwell

accuracy:
	@go run ./cmd/ringwell accuracy

# The same for water and temperature.
bench-accuracy:
	@go run ./cmd/ringwell accuracy --bench
