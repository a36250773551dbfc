#!/bin/sh
# Runs every test. What the tests need is installed first: a C compiler and
# PortAudio, Chromium, Node with npm, PulseAudio for a virtual microphone, and
# aubio, sox, libsndfile, SQLite's own shell and Python, whose second opinions some tests
# ask for, two packages that carry published tables of modes, strace, which sees in
# what order a shelf is written, and the tool that makes a second host out of a
# network namespace.
#
#   sh cmd/test.sh            everything
#   sh cmd/test.sh --set-up   only install
#
# What this machine cannot have is skipped by name. A test that was meant to
# run and skipped itself is a failure.
set -eu
cd "$(dirname "$0")/.."
. cmd/setup.sh

# Tests that may skip themselves all the same, by the reasons they give:
# recordings in large packages under the GPL, which are not installed for this,
# and systems (containers) that let no program trace or mount.
optional='this system lets nobody|not installed: freepats|not installed: hydrogen|freepats|hydrogen-drumkits'

skipped=
skip() { # what, why
	say "skipped: $1: $2"
	skipped="$skipped
  $1: $2"
}

has_node() { have node && have npm && [ "$(node -p 'process.versions.node.split(".")[0]')" -ge 20 ]; }
has_chromium() { have chromium || have chromium-browser || have google-chrome || [ -d "/Applications/Chromium.app" ] || [ -d "/Applications/Google Chrome.app" ]; }
has_rig() { have pulseaudio && have pactl && have paplay && finds_pulse_plugin; }
finds_pulse_plugin() {
	for d in /usr/lib/*/alsa-lib /usr/lib64/alsa-lib /usr/lib/alsa-lib; do
		[ -e "$d/libasound_module_pcm_pulse.so" ] && return 0
	done
	return 1
}
# A network namespace in a user namespace, as the tests make it.
has_netns() { have ip && unshare --user --map-root-user --net ip link add here type veth peer name there 2>/dev/null; }
has_sox() { have sox; }
has_sqlite() { have sqlite3; }
has_sndfile() { have sndfile-info; }
has_python() { have python3; }
has_strace() { have strace; }
has_aubio() { have aubiopitch; }
# Tables of modes that others published, in two packages of Debian's. Where a
# system leaves out what documentation a package has, the first one does not help.
has_csound_doc() { [ -e /usr/share/doc/csound-doc/html/MiscModalFreq.html ]; }
has_faust() { [ -e /usr/share/faust/physmodels.lib ]; }

need_go
obtain_capture || {
	say "Without them nothing can be built as it is shipped."
	exit 1
}
node=yes browser=yes rig=yes
obtain "Node 20 with npm" has_node "nodejs npm" "nodejs npm" "nodejs npm" "node" || node=no
obtain "Chromium" has_chromium "chromium" "chromium" "chromium" "-" || browser=no
if [ "$(uname)" = Linux ]; then
	obtain "PulseAudio" has_rig "pulseaudio pulseaudio-utils libasound2-plugins" "pulseaudio pulseaudio-utils alsa-plugins-pulseaudio" "pulseaudio alsa-plugins" "-" || rig=no
else
	rig=no
fi
netns=no
if [ "$(uname)" = Linux ]; then
	obtain "network namespaces" has_netns "iproute2 util-linux" "iproute util-linux" "iproute2 util-linux" "-" && netns=yes
fi
obtain "sox" has_sox sox sox sox sox || true
obtain "SQLite's shell" has_sqlite sqlite3 sqlite sqlite sqlite || true
obtain "libsndfile's tools" has_sndfile sndfile-programs libsndfile-utils libsndfile libsndfile || true
obtain "Python 3" has_python python3 python3 python python || true
[ "$(uname)" != Linux ] || obtain "strace" has_strace strace strace strace - || true
obtain "aubio" has_aubio aubio-tools aubio aubio aubio || true
obtain "a table of modes" has_csound_doc csound-doc - - - || optional="$optional|not installed: csound-doc"
obtain "tables of bells and bars" has_faust faust-common - - - || optional="$optional|not installed: faust-common"
[ "${1:-}" != --set-up ] || exit 0

log=$(mktemp -d "${TMPDIR:-/tmp}/ringwell-test.XXXXXX")
trap 'rm -rf "$log"' EXIT
failed=

# failures NAME shows what the failed tests of a run said, and what was said
# outside any test.
failures() {
	awk '
		/^(ok|FAIL|\?) *\t/ { now = ""; all = 0; next }
		/^=== (RUN|CONT|NAME)/ { now = $3; next }
		/^=== PAUSE|^ *--- (PASS|SKIP)|^PASS$|^FAIL$|^exit status/ { next }
		/^panic: |^fatal error: |DATA RACE|^runtime: / { all = 1 }
		/^ *--- FAIL/ { print said[$3] $0; said[$3] = ""; next }
		all || now == "" { print; next }
		{ said[now] = said[now] $0 "\n" }
	' "$log/$1"
}

# go_tests NAME COMMAND... runs a verbose go test and shows its closing lines,
# and what failed.
go_tests() {
	name=$1
	shift
	status=0
	"$@" >"$log/$name" 2>&1 || status=$?
	if [ $status -ne 0 ]; then
		failures "$name"
		failed="$failed $name"
	fi
	grep -E '^(ok|FAIL)[[:space:]]' "$log/$name" || true
}

# skips NAME lists the tests of a run that skipped themselves, with the line
# that says why.
skips() {
	awk '
		/^=== (RUN|CONT|NAME)/ { now = $3; next }
		/^ *--- SKIP/ { print $3 ": " why[$3]; next }
		/^    [^ ].*: / && !/^ *---/ { why[now] = $0; sub(/^ +[^ ]+: /, "", why[now]) }
	' "$log/$1"
}

# The second host of the tests needs rights that some containers do not have.
if [ $netns = yes ]; then
	RINGWELL_NETNS=1
	export RINGWELL_NETNS
else
	skip "the tests from a second host" "this machine grants no network namespace"
	optional="$optional|network namespaces are made only"
fi

say "build and vet"
go build -o bin/ringwell ./cmd/ringwell
go vet ./...

say "tests that need nothing"
go_tests plain env -u RINGWELL_RIG -u RINGWELL_BROWSER -u RINGWELL_NETNS -u RINGWELL_LONG go test -timeout 20m -v ./...

if [ $node = yes ]; then
	say "the page: types and unit tests"
	(
		cd webview/page
		npm ci --ignore-scripts --no-audit --no-fund --loglevel=error
		npm run --silent check
		npm test --silent
	) >"$log/page" 2>&1 || failed="$failed page"
	case $failed in
	*page*) cat "$log/page" ;;
	*) grep -E '^. (tests|pass|fail|skipped) ' "$log/page" || true ;;
	esac
else
	skip "the page's types and unit tests" "no Node 20 with npm"
fi

# Everything again with the virtual microphone and the browser. What asks for
# neither comes from Go's test cache.
if [ $rig = yes ] && [ $browser = yes ]; then
	say "tests with the virtual microphone and a browser"
	go_tests whole sh cmd/rig.sh env RINGWELL_LONG=1 RINGWELL_BROWSER=1 go test -timeout 20m -v -p 1 ./...
elif [ $rig = yes ]; then
	skip "browser and end-to-end tests" "no Chromium"
	go_tests whole sh cmd/rig.sh env RINGWELL_LONG=1 go test -timeout 20m -v -p 1 ./...
elif [ $browser = yes ]; then
	skip "virtual microphone and end-to-end tests" "no PulseAudio here"
	go_tests whole env RINGWELL_LONG=1 RINGWELL_BROWSER=1 go test -timeout 20m -v -p 1 ./...
else
	skip "virtual microphone, browser and end-to-end tests" "neither PulseAudio nor Chromium"
fi

if [ -f "$log/whole" ] && [ $rig = yes ] && [ $browser = yes ]; then
	skips whole >"$log/skips"
	grep -E "$optional" "$log/skips" | sed 's/^/ringwell: skipped: /' >&2 || true
	if grep -Ev "$optional" "$log/skips" >"$log/unmeant"; then
		say "these tests were meant to run and skipped themselves:"
		sed 's/^/  /' "$log/unmeant"
		failed="$failed skipped"
	fi
fi
[ -z "$skipped" ] || say "skipped on this machine:$skipped"
if [ -n "$failed" ]; then
	say "FAILED:$failed"
	exit 1
fi
