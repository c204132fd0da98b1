package judging

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/fxamacker/cbor/v2"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/resultcache"
	"peelcheck/preflight"
)

// Two kinds of entry are kept. The reports of a file, before anything in them was accepted, under all that they depend on: the file's
// content, the job, the rules, the page asked for and the bound of pixels. With them stand the sums of their texts, so that a report that
// lies there already is known without writing it out again. And the sums of what was drawn, under the sum of the report that
// it was drawn for and the job: they tell whether what lies there is what would be drawn. Pictures are not kept.

// results are what judging one file gave. They are kept as CBOR (RFC 8949), which is read several times as fast as JSON.
type results struct {
	Pages   int // of the document
	Reports []*preflight.Report
	Texts   []texts // the latest first
}

// texts are the sums of reports, in which nothing was accepted, as they were written for one name of the file.
type texts struct {
	File, FailOn string
	Sums         [][]byte
}

// mostTexts is for how many names of a file the sums are kept: copies of a picture share its results.
const mostTexts = 4

// texts are those of a task of which all reports were written, none if only some were.
func (t *Task) texts(sums [][]byte) []texts {
	if len(sums) == 0 {
		return nil
	}
	return []texts{{filepath.ToSlash(t.Source.Path), t.FailOn, sums}}
}

// resultsKey names the results of a file with that content.
func (b *Bench) resultsKey(sum string, t *Task) (resultcache.Key, error) {
	ids := make([]string, len(b.opt.Rules))
	for i, r := range b.opt.Rules {
		ids[i] = r.ID
	}
	job, err := t.jobSum()
	if err != nil {
		return resultcache.Key{}, err
	}
	return b.opt.Cache.KeyOf("results", sum, job, ids, b.opt.Page, b.opt.MaxPixels)
}

func (b *Bench) picturesKey(report []byte, t *Task) (resultcache.Key, error) {
	job, err := t.jobSum()
	if err != nil {
		return resultcache.Key{}, err
	}
	return b.opt.Cache.KeyOf("pictures", report, job, b.opt.Outputs)
}

// SumOf tells jobs apart: the SHA-256, in hex, of all that is in one.
func SumOf(job *preflight.Job) (string, error) {
	text, err := json.Marshal(job)
	if err != nil {
		return "", fmt.Errorf("judging: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

func (t *Task) jobSum() (string, error) {
	if t.JobSum != "" {
		return t.JobSum, nil
	}
	return SumOf(&t.Job)
}

// accepted is the report as it is shown and written. whole says that nothing in it was accepted.
func (t *Task) accepted(rep *preflight.Report) (out *preflight.Report, whole bool) {
	out = rep
	if t.Accept != nil {
		out = t.Accept(rep)
	}
	whole = out == rep
	if t.FailOn != "" {
		named := *out
		named.FailOn = t.FailOn
		out = &named
	}
	return out, whole
}

// keep keeps the results of a file.
func (b *Bench) keep(sum string, t *Task, r results) {
	if b.opt.Cache == nil {
		return
	}
	if len(r.Texts) > 0 && len(r.Texts[0].Sums) != len(r.Reports) {
		r.Texts = nil
	}
	text, err := cbor.Marshal(r)
	if err == nil {
		var key resultcache.Key
		if key, err = b.resultsKey(sum, t); err == nil {
			err = b.opt.Cache.Put(key, text)
		}
	}
	b.cacheFailed(err)
}

// keepPictures keeps the sums of what was drawn for a report, in the order of Target.pictures.
func (b *Bench) keepPictures(report []byte, t *Task, sums []byte) {
	if b.opt.Cache == nil {
		return
	}
	key, err := b.picturesKey(report, t)
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
	whole := true
	for i, rep := range r.Reports {
		rep.Artwork.File = filepath.ToSlash(t.Source.Path)
		shown, same := t.accepted(rep)
		r.Reports[i], whole = shown, whole && same
	}
	if b.opt.Write {
		stands, err := b.stand(ctx, t, &r, whole)
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
		if sum, err = artfile.Sum(t.Source.At(), b.opt.MaxPixels); err != nil {
			return r, false // opening the file will tell
		}
	}
	key, err := b.resultsKey(sum, t)
	if err != nil {
		return r, false
	}
	text, ok := b.opt.Cache.Get(key)
	if !ok || cbor.Unmarshal(text, &r) != nil || len(r.Reports) == 0 {
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
// missing or is not the one that would be drawn; nothing was written then. whole says that nothing in the reports was accepted.
func (b *Bench) stand(ctx context.Context, t *Task, r *results, whole bool) (ok bool, err error) {
	b.saving.RLock()
	defer b.saving.RUnlock()
	if whole && b.standAsWritten(t, r) {
		return true, nil
	}
	if err := b.spare(t); err != nil {
		return true, err
	}
	texts := make([][]byte, len(r.Reports))
	sums := make([][]byte, len(r.Reports))
	for i, rep := range r.Reports {
		var text bytes.Buffer
		if err := writeReport(&text, rep); err != nil {
			return false, nil
		}
		sum := sha256.Sum256(text.Bytes())
		texts[i], sums[i] = text.Bytes(), sum[:]
		if !b.opt.none() && !(same(r.target(t, i).Report(), texts[i]) && b.picturesStand(t, r, i, sums[i])) {
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
	if whole {
		b.keepTexts(t, r, sums)
	}
	return true, nil
}

// standAsWritten reports whether all lies there as it was written when the results were kept for a file of this name.
func (b *Bench) standAsWritten(t *Task, r *results) bool {
	for _, known := range r.Texts {
		if known.File != filepath.ToSlash(t.Source.Path) || known.FailOn != t.FailOn || len(known.Sums) != len(r.Reports) {
			continue
		}
		for i, want := range known.Sums {
			got, ok := appendSum(nil, r.target(t, i).Report())
			if !ok || !bytes.Equal(got, want) || !b.opt.none() && !b.picturesStand(t, r, i, want) {
				return false
			}
		}
		return true
	}
	return false
}

// keepTexts keeps the sums of the texts for this name of the file too.
func (b *Bench) keepTexts(t *Task, r *results, sums [][]byte) {
	mine := t.texts(sums)[0]
	again := *r
	again.Texts = append([]texts{mine}, slices.DeleteFunc(slices.Clone(r.Texts), func(old texts) bool { return old.File == mine.File && old.FailOn == mine.FailOn })...)
	if len(again.Texts) > len(r.Texts) {
		again.Texts = again.Texts[:min(mostTexts, len(again.Texts))]
		again.Reports = slices.Clone(r.Reports)
		for i, rep := range again.Reports {
			plain := *rep
			plain.FailOn = ""
			again.Reports[i] = &plain
		}
		b.keep(r.Reports[0].Artwork.SHA256, t, again)
	}
}

func (r *results) target(t *Task, i int) Target { return t.To.Page(r.Reports[i].Artwork.Page, r.Pages) }

// picturesStand reports whether what is drawn for a report with that SHA-256 lies there as it would be drawn.
func (b *Bench) picturesStand(t *Task, r *results, i int, report []byte) bool {
	to := r.target(t, i)
	key, err := b.picturesKey(report, t)
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
