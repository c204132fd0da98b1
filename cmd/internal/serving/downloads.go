package serving

import (
	"bytes"
	"errors"
	"image"
	"image/draw"
	"image/png"
	"io"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"strconv"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/preflight"
	"peelcheck/preflight/prepare"
	"peelcheck/preflight/proof"
	"peelcheck/preflight/report"
)

// target names downloads as check names its files.
func target(u *upload, v *view) judging.Target {
	a := v.report.Artwork
	return judging.TargetOf(u.name, "").Page(a.Page, a.PageCount)
}

// send sends a whole file to be saved under a name.
func send(w http.ResponseWriter, kind, name string, body []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": filepath.Base(name)}))
	w.Header().Set("Content-Length", strconv.Itoa(len(body)))
	w.Write(body)
}

// seen is the view that a request is about; where there is none it answers, and returns nil.
func (s *Server) seen(w http.ResponseWriter, r *http.Request, u *upload, wanted wish) *view {
	v, err := s.view(r.Context(), u, wanted)
	if err != nil {
		s.explain(w, r, err)
		return nil
	}
	return v
}

func (s *Server) reportFile(w http.ResponseWriter, r *http.Request, u *upload) {
	if v := s.seen(w, r, u, readWish(r.URL.Query()).artwork()); v != nil {
		var body bytes.Buffer
		out := report.NewJSON(&body, false)
		if err := errors.Join(out.Add(v.report), out.Close()); err != nil {
			s.explain(w, r, err)
			return
		}
		send(w, "application/json", target(u, v).Report(), body.Bytes())
	}
}

// reportPage is the report as a page that holds its pictures, for a customer.
func (s *Server) reportPage(w http.ResponseWriter, r *http.Request, u *upload) {
	v := s.seen(w, r, u, readWish(r.URL.Query()).artwork())
	if v == nil || !s.mayDraw(r) {
		return
	}
	defer s.drawn()
	var picture, body bytes.Buffer
	drawn := proof.DrawJudged(v.look, &v.job, v.report)
	err := outfile.EncodePNG(&picture, drawn)
	if err == nil {
		err = report.HTML(&body, report.HTMLPage{Report: v.report, Rules: s.opt.Judging.Rules, Proof: picture.Bytes(), Numbers: drawn.Numbers()})
	}
	if err != nil {
		s.explain(w, r, err)
		return
	}
	send(w, "text/html; charset=utf-8", target(u, v).HTML(), body.Bytes())
}

func (s *Server) proofFile(w http.ResponseWriter, r *http.Request, u *upload) {
	v := s.seen(w, r, u, readWish(r.URL.Query()).artwork())
	if v == nil || !s.mayDraw(r) {
		return
	}
	defer s.drawn()
	var body bytes.Buffer
	if err := outfile.EncodePNG(&body, proof.DrawJudged(v.look, &v.job, v.report)); err != nil {
		s.explain(w, r, err)
		return
	}
	send(w, "image/png", target(u, v).Proof(), body.Bytes())
}

func (s *Server) proofAtTrueSize(w http.ResponseWriter, r *http.Request, u *upload) {
	v := s.seen(w, r, u, readWish(r.URL.Query()).artwork())
	if v == nil || !s.mayDraw(r) {
		return
	}
	defer s.drawn()
	var body bytes.Buffer
	if err := proof.WritePDFJudged(&body, v.look, &v.job, v.report, outfile.PDFStamp); err != nil {
		s.explain(w, r, err)
		return
	}
	send(w, "application/pdf", target(u, v).ProofPDF(), body.Bytes())
}

func (s *Server) ticketFile(w http.ResponseWriter, r *http.Request, u *upload) {
	if v := s.seen(w, r, u, readWish(r.URL.Query()).artwork()); v != nil {
		var body bytes.Buffer
		if err := report.Ticket(&body, v.report, false); err != nil {
			s.explain(w, r, err)
			return
		}
		send(w, "text/plain; charset=utf-8", string(target(u, v))+".ticket.txt", body.Bytes())
	}
}

func (s *Server) replyFile(w http.ResponseWriter, r *http.Request, u *upload) {
	if v := s.seen(w, r, u, readWish(r.URL.Query()).artwork()); v != nil {
		send(w, "text/plain; charset=utf-8", string(target(u, v))+".reply.txt", []byte(report.Reply(v.report)))
	}
}

func (s *Server) printFile(w http.ResponseWriter, r *http.Request, u *upload) {
	wanted := readWish(r.URL.Query()).sheet()
	v := s.seen(w, r, u, wanted)
	if v == nil {
		return
	}
	f, err := os.Open(v.print.path)
	if err != nil {
		s.trouble(w, r, http.StatusServiceUnavailable, "The print file has just been cleared away.", "Ask for it again; it is made anew.")
		return
	}
	defer f.Close()
	w.Header().Set("Content-Type", "application/pdf")
	name := judging.TargetOf(u.name, "").Page(wanted.Page, max(wanted.Page, u.summary().pages)).Print() // pages are printed apart
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": filepath.Base(name)}))
	io.Copy(w, f)
}

// Pictures. The artwork is cut into tiles at its own resolution and, for looking at from further off, at a half of it, a quarter and so on.

const (
	tilePx     = 512
	mostLevels = 16
	wholePx    = 1200
)

// mayDraw waits until something may be drawn; false means that nobody waits for it, or not any more.
func (s *Server) mayDraw(r *http.Request) bool {
	if r.Method == http.MethodHead { // the page asks whether it can be had
		return false
	}
	select {
	case s.drawing <- struct{}{}:
		return true
	case <-r.Context().Done():
		return false
	}
}

func (s *Server) drawn() { <-s.drawing }

// layers are what may be looked at.
var layers = []struct{ id, title string }{
	{"look", "On the garment"},
	{"white", "What prints white"},
	{"colour", "What prints in colour"},
	{"lost", "White that is lost, chequered"},
}

// picture draws a part of a layer, where all of it is scaled to whole pixels.
func (v *view) picture(layer string, whole image.Point, part image.Rectangle) image.Image {
	switch layer {
	case "look":
		look, _ := v.look.Preview(whole, part)
		return look
	case "lost":
		look, _ := v.look.Preview(whole, part)
		for _, box := range v.lost() {
			v.look.MarkLost(look, whole, box)
		}
		return look
	case "white":
		_, white := v.look.Preview(whole, part)
		return white
	case "colour":
		look, _ := v.colour.Preview(whole, part)
		return look
	}
	return nil
}

// has reports whether there is anything to be seen of a layer.
func (v *view) has(layer string) bool {
	switch layer {
	case "colour":
		return hasColour(v.job.Process)
	case "lost":
		return v.look.HasLost() && len(v.lost()) > 0
	}
	return true
}

// lost are the places of the artwork whose white will stay unprinted.
func (v *view) lost() (boxes []image.Rectangle) {
	for _, f := range v.report.Findings {
		if b := f.BoxPx; f.Rule == prepare.LostWhite {
			boxes = append(boxes, image.Rect(b.X, b.Y, b.X+b.W, b.Y+b.H))
		}
	}
	return boxes
}

// tile draws a tile of a layer; at level n a pixel stands for 2^n of the artwork.
func (s *Server) tile(w http.ResponseWriter, r *http.Request, u *upload) {
	level, err1 := strconv.Atoi(r.PathValue("level"))
	x, err2 := strconv.Atoi(r.PathValue("x"))
	y, err3 := strconv.Atoi(r.PathValue("y"))
	if errors.Join(err1, err2, err3) != nil || level < 0 || level > mostLevels || x < 0 || y < 0 || x > 1<<20 || y > 1<<20 {
		http.NotFound(w, r)
		return
	}
	v := s.seen(w, r, u, readWish(r.URL.Query()))
	if v == nil || !s.mayDraw(r) {
		return
	}
	defer s.drawn()
	size := v.look.Size()
	whole := image.Pt(max(1, (size.X+1<<level-1)>>level), max(1, (size.Y+1<<level-1)>>level))
	part := image.Rect(x*tilePx, y*tilePx, (x+1)*tilePx, (y+1)*tilePx).Intersect(image.Rectangle{Max: whole})
	if part.Empty() {
		http.NotFound(w, r)
		return
	}
	m := v.picture(r.PathValue("layer"), whole, part)
	if m == nil {
		http.NotFound(w, r)
		return
	}
	full := image.NewNRGBA(image.Rect(0, 0, tilePx, tilePx))
	draw.Draw(full, image.Rectangle{Max: part.Size()}, m, part.Min, draw.Src)
	sendPicture(w, full)
}

// whole draws a layer in one piece, for browsers without script.
func (s *Server) whole(w http.ResponseWriter, r *http.Request, u *upload) {
	v := s.seen(w, r, u, readWish(r.URL.Query()))
	if v == nil || !s.mayDraw(r) {
		return
	}
	defer s.drawn()
	size := v.look.Size()
	scale := min(1, wholePx/float64(max(size.X, size.Y)))
	whole := image.Pt(max(1, int(float64(size.X)*scale)), max(1, int(float64(size.Y)*scale)))
	sendPicture(w, v.picture("look", whole, image.Rectangle{Max: whole}))
}

// sendPicture packs quickly: the way to the browser is short.
func sendPicture(w http.ResponseWriter, m image.Image) {
	w.Header().Set("Content-Type", "image/png")
	packer := png.Encoder{CompressionLevel: png.BestSpeed}
	packer.Encode(w, m)
}

// hasColour reports whether a process prints anything but white.
func hasColour(p *preflight.Process) bool { return p.WhiteSource != preflight.WhiteOnly }
