package outfile_test

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"peelcheck/cmd/internal/outfile"
)

func TestWriteIsAllOrNothing(t *testing.T) {
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	text := func(s string, err error) func(io.Writer) error {
		return func(w io.Writer) error {
			_, werr := io.WriteString(w, s)
			return errors.Join(werr, err)
		}
	}
	tests := []struct {
		name string
		ctx  context.Context
		fill func(io.Writer) error
		err  error
	}{
		{"complete", context.Background(), text("new", nil), nil},
		{"empty", context.Background(), text("", nil), nil},
		{"disk full half way", context.Background(), text("ne", syscall.ENOSPC), syscall.ENOSPC},
		{"stopped", stopped, text("new", nil), context.Canceled},
		{"stopped in a large file", stopped, text(string(make([]byte, 1<<20)), nil), context.Canceled},
	}
	for _, tt := range tests {
		for _, old := range []string{"", "old"} {
			t.Run(tt.name+"/over "+old, func(t *testing.T) {
				dir := t.TempDir()
				path := filepath.Join(dir, "lantern.report.json")
				if old != "" {
					if err := os.WriteFile(path, []byte(old), 0o666); err != nil {
						t.Fatal(err)
					}
				}
				if err := outfile.Write(tt.ctx, path, tt.fill); !errors.Is(err, tt.err) {
					t.Fatalf("got error %v, want %v", err, tt.err)
				}
				got, err := os.ReadFile(path)
				want := old
				if tt.err == nil {
					var all bytes.Buffer
					if err := tt.fill(&all); err != nil {
						t.Fatal(err)
					}
					want = all.String()
				} else if old == "" && !errors.Is(err, os.ErrNotExist) {
					t.Errorf("a file was left behind: %v", err)
				}
				if string(got) != want {
					t.Errorf("file holds %q, want %q", got, want)
				}
				for _, e := range entries(t, dir) {
					if e != filepath.Base(path) {
						t.Errorf("%s was left behind", e)
					}
				}
			})
		}
	}
}

func entries(t *testing.T, dir string) []string {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range list {
		out = append(out, e.Name())
	}
	return out
}

func TestWriteErrorsNameNoTemporaryFile(t *testing.T) {
	err := outfile.Write(context.Background(), filepath.Join(t.TempDir(), "missing", "a.json"), func(io.Writer) error { return nil })
	if !errors.Is(err, os.ErrNotExist) {
		t.Fatalf("got %v, want one that matches os.ErrNotExist", err)
	}
	if bytes.Contains([]byte(err.Error()), []byte(".tmp")) {
		t.Errorf("the message names the temporary file: %v", err)
	}
}

func TestStamp(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 30, 20))
	m.SetNRGBA(3, 4, color.NRGBA{1, 2, 3, 200})
	var ours, plain bytes.Buffer
	if err := outfile.EncodePNG(&ours, m); err != nil {
		t.Fatal(err)
	}
	if err := png.Encode(&plain, m); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		head []byte
		want bool
	}{
		{"ours", ours.Bytes(), true},
		{"just enough of ours", ours.Bytes()[:outfile.StampBytes], true},
		{"too little of ours", ours.Bytes()[:outfile.StampBytes-1], false},
		{"another's", plain.Bytes(), false},
		{"nothing", nil, false},
	}
	for _, tt := range tests {
		if got := outfile.Stamped(tt.head); got != tt.want {
			t.Errorf("%s: Stamped is %v, want %v", tt.name, got, tt.want)
		}
	}
}
