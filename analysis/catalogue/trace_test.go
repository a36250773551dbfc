package catalogue

import (
	"bufio"
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// call is one system call of a program, as strace tells it.
type call struct {
	name string
	path string // of its first file
	to   string // of a rename
	data []byte // of a write
	at   int64  // of a pwrite64 or ftruncate; -1: at the end
	mode string // of an open
}

// traced runs a program under strace and returns what it did to files below a
// folder, and what it wrote to standard output, in order.
func traced(t *testing.T, cmd *exec.Cmd, below string) []call {
	t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("strace is not installed")
	}
	file := filepath.Join(t.TempDir(), "trace")
	var said bytes.Buffer
	cmd.Args = append([]string{strace, "-f", "-y", "-xx", "-s", "1000000", "-o", file,
		"-e", "trace=open,openat,write,pwrite64,ftruncate,fsync,fdatasync,rename,renameat,renameat2,unlink,unlinkat,mkdir,mkdirat"}, cmd.Path)
	cmd.Path, cmd.Stdout, cmd.Stderr = strace, &said, &said
	if err := cmd.Run(); err != nil {
		if strings.Contains(said.String(), "ptrace") {
			t.Skipf("this system lets nobody trace: %s", said.String())
		}
		t.Fatalf("%v: %s", err, said.String())
	}
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var calls []call
	begun := map[string]string{} // by thread
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 64<<20)
	for lines.Scan() {
		pid, text, _ := strings.Cut(lines.Text(), " ")
		text = strings.TrimSpace(text)
		if head, ok := strings.CutSuffix(text, "<unfinished ...>"); ok {
			begun[pid] = head
			continue
		}
		if strings.HasPrefix(text, "<... ") {
			_, tail, _ := strings.Cut(text, "resumed>")
			text = begun[pid] + tail
		}
		if c, ok := parseCall(t, text); ok && (strings.HasPrefix(c.path, below) || c.path == "stdout") {
			calls = append(calls, c)
		}
	}
	return calls
}

var (
	callForm   = regexp.MustCompile(`^(\w+)\((.*)\)\s+= (-?\d+)`)
	quotedForm = regexp.MustCompile(`"((?:\\x[0-9a-f]{2})*)"`)
	fdForm     = regexp.MustCompile(`^(\d+)<([^>]*)>`)
)

func parseCall(t *testing.T, text string) (call, bool) {
	m := callForm.FindStringSubmatch(text)
	if m == nil || strings.HasPrefix(m[3], "-") {
		return call{}, false // a signal, an exit, or what failed
	}
	c := call{name: m[1], at: -1}
	var quoted [][]byte
	for _, q := range quotedForm.FindAllStringSubmatch(m[2], -1) {
		quoted = append(quoted, unhex(t, q[1]))
	}
	fd := fdForm.FindStringSubmatch(m[2])
	switch c.name {
	case "write", "pwrite64", "ftruncate", "fsync", "fdatasync":
		if fd == nil {
			return c, false
		}
		c.path = string(unhexed(t, fd[2]))
		if fd[1] == "1" && c.name == "write" {
			c.path = "stdout"
		}
		if len(quoted) > 0 {
			c.data = quoted[0]
		}
		if c.name == "pwrite64" || c.name == "ftruncate" {
			last := m[2][strings.LastIndex(m[2], ",")+1:]
			at, err := strconv.ParseInt(strings.TrimSpace(last), 10, 64)
			if err != nil {
				t.Fatalf("%s: %v", text, err)
			}
			c.at = at
		}
	default:
		if len(quoted) == 0 {
			return c, false
		}
		c.path, c.mode = string(quoted[0]), m[2]
		if len(quoted) > 1 {
			c.to = string(quoted[1])
		}
	}
	return c, true
}

// unhexed is a path behind a file descriptor: -xx writes it as \x.. too.
func unhexed(t *testing.T, s string) []byte {
	if strings.HasPrefix(s, `\x`) {
		return unhex(t, s)
	}
	return []byte(s)
}

func unhex(t *testing.T, s string) []byte {
	b := make([]byte, 0, len(s)/4)
	for i := 0; i+4 <= len(s); i += 4 {
		v, err := strconv.ParseUint(s[i+2:i+4], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		b = append(b, byte(v))
	}
	return b
}
