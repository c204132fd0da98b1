package problem

import (
	"fmt"
	"os"
	"strings"
	"syscall"
	"testing"
)

func TestAboutSystemErrors(t *testing.T) {
	for _, s := range systemErrors {
		p := About("a.png", &os.PathError{Op: "open", Path: "a.png", Err: s.is})
		if p.Reason != s.reason || p.Remedy == "" {
			t.Errorf("%v: %q", s.is, p.Error())
		}
	}
	if p := About(" ", os.ErrNotExist); !strings.HasPrefix(p.Error(), `" ": `) {
		t.Errorf("a name of a space: %q", p.Error())
	}
	if p := About("a.png", fmt.Errorf("outfile: %w", syscall.EIO)); strings.Contains(p.Error(), "outfile") || p.Remedy == "" {
		t.Errorf("got %q", p.Error())
	}
}
