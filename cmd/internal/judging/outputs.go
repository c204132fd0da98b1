package judging

import (
	"bytes"
	"context"
	"image"
	"io"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/preflight"
	"peelcheck/preflight/proof"
	"peelcheck/preflight/report"
)

// Outputs are what is written of each artwork beside its report.
type Outputs struct {
	NoProof  bool // no picture of the findings
	HTML     bool // a page for a browser
	ProofPDF bool // a proof at true size
}

// none reports whether nothing has to be drawn.
func (o Outputs) none() bool { return o.NoProof && !o.HTML && !o.ProofPDF }

// savePictures writes what shows the artwork; page is its proof.
func (b *saver) savePictures(ctx context.Context, t *Task, to Target, page *proof.Proof, seen *preflight.Appearance, rep *preflight.Report) error {
	if err := b.saveForScreen(ctx, t, to, page, rep); err != nil || !b.opt.ProofPDF {
		return err
	}
	return b.saveOwn(ctx, to.ProofPDF(), func(w io.Writer) error {
		return proof.WritePDFJudged(w, seen, &t.Job, rep, outfile.PDFStamp)
	})
}

// saveForScreen writes the proof as a picture and the page that holds it.
func (b *saver) saveForScreen(ctx context.Context, t *Task, to Target, page *proof.Proof, rep *preflight.Report) error {
	if !b.opt.HTML {
		if b.opt.NoProof {
			return nil
		}
		return b.saveProof(ctx, to.Proof(), page)
	}
	var png bytes.Buffer
	if err := outfile.EncodePNG(&png, page); err != nil {
		return problem.About(t.Source.Path, err)
	}
	if !b.opt.NoProof {
		if err := b.saveEncoded(ctx, to.Proof(), png.Bytes()); err != nil {
			return err
		}
	}
	return b.SaveFile(ctx, to.HTML(), func(w io.Writer) error {
		return report.HTML(w, report.HTMLPage{Report: rep, Rules: b.opt.Rules, Proof: png.Bytes(), Numbers: page.Numbers(), Words: b.opt.Words})
	})
}

func (b *saver) saveProof(ctx context.Context, path string, m image.Image) error {
	return b.saveOwn(ctx, path, func(w io.Writer) error { return outfile.EncodePNG(w, m) })
}

func (b *saver) saveEncoded(ctx context.Context, path string, data []byte) error {
	return b.saveOwn(ctx, path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// saveOwn writes what this program draws, but not over what could be somebody's artwork.
func (b *saver) saveOwn(ctx context.Context, path string, fill func(io.Writer) error) error {
	if _, err := artfile.Kind(path); err == nil {
		return problem.New(path, "this file was not drawn by peelcheck, so it is not overwritten", "move it away or name another folder with --out")
	}
	return b.SaveFile(ctx, path, fill)
}
