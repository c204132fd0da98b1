package judging

import (
	"bytes"
	"context"
	"image/color"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"peelcheck/cmd/internal/artfile"
	art "peelcheck/cmd/internal/drawing"
	"peelcheck/cmd/internal/resultcache"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

// workshop is a folder with artwork, a cache, and a count of how often artwork was opened.
type workshop struct {
	*testing.T
	dir    string
	opened int
}

func newWorkshop(t *testing.T) *workshop {
	w := &workshop{T: t, dir: t.TempDir()}
	c := art.New(40, 30, 300)
	c.Fill(art.Rect(5, 5, 20, 0.1), color.NRGBA{A: 255})
	c.Fill(art.Circle(20, 18, 8), color.NRGBA{200, 30, 30, 255})
	var buf bytes.Buffer
	if err := art.WritePNG(&buf, c.Pix, 300); err != nil {
		t.Fatal(err)
	}
	w.write("a.png", buf.Bytes())
	return w
}

func (w *workshop) path(name string) string { return filepath.Join(w.dir, name) }

func (w *workshop) write(name string, data []byte) {
	w.Helper()
	if err := os.WriteFile(w.path(name), data, 0o600); err != nil {
		w.Fatal(err)
	}
}

func (w *workshop) read(name string) string {
	w.Helper()
	data, err := os.ReadFile(w.path(name))
	if err != nil {
		w.Fatal(err)
	}
	return string(data)
}

// job is that of what was asked for, without a settings file.
func (w *workshop) job(asked setup.Asked) preflight.Job {
	w.Helper()
	job, err := asked.Job(&preflight.ShopConfig{})
	if err != nil {
		w.Fatal(err)
	}
	return job
}

// judge runs a bench with the program's cache, nil for none, over a file and returns its report.
func (w *workshop) judge(cache *resultcache.Cache, name, to string, job preflight.Job, accept Accept, noProof bool) *preflight.Report {
	w.Helper()
	b := New(Options{Rules: rules.All(), Write: true, Outputs: Outputs{NoProof: noProof}, Cache: cache, OnCacheFail: func(err error) { w.Error(err) }})
	b.opener = func(path string, opt artfile.Options) (*artfile.File, error) {
		w.opened++
		return artfile.Open(path, opt)
	}
	o := b.File(context.Background(), Task{Source: artfile.Source{Path: w.path(name)}, Job: job, To: Target(w.path(to)), Accept: accept})
	if len(o.Problems) > 0 || len(o.Reports) != 1 || o.Written != 1 || o.Pages != 1 {
		w.Fatalf("%+v", o)
	}
	return o.Reports[0]
}

func (w *workshop) cache(program string) *resultcache.Cache {
	w.Helper()
	c, err := resultcache.Open(w.path("cache"), program)
	if err != nil {
		w.Fatal(err)
	}
	return c
}

// acceptAll marks nothing but the verdict, which is enough to change every report.
func acceptAll(rep *preflight.Report) *preflight.Report {
	out := *rep
	out.Counts, out.Verdict = preflight.Counts{}, preflight.Ready
	return &out
}

// TestKnown: whatever happened between two runs, the second leaves what an uncached run writes, and opens the artwork only if it must.
func TestKnown(t *testing.T) {
	tests := []struct {
		name    string
		between func(w *workshop)
		program string // of the second run
		asked   setup.Asked
		file    string
		accept  Accept
		noProof bool
		opened  int // by the second run
	}{
		{name: "nothing", opened: 0},
		{name: "proof gone", between: func(w *workshop) { os.Remove(w.path("x.proof.png")) }, opened: 1},
		{name: "proof changed", between: func(w *workshop) { w.write("x.proof.png", []byte(w.read("x.proof.png")+"x")) }, opened: 1},
		{name: "report gone", between: func(w *workshop) { os.Remove(w.path("x.report.json")) }, opened: 1},
		{name: "report changed", between: func(w *workshop) { w.write("x.report.json", []byte("{}")) }, opened: 1},
		{name: "report gone, no proof", between: func(w *workshop) { os.Remove(w.path("x.report.json")) }, noProof: true, opened: 0},
		{name: "report changed, no proof", between: func(w *workshop) { w.write("x.report.json", []byte("{}")) }, noProof: true, opened: 0},
		{name: "artwork changed", between: func(w *workshop) { w.write("a.png", []byte(w.read("a.png")+"\n")) }, opened: 1},
		{name: "artwork touched", between: func(w *workshop) { w.write("a.png", []byte(w.read("a.png"))) }, opened: 0},
		{name: "artwork moved", between: func(w *workshop) { os.Rename(w.path("a.png"), w.path("b.png")) }, file: "b.png", opened: 1},
		{name: "artwork moved, no proof", between: func(w *workshop) { os.Rename(w.path("a.png"), w.path("b.png")) }, file: "b.png", noProof: true, opened: 0},
		{name: "another program", program: "two", opened: 1},
		{name: "another limit", asked: setup.Asked{MinLine: 0.5}, opened: 1},
		{name: "another garment", asked: setup.Asked{Garment: "navy"}, opened: 1},
		{name: "another size", asked: setup.Asked{Width: 80}, opened: 1},
		{name: "findings accepted", accept: acceptAll, opened: 1},
		{name: "findings accepted, no proof", accept: acceptAll, noProof: true, opened: 0},
		{name: "cache emptied", between: func(w *workshop) { os.RemoveAll(w.path("cache")) }, opened: 1},
		{name: "cache damaged", between: damageCache, opened: 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := newWorkshop(t)
			w.judge(w.cache("one"), "a.png", "x", w.job(setup.Asked{}), nil, tt.noProof)
			if tt.between != nil {
				tt.between(w)
			}
			w.opened = 0
			file, job := setup.First(tt.file, "a.png"), w.job(tt.asked)
			got := w.judge(w.cache(setup.First(tt.program, "one")), file, "x", job, tt.accept, tt.noProof)
			if w.opened != tt.opened {
				t.Errorf("the second run opened the artwork %d times, want %d", w.opened, tt.opened)
			}
			want := w.judge(nil, file, "y", job, tt.accept, tt.noProof)
			if w.read("x.report.json") != w.read("y.report.json") {
				t.Errorf("report is\n%s\nwant\n%s", w.read("x.report.json"), w.read("y.report.json"))
			}
			if !tt.noProof && w.read("x.proof.png") != w.read("y.proof.png") {
				t.Error("the proof is not that of an uncached run")
			}
			if textOf(t, got) != textOf(t, want) || len(got.Findings) == 0 {
				t.Errorf("printed is\n%s\nwant\n%s", textOf(t, got), textOf(t, want))
			}
		})
	}
}

// Copies of a picture share its results, and each is known without writing its report out again; a report that was changed is not.
func TestReportsOfCopiesAreKnown(t *testing.T) {
	w := newWorkshop(t)
	job := w.job(setup.Asked{})
	for n := range mostTexts + 2 {
		name := string(rune('a' + n))
		w.write(name+".png", []byte(w.read("a.png")))
		w.judge(w.cache("one"), name+".png", name, job, nil, true)
		b := New(Options{Rules: rules.All(), Outputs: Outputs{NoProof: true}, Cache: w.cache("one")})
		task := Task{Source: artfile.Source{Path: w.path(name + ".png")}, Job: job, To: Target(w.path(name))}
		known, ok := b.lookUp(&task)
		if !ok || len(known.Texts) != min(n+1, mostTexts) {
			t.Fatalf("%s: %v, sums of %d names, want %d", name, ok, len(known.Texts), min(n+1, mostTexts))
		}
		if !b.standAsWritten(&task, &known) {
			t.Errorf("%s: the report just written is not known", name)
		}
		if task.FailOn = "warning"; b.standAsWritten(&task, &known) {
			t.Errorf("%s: the report for another threshold is taken for known", name)
		}
		task.FailOn = ""
		w.write(name+".report.json", []byte(strings.Replace(w.read(name+".report.json"), `"schema_version": 1`, `"schema_version": 9`, 1)))
		if b.standAsWritten(&task, &known) {
			t.Errorf("%s: a changed report of the same length is taken for known", name)
		}
	}
	if w.opened != 1 {
		t.Errorf("opened %d times", w.opened)
	}
}

func damageCache(w *workshop) {
	err := filepath.WalkDir(w.path("cache"), func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return os.Truncate(path, 100)
	})
	if err != nil {
		w.Fatal(err)
	}
}

func textOf(t *testing.T, rep *preflight.Report) string {
	t.Helper()
	var out bytes.Buffer
	text := report.NewText(&out, report.TextOptions{})
	if err := text.Add(rep); err != nil {
		t.Fatal(err)
	}
	if err := text.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestJobIsAllOfTheKey: nothing that a job is made of is left out of its JSON, and so out of the key.
func TestJobIsAllOfTheKey(t *testing.T) {
	seen := map[reflect.Type]bool{}
	var look func(at string, typ reflect.Type)
	look = func(at string, typ reflect.Type) {
		if seen[typ] {
			return
		}
		seen[typ] = true
		switch typ.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array:
			look(at, typ.Elem())
		case reflect.Map:
			look(at, typ.Elem())
		case reflect.Struct:
			for i := range typ.NumField() {
				f := typ.Field(i)
				if !f.IsExported() || f.Tag.Get("json") == "-" {
					t.Errorf("%s.%s is not in the JSON of a job", at, f.Name)
				}
				look(at+"."+f.Name, f.Type)
			}
		case reflect.Func, reflect.Chan, reflect.Interface, reflect.UnsafePointer:
			t.Errorf("%s is a %s, which JSON cannot tell", at, typ.Kind())
		}
	}
	look("Job", reflect.TypeFor[preflight.Job]())
	if len(seen) < 10 {
		t.Fatalf("only %d types looked at", len(seen))
	}
}
