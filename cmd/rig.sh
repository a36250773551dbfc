#!/bin/sh
# A virtual microphone for tests: PulseAudio with null sinks, seen through
# PortAudio as real-time inputs that give bit for bit what is played.
#
#   sh cmd/rig.sh COMMAND...   runs COMMAND beside the rig (RINGWELL_RIG=1)
#
# COMMAND plays into the microphones with paplay or pacat:
#   input "default"   mono,   paplay -d rig  x.wav
#   input "pair"      stereo, paplay -d pair x.wav
# and, with the rig's environment, may say
#   sh "$RIG" unplug | plug    the sound server dies and comes back
#   sh "$RIG" freeze | thaw    it stands still, so that drivers hang
# ALSA_CONFIG_PATH="$RIG_DIR/none.conf" is a machine without any input.
#
# It needs pulseaudio, pulseaudio-utils and libasound2-plugins; no sound card,
# no D-Bus, no root. Several rigs run side by side.
set -u

plug() {
	# norewinds keeps the sinks from sleeping for seconds: without it the start
	# of what is played is lost.
	HOME=$RIG_DIR/home setsid pulseaudio -n -F "$RIG_DIR/default.pa" --daemonize=no --use-pid-file=no \
		--exit-idle-time=-1 --disallow-exit --realtime=no --high-priority=no \
		--log-target=file:"$RIG_DIR/pulse.log" </dev/null >/dev/null 2>&1 &
	echo $! >"$RIG_DIR/pulse.pid"
	tries=0
	until pactl list short sources 2>/dev/null | grep -q pair.monitor; do
		tries=$((tries + 1))
		if [ $tries -gt 200 ] || ! kill -0 "$(cat "$RIG_DIR/pulse.pid")" 2>/dev/null; then
			echo "rig: PulseAudio did not come up:" >&2
			cat "$RIG_DIR/pulse.log" >&2
			return 1
		fi
		sleep 0.05
	done
}

signal() { kill "-$1" "$(cat "$RIG_DIR/pulse.pid")" 2>/dev/null; }

unplug() {
	signal KILL
	rm -f "$RIG_DIR/run/native"
}

if [ -n "${RIG_DIR:-}" ]; then # inside a rig
	case "$*" in
	plug) plug ;;
	unplug) unplug ;;
	freeze) signal STOP ;;
	thaw) signal CONT ;;
	*)
		echo "rig: inside the rig: plug, unplug, freeze or thaw, not \"$*\"" >&2
		exit 64
		;;
	esac
	exit
fi

if [ $# -eq 0 ]; then
	sed -n '2,/^set/s/^# \{0,1\}//p' "$0"
	exit 64
fi
for tool in pulseaudio pactl paplay; do
	command -v $tool >/dev/null || {
		echo "rig: $tool is missing: install pulseaudio, pulseaudio-utils and libasound2-plugins" >&2
		exit 69
	}
done

RIG=$(cd "$(dirname "$0")" && pwd)/$(basename "$0")
RIG_DIR=$(mktemp -d "${TMPDIR:-/tmp}/ringwell-rig.XXXXXX") || exit 70
mkdir -m 700 "$RIG_DIR/run" "$RIG_DIR/home"
cat >"$RIG_DIR/default.pa" <<P
load-module module-native-protocol-unix auth-anonymous=1 socket=$RIG_DIR/run/native
load-module module-null-sink sink_name=rig rate=48000 channels=1 format=float32le norewinds=1
load-module module-null-sink sink_name=pair rate=48000 channels=2 format=float32le norewinds=1
set-default-sink rig
set-default-source rig.monitor
P
# An ALSA configuration without a "default" makes PortAudio abort.
cat >"$RIG_DIR/asound.conf" <<P
pcm.!default { type pulse device rig.monitor }
ctl.!default { type pulse }
pcm.pair { type pulse device pair.monitor }
P
echo 'pcm.!default { type hw card 99 }' >"$RIG_DIR/none.conf"

export RIG RIG_DIR RINGWELL_RIG=1 JACK_NO_START_SERVER=1
export XDG_RUNTIME_DIR="$RIG_DIR/run" PULSE_RUNTIME_PATH="$RIG_DIR/run" PULSE_STATE_PATH="$RIG_DIR/state" \
	PULSE_COOKIE="$RIG_DIR/cookie" PULSE_SERVER="unix:$RIG_DIR/run/native" ALSA_CONFIG_PATH="$RIG_DIR/asound.conf"
unset DBUS_SESSION_BUS_ADDRESS DISPLAY
trap 'unplug; rm -rf "$RIG_DIR"' EXIT
trap 'exit 130' INT TERM HUP
plug || exit 70
"$@"
