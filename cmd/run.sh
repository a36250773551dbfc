#!/bin/sh
# Builds ringwell and starts it on the microphone; the page's address is
# printed. What is missing (C compiler, pkg-config, PortAudio headers) is
# installed first. Arguments go to ringwell:
#
#   sh cmd/run.sh                          listen
#   sh cmd/run.sh listen --from demo       any command of ringwell
set -eu
cd "$(dirname "$0")/.."
. cmd/setup.sh

need_go
if obtain_capture; then
	go build -o bin/ringwell ./cmd/ringwell
else
	say "Building without the microphone: the demo scene, recordings and standard input work."
	CGO_ENABLED=0 go build -o bin/ringwell ./cmd/ringwell
	[ $# -gt 0 ] || set -- listen --from demo
fi
exec bin/ringwell "$@"
