package mic

import (
	"os"
	"testing"
)

// The test binary is the capture child when it is started as one.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == "capture-child" {
		os.Exit(RunChild(os.Args[2:], os.Stdout))
	}
	os.Exit(m.Run())
}
