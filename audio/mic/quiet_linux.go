//go:build cgo

package mic

/*
#cgo LDFLAGS: -ldl
#define _GNU_SOURCE
#include <dlfcn.h>

static void alsa_says(const char *file, int line, const char *function, int err, const char *fmt, ...) {}
static void jack_says(const char *words) {}

// PortAudio asks every card and server there might be, and ALSA and JACK
// complain of each that is not, on standard error: 100 lines on a plain Debian
// machine. Their handlers are looked up among what PortAudio brought in and
// never linked: a machine without JACK must run ringwell too.
static void hush(const char *symbol, void *handler) {
	void (*set)(void *);
	*(void **)&set = dlsym(RTLD_DEFAULT, symbol);
	if (set)
		set(handler);
}

static void quiet(void) {
	hush("snd_lib_error_set_handler", (void *)alsa_says);
	hush("jack_set_error_function", (void *)jack_says);
	hush("jack_set_info_function", (void *)jack_says);
}
*/
import "C"

// quiet keeps ALSA and JACK from writing on standard error. Call it before
// PortAudio is initialized.
func quiet() { C.quiet() }
