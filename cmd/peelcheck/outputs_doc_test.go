package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// example is a command of docs/outputs.md and what the page says that it prints.
type example struct {
	args []string
	want []string
}

// examples reads the blocks that begin with "$ peelcheck".
func examples(t *testing.T, path string) []example {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var list []example
	open := false
	for line := range strings.Lines(string(text)) {
		code, indented := strings.CutPrefix(strings.TrimSuffix(line, "\n"), "    ")
		command, begins := strings.CutPrefix(code, "$ peelcheck ")
		switch {
		case indented && begins:
			list, open = append(list, example{args: strings.Fields(command)}), true
		case indented && open:
			last := &list[len(list)-1]
			last.want = append(last.want, code)
		default:
			open = false
		}
	}
	return list
}

// matches compares lines; "..." stands for any number of them.
func matches(want, got []string) bool {
	if len(want) == 0 {
		return len(got) == 0
	}
	if want[0] == "..." {
		for i := range len(got) + 1 {
			if matches(want[1:], got[i:]) {
				return true
			}
		}
		return false
	}
	return len(got) > 0 && want[0] == got[0] && matches(want[1:], got[1:])
}

// TestDocumentedOutputs runs the commands of docs/outputs.md in the folder that they are written for.
func TestDocumentedOutputs(t *testing.T) {
	t.Chdir(filepath.Join("..", ".."))
	list := examples(t, filepath.Join("docs", "outputs.md"))
	if len(list) < 4 {
		t.Fatalf("%d examples found", len(list))
	}
	for _, e := range list {
		dir := t.TempDir()
		call := make([]string, len(e.args))
		for i, a := range e.args {
			call[i] = a
			if i > 0 && e.args[i-1] == "--out" {
				call[i] = dir
			}
		}
		var out, errs bytes.Buffer
		run(context.Background(), call, terminal{out: &out, err: &errs})
		got := strings.Split(strings.TrimSuffix(strings.ReplaceAll(out.String(), filepath.ToSlash(dir), "out"), "\n"), "\n")
		if errs.Len() > 0 || !matches(e.want, got) {
			t.Errorf("peelcheck %s prints\n%s%s\nwant\n%s", strings.Join(e.args, " "), out.String(), errs.String(), strings.Join(e.want, "\n"))
		}
	}
	if matches([]string{"a", "...", "c"}, []string{"a", "b"}) || !matches([]string{"a", "...", "c"}, []string{"a", "b", "b", "c"}) {
		t.Error("lines are compared wrongly")
	}
}
