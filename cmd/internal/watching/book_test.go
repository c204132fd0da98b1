package watching

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
)

// TestBookCutAnywhere cuts the book after any byte, as a power cut may, down to nothing: there is never a second report of a file nor one too few.
func TestBookCutAnywhere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.put("a.png", "a")
		d.put("a.tif", "tif")
		d.put("line\nbreak \xff.png", "odd")
		d.opt.Jobs = 1
		d.once()
		want := fmt.Sprint(d.files("checked"))
		path := filepath.Join(d.opt.Out, bookName)
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for end := 0; end <= len(whole); end += 7 {
			if err := os.WriteFile(path, whole[:end], 0o666); err != nil {
				t.Fatal(err)
			}
			d.once()
			if got := fmt.Sprint(d.files("checked")); got != want {
				t.Fatalf("cut after %d of %d bytes there are %s, want %s", end, len(whole), got, want)
			}
			d.report("a", "a")
			d.report("a.tif", "tif")
		}
	})
}

func TestBookOfRubbish(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		path := filepath.Join(d.opt.Out, bookName)
		rubbish := "\x00\x00\x00\nnull\n[]\n{\"path\":\"%zz\"}\n{\"path\":1}\n{\"path\":\"b.png\",\"target\":\"..%2F..%2Fb\",\"sha256\":\"x\"}\n{\"path\":\"a.p"
		if err := os.WriteFile(path, []byte(rubbish), 0o666); err != nil {
			t.Fatal(err)
		}
		d.put("a.png", "a")
		d.put("b.png", "b")
		d.once()
		d.once()
		d.judged("a.png", 1, "a")
		d.report("a", "a")
		d.judged("b.png", 1, "b")
		d.report("b", "b")
	})
}

func TestBookStaysShort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		for i := range 300 {
			d.put("a.png", fmt.Sprint(i))
			d.once()
		}
		info, err := os.Stat(filepath.Join(d.opt.Out, bookName))
		if err != nil || info.Size() > 40_000 {
			t.Errorf("%v bytes for one file (%v)", info.Size(), err)
		}
		d.judged("a.png", 300, "299")
		d.report("a", "299")
	})
}

// TestResultsElsewhere watches two folders, one after the other, with one folder for results.
func TestResultsElsewhere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		d.opt.Out = t.TempDir()
		d.put("a.png", "a")
		d.once()
		first := d.opt.Dir
		d.opt.Dir = filepath.Join(filepath.Dir(first), "other")
		d.put("a.png", "other")
		d.once()
		d.report("a", "a")
		d.report("a.png", "other")
		d.opt.Dir = first
		d.once()
		d.judged("a.png", 2, "other") // once in each
	})
}
