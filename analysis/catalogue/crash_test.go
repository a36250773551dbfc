package catalogue

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"
)

// In these the test's own file runs again as another program.
const (
	onDisk  = "RINGWELL_TEST_DISK"  // what to try on a small disk
	keeping = "RINGWELL_TEST_KEEP"  // keep strikes in this shelf and say so
	rounds  = "RINGWELL_KILL"       // how often to kill it; make kill sets it
	first   = "RINGWELL_TEST_FIRST" // number of the first strike
	most    = "RINGWELL_TEST_MOST"  // how many to keep
)

func TestMain(m *testing.M) {
	var err error
	switch {
	case os.Getenv(onDisk) == "full":
		err = onFullDisk(os.Getenv("SHELF"))
	case os.Getenv(onDisk) == "read-only":
		err = onReadOnlyDisk(os.Getenv("SHELF"))
	case os.Getenv(keeping) != "":
		from, _ := strconv.Atoi(os.Getenv(first))
		n, _ := strconv.Atoi(os.Getenv(most))
		err = keepOn(os.Getenv(keeping), from, n)
	default:
		os.Exit(m.Run())
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// keepOn keeps strikes and writes a line for each once it is acknowledged.
func keepOn(dir string, from, n int) error {
	ctx := context.Background()
	s, err := Open(ctx, dir, Options{})
	if err != nil {
		return err
	}
	on, err := s.Objects(ctx, false)
	if err != nil {
		return err
	}
	var v Voice
	if len(on) == 0 {
		o, err := s.AddObject(ctx, Object{Name: "roof slate"})
		if err != nil {
			return err
		}
		if v, err = s.AddVoice(ctx, Voice{Object: o.ID}); err != nil {
			return err
		}
	} else if vs, err := s.Voices(ctx, on[0].ID); err != nil {
		return err
	} else if len(vs) > 0 {
		v = vs[0]
	} else if v, err = s.AddVoice(ctx, Voice{Object: on[0].ID}); err != nil {
		return err
	}
	for i := from; i < from+n; i++ {
		if err := s.Keep(ctx, strikeOf(v.ID, i), soundOf(i)); err != nil {
			return err
		}
		if _, err := os.Stdout.WriteString(fmt.Sprintf("kept %d\n", i)); err != nil {
			return err
		}
	}
	return s.Close()
}

func keeper(t *testing.T, dir string, from, n int) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), keeping+"="+dir, first+"="+fmt.Sprint(from), most+"="+fmt.Sprint(n))
	cmd.Stderr = os.Stderr
	return cmd
}

// acknowledged checks that a shelf holds every strike below n with its sound,
// and looks the whole of it through if asked to.
func acknowledged(dir string, from, n int, whole bool) error {
	ctx := context.Background()
	r, err := OpenReader(ctx, dir)
	if err != nil {
		if n == 0 && (errors.Is(err, ErrForeign) || errors.Is(err, fs.ErrNotExist)) {
			return nil // nothing was acknowledged: it was ended before the shelf was made
		}
		return err
	}
	defer r.Close()
	for i := from; i < n; i++ {
		k, err := r.Strike(ctx, strikeOf("", i).ID)
		if err != nil {
			return err
		}
		if k.Recording != hash(soundOf(i)) || len(k.Partials) != 2 {
			return fmt.Errorf("strike %d came back as %+v", i, k)
		}
		if _, err := r.Recording(k.Recording); err != nil {
			return err
		}
	}
	if !whole {
		return nil
	}
	report, err := r.Check(ctx, nil)
	if err != nil {
		return err
	}
	if !report.Sound() {
		return fmt.Errorf("check: %q", report.Faults)
	}
	return nil
}

// A process that is killed at any moment loses no strike it has acknowledged.
// Plain tests do it ten times; make kill a thousand, with a fresh shelf every
// fifty, a check of the new part each time and of the whole at its end.
func TestKill(t *testing.T) {
	times, err := strconv.Atoi(os.Getenv(rounds))
	if err != nil {
		times = 10
	}
	longest := 60 * time.Millisecond
	if times > 100 {
		longest = 2 * time.Second // so that a thousand take about 20 minutes, and shelves grow
	}
	seed := uint64(time.Now().UnixNano())
	rnd := rand.New(rand.NewPCG(seed, 1))
	dir, next, strikes := "", 0, 0
	for round := range times {
		if round%50 == 0 {
			dir, next = t.TempDir(), 0
		}
		cmd := keeper(t, dir, next, 1<<30)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		// It dies some moment after it began, or after it kept some strikes.
		after := time.Duration(rnd.Int64N(int64(longest)))
		begin := rnd.IntN(4)
		var timer *time.Timer
		if begin == 0 {
			timer = time.AfterFunc(after, func() { cmd.Process.Kill() })
		}
		from := next
		for lines := bufio.NewScanner(out); lines.Scan(); {
			if n, err := strconv.Atoi(strings.TrimPrefix(lines.Text(), "kept ")); err == nil {
				next = n + 1
			}
			if next-from == begin && timer == nil {
				timer = time.AfterFunc(after, func() { cmd.Process.Kill() })
			}
		}
		cmd.Wait()
		strikes += next - from
		last := (round+1)%50 == 0 || round == times-1
		if err := acknowledged(dir, from, next, last); err != nil {
			t.Fatalf("round %d of seed %d, strikes %d to %d acknowledged: %v", round, seed, from, next-1, err)
		}
		// One that was kept and not acknowledged has its number still: it is
		// kept again, which is no error.
	}
	t.Logf("killed %d times, %d strikes acknowledged, none lost", times, strikes)
	if strikes == 0 {
		t.Error("no strike was ever kept: this test shows nothing")
	}
}
