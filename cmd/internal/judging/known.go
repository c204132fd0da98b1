package judging

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"io"
	"os"
	"path/filepath"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/resultcache"
	"peelcheck/preflight"
)

// Two kinds of entry are kept. The reports of a file, before anything in them was accepted, under all that they depend on: the file's
// content, the job, the rules, the page asked for and the bound of pixels. And the sums of what was drawn, under the sum of the report that
// it was drawn for and the job: they tell whether what lies there is what would be drawn. Pictures are not kept.

// results are what judging one file gave.
type results struct {
	Pages   int // of the document
	Reports []*preflight.Report
}

// resultsKey names the results of a file with that content.
func (b *Bench) resultsKey(sum string, job *preflight.Job) (resultcache.Key, error) {
	ids := make([]string, len(b.opt.Rules))
	for i, r := range b.opt.Rules {
		ids[i] = r.ID
	}
	return b.opt.Cache.KeyOf("results", sum, job, ids, b.opt.Page, b.opt.MaxPixels)
}

func (b *Bench) picturesKey(report []byte, job *preflight.Job) (resultcache.Key, error) {
	return b.opt.Cache.KeyOf("pictures", report, job, b.opt.Outputs)
}

func (t *Task) accepted(rep *preflight.Report) *preflight.Report {
	if t.Accept == nil {
		return rep
	}
	return t.Accept(rep)
}

// keep keeps the results of a file.
func (b *Bench) keep(sum string, t *Task, r results) {
	if b.opt.Cache == nil {
		return
	}
	text, err := json.Marshal(r)
	if err == nil {
		var key resultcache.Key
		if key, err = b.resultsKey(sum, &t.Job); err == nil {
			err = b.opt.Cache.Put(key, text)
		}
	}
	b.cacheFailed(err)
}

// keepPictures keeps the sums of what was drawn for a report, in the order of Target.pictures.
func (b *Bench) keepPictures(report []byte, job *preflight.Job, sums []byte) {
	if b.opt.Cache == nil {
		return
	}
	key, err := b.picturesKey(report, job)
	if err == nil {
		err = b.opt.Cache.Put(key, sums)
	}
	b.cacheFailed(err)
}

func (b *Bench) cacheFailed(err error) {
	if err != nil && b.opt.OnCacheFail != nil {
		b.opt.OnCacheFail(err)
	}
}

// known fills the outcome from what an earlier run found in the same content, if that is kept and nothing has to be drawn.
func (b *Bench) known(ctx context.Context, t *Task, o *Outcome) bool {
	if b.opt.Cache == nil {
		return false
	}
	r, ok := b.lookUp(t)
	if !ok {
		return false
	}
	for i, rep := range r.Reports {
		rep.Artwork.File = filepath.ToSlash(t.Source.Path)
		r.Reports[i] = t.accepted(rep)
	}
	if b.opt.Write {
		stands, err := b.stand(ctx, t, &r)
		if !stands {
			return false
		}
		if err != nil {
			o.Problems = append(o.Problems, err)
		} else {
			o.Written = len(r.Reports)
		}
	}
	o.Pages, o.Reports = r.Pages, r.Reports
	return true
}

func (b *Bench) lookUp(t *Task) (r results, ok bool) {
	sum := t.Sum
	if sum == "" {
		var err error
		if sum, err = artfile.Sum(t.Source.Path, b.opt.MaxPixels); err != nil {
			return r, false // opening the file will tell
		}
	}
	key, err := b.resultsKey(sum, &t.Job)
	if err != nil {
		return r, false
	}
	text, ok := b.opt.Cache.Get(key)
	if !ok || json.Unmarshal(text, &r) != nil || len(r.Reports) == 0 {
		return r, false
	}
	for _, rep := range r.Reports {
		if rep == nil || rep.Artwork.SHA256 != sum {
			return r, false
		}
	}
	return r, true
}

// stand makes the files written before stand for these results: reports are written where they differ. It reports false if a picture is
// missing or is not the one that would be drawn; nothing was written then.
func (b *Bench) stand(ctx context.Context, t *Task, r *results) (ok bool, err error) {
	b.saving.RLock()
	defer b.saving.RUnlock()
	texts := make([][]byte, len(r.Reports))
	for i, rep := range r.Reports {
		var text bytes.Buffer
		if err := writeReport(&text, rep); err != nil {
			return false, nil
		}
		texts[i] = text.Bytes()
		if !b.opt.none() && !b.picturesStand(t, r, i, texts[i]) {
			return false, nil
		}
	}
	for i, text := range texts {
		path := r.target(t, i).Report()
		if same(path, text) {
			continue
		}
		if err := b.SaveFile(ctx, path, func(w io.Writer) error { _, err := w.Write(text); return err }); err != nil {
			if ctx.Err() != nil {
				return true, nil
			}
			return true, problem.About(path, err)
		}
	}
	return true, nil
}

func (r *results) target(t *Task, i int) Target { return t.To.Page(r.Reports[i].Artwork.Page, r.Pages) }

// picturesStand reports whether the report and what is drawn for it lie there as they would be written.
func (b *Bench) picturesStand(t *Task, r *results, i int, text []byte) bool {
	to := r.target(t, i)
	if !same(to.Report(), text) {
		return false
	}
	sum := sha256.Sum256(text)
	key, err := b.picturesKey(sum[:], &t.Job)
	if err != nil {
		return false
	}
	want, ok := b.opt.Cache.Get(key)
	if !ok {
		return false
	}
	var got []byte
	for _, path := range to.pictures(b.opt.Outputs) {
		if got, ok = appendSum(got, path); !ok {
			return false
		}
	}
	return bytes.Equal(got, want)
}

// pictures are the files that Outputs asks for beside the report, in the order in which they are written.
func (t Target) pictures(o Outputs) (list []string) {
	if !o.NoProof {
		list = append(list, t.Proof())
	}
	if o.HTML {
		list = append(list, t.HTML())
	}
	if o.ProofPDF {
		list = append(list, t.ProofPDF())
	}
	return list
}

func appendSum(to []byte, path string) ([]byte, bool) {
	f, err := os.Open(path)
	if err != nil {
		return to, false
	}
	defer f.Close()
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return sum.Sum(to), err == nil
}

// same reports whether a file holds exactly the text.
func same(path string, text []byte) bool {
	info, err := os.Lstat(path)
	if err != nil || info.Size() != int64(len(text)) || !info.Mode().IsRegular() {
		return false
	}
	data, err := os.ReadFile(path)
	return err == nil && bytes.Equal(data, text)
}
