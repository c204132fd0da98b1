package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// stopper is a terminal that interrupts the program once it shows a word.
type stopper struct {
	bytes.Buffer
	word string
	stop context.CancelFunc
}

func (s *stopper) Write(p []byte) (int, error) {
	if strings.Contains(string(p), s.word) {
		s.stop()
	}
	return s.Buffer.Write(p)
}

// An interrupt at any step ends with one line and leaves whole files or none.
func TestPrepareStops(t *testing.T) {
	moth := drawing{pages: [][]string{{"....", ".##.", "...."}}, ppi: 300, scale: 80}
	art, err := moth.encode(".png")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		word    string
		written bool
	}{{"reading", false}, {"separating", false}, {"placing", false}, {"writing", false}, {"judging sheet 1", true}} {
		t.Run(tt.word, func(t *testing.T) {
			dir := t.TempDir()
			name := filepath.Join(dir, "moth.png")
			if err := os.WriteFile(name, art, 0o666); err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			out, shown := &bytes.Buffer{}, &stopper{word: tt.word, stop: cancel}
			code := run(ctx, []string{"prepare", name, "--copies", "60"}, terminal{out: out, err: shown, errIsTerminal: true})
			text := shown.String()
			last := text[strings.LastIndex(text, "peelcheck: "):]
			want := "peelcheck: stopped; nothing was written\n"
			if tt.written {
				want = "peelcheck: stopped; written in full before that: " + filepath.Join(dir, "moth.print.pdf") + "\n"
			}
			if code != exitTrouble || last != want || strings.Count(text, "\n") != 1 || out.Len() > 0 {
				t.Errorf("exit code %d, %q, %q printed; want %q last", code, text, out, want)
			}
			checkLeft(t, dir, tt.written)
		})
	}
}

// checkLeft checks that the artwork, and beside it at most a whole file, lies in a folder.
func checkLeft(t *testing.T, dir string, written bool) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	want := 1
	if written {
		want = 2
		data, err := os.ReadFile(filepath.Join(dir, "moth.print.pdf"))
		if err != nil || !bytes.HasSuffix(bytes.TrimSpace(data), []byte("%%EOF")) {
			t.Errorf("the file is not whole (%v)", err)
		}
	}
	if len(entries) != want {
		t.Errorf("%v are left, want %d files", entries, want)
	}
}
