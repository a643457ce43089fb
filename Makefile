# What can be done with the checkout. `make check` is what every change passes.
SHELL := bash
export CGO_ENABLED := 0
.PHONY: help check test generate proof bench demo build rename

help: ## say what there is
	@grep -E '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 12

check: ## format, vet, staticcheck, generated files, 10 s of fuzzing a target, tests
	tools/check

test: ## the tests alone
	go test ./...

generate: ## write the generated lists, docs/checks.md and the scripts of the pages anew
	go generate ./...

proof: ## simulation, recovery, live peers, long fuzzing; writes docs/proof.md and docs/coverage.md
	tools/proof

bench: ## speeds beside other programs, as ratios in one run
	bench/run

demo: ## the whole job on two made-up days
	go run ./cmd/bookend demo --truth

build: ## the binary, into dist/
	go build -trimpath -o dist/bookend ./cmd/bookend

rename: ## give the module another path: make rename MODULE=code.example.net/team/bookend
	@test -n "$(MODULE)" || { echo "say which: make rename MODULE=code.example.net/team/bookend"; exit 2; }
	go run ./internal/genlist -rename "$(MODULE)"
	go generate ./...
