# What a machine needs, for run.sh and test.sh, which read this file. Each
# function installs what is missing where it can, and else says what to do.

say() { printf 'ringwell: %s\n' "$*" >&2; }
have() { command -v "$1" >/dev/null 2>&1; }

# need_go ends the script unless there is a Go that can fetch the toolchain
# go.mod names by itself: 1.21 or newer.
need_go() {
	have go || { [ -x /usr/local/go/bin/go ] && PATH=$PATH:/usr/local/go/bin; } || {
		say "Go is missing: install version 1.21 or newer, see https://go.dev/doc/install, and run this again."
		exit 1
	}
	# Outside the module, so that an old Go answers too.
	version=$(cd / && GOTOOLCHAIN=local go env GOVERSION 2>/dev/null) || version=
	minor=${version#go1.}
	minor=${minor%%[!0-9]*}
	if [ "${minor:-0}" -lt 21 ]; then
		say "This Go (${version:-unknown version}) is too old: install version 1.21 or newer, see https://go.dev/doc/install, and run this again."
		exit 1
	fi
}

# manager names the package manager of this machine, or nothing.
manager() {
	for m in apt-get dnf pacman brew; do
		if have $m; then
			echo $m
			return
		fi
	done
}

# as_root runs a command as root if that needs no password.
as_root() {
	if [ "$(id -u)" = 0 ]; then
		"$@"
	elif have sudo; then
		sudo -n "$@"
	else
		return 1
	fi
}

updated=no

# install PACKAGE... installs packages without asking anything.
install() {
	case $(manager) in
	apt-get)
		if [ $updated = no ]; then
			as_root apt-get update -qq || say "the package lists could not be brought up to date; going on with the old ones"
			updated=yes
		fi
		as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
		;;
	dnf) as_root dnf install -y -q "$@" ;;
	pacman) as_root pacman -S --needed --noconfirm "$@" >/dev/null ;;
	brew) HOMEBREW_NO_AUTO_UPDATE=1 brew install -q "$@" ;;
	*) return 1 ;;
	esac
}

# by_manager APT DNF PACMAN BREW picks the packages of this machine's manager,
# each a list with spaces between, "-" where there are none.
by_manager() {
	case $(manager) in
	apt-get) echo "$1" ;;
	dnf) echo "$2" ;;
	pacman) echo "$3" ;;
	brew) echo "$4" ;;
	*) echo - ;;
	esac
}

# obtain WHAT TEST APT DNF PACMAN BREW installs the packages unless TEST
# succeeds already, and returns whether it does in the end.
obtain() {
	what=$1 test=$2
	shift 2
	$test && return 0
	packages=$(by_manager "$@")
	if [ "$packages" != - ]; then
		say "installing $what ($packages)"
		# shellcheck disable=SC2086 # a list of packages
		install $packages || true
		$test && return 0
	fi
	say "$what is missing and could not be installed here. By hand: $(by_hand "$packages")"
	return 1
}

by_hand() {
	if [ "$1" = - ]; then
		echo "see your system's packages"
		return
	fi
	case $(manager) in
	apt-get) echo "sudo apt-get install $1" ;;
	dnf) echo "sudo dnf install $1" ;;
	pacman) echo "sudo pacman -S $1" ;;
	brew) echo "brew install $1" ;;
	esac
}

compiles() { echo '#include <stdio.h>
int main(void) { return 0; }' | ${CC:-cc} -x c - -o /dev/null 2>/dev/null; }
finds_portaudio() { have pkg-config && pkg-config --exists portaudio-2.0; }

# obtain_capture makes sure of what the microphone needs at build time.
obtain_capture() {
	obtain "a C compiler" compiles "gcc libc6-dev" "gcc glibc-devel" "gcc" "-" &&
		obtain "PortAudio" finds_portaudio "pkg-config portaudio19-dev" "pkgconf-pkg-config portaudio-devel" "pkgconf portaudio" "pkg-config portaudio"
}
