package serving

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"strconv"
	"strings"
	"time"

	"peelcheck/preflight/report"
)

// mostFiles bounds the files of one form.
const mostFiles = 100

// longestPause is how long a browser may send nothing of an upload.
const longestPause = 30 * time.Second

// taken is what became of one file of a form, as the page's script reads it.
type taken struct {
	Name    string `json:"name"`
	Href    string `json:"href,omitempty"`    // its page, empty where the file was not kept
	Verdict string `json:"verdict,omitempty"` // empty where it was not judged
	Words   string `json:"words"`             // what became of it, for a person
	Busy    bool   `json:"busy,omitempty"`    // it is kept, and can be judged later
}

// formBytes is more than a form takes round its files.
const formBytes = 1 << 20

// mostOf is the most bytes that a request may announce: the script sends one file at a time, a form without it many.
func (s *Server) mostOf(r *http.Request) int64 {
	if byScript(r) {
		return s.opt.MaxUpload + formBytes
	}
	return uploadsKept*s.opt.MaxUpload + formBytes
}

// byScript reports whether the page's script asks, which reads JSON.
func byScript(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

// refuse answers a request that is too large by its own word, before any of it is read.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Connection", "close")
	if byScript(r) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(http.StatusRequestEntityTooLarge)
		json.NewEncoder(w).Encode([]taken{{Words: s.tooLargeWords()}})
		return
	}
	s.trouble(w, r, http.StatusRequestEntityTooLarge, "This is more than is taken at once: "+byteWords(r.ContentLength)+".", "Send the files one by one, each of "+byteWords(s.opt.MaxUpload)+" at most.")
}

// tooLargeWords say of a file that is refused for its size what to do.
func (s *Server) tooLargeWords() string {
	return upperFirst((&tooLarge{s.opt.MaxUpload}).Error()) + ". Ask for a smaller one, or start peelcheck serve with a larger --max-upload."
}

// take keeps the files of a form and judges each. A browser without script is sent on to what it dropped.
func (s *Server) take(w http.ResponseWriter, r *http.Request) {
	began := time.Now()
	if r.ContentLength > s.mostOf(r) {
		s.refuse(w, r)
		return
	}
	form, err := r.MultipartReader()
	if err != nil {
		s.trouble(w, r, http.StatusBadRequest, "No file came with this form.", "Go back, choose one or more files, and send them again.")
		return
	}
	uploads, list, err := s.keepAll(w, r, form)
	if err != nil {
		s.trouble(w, r, http.StatusBadRequest, "The upload broke off before it was complete.", "Send the file again.")
		return
	}
	received := time.Since(began)
	for i, u := range uploads {
		if u != nil {
			list[i] = s.judgeTaken(r, u)
		}
	}
	w.Header().Set("Server-Timing", fmt.Sprintf("upload;dur=%.1f, judge;dur=%.1f", ms(received), ms(time.Since(began)-received)))
	s.answerTaken(w, r, list)
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// keepAll streams the files of a form to the disk. Where a file was refused, list says why and uploads has nil.
func (s *Server) keepAll(w http.ResponseWriter, r *http.Request, form *multipart.Reader) (uploads []*upload, list []taken, err error) {
	clock := http.NewResponseController(w)
	defer clock.SetReadDeadline(time.Time{})
	for len(uploads) < mostFiles {
		clock.SetReadDeadline(time.Now().Add(longestPause))
		part, err := form.NextPart()
		if err == io.EOF {
			return uploads, list, nil
		}
		if err != nil {
			return nil, nil, err
		}
		if part.FormName() != "artwork" || part.FileName() == "" {
			continue // an empty field, or one of the form's own
		}
		u, err := s.store.add(part.FileName(), &patient{part, clock}, s.opt.MaxUpload)
		var large *tooLarge
		switch {
		case errors.As(err, &large):
			list = append(list, taken{Name: shownName(part.FileName()), Words: s.tooLargeWords()})
			if _, err := io.Copy(io.Discard, io.LimitReader(&patient{part, clock}, 9*s.opt.MaxUpload)); err != nil {
				return nil, nil, err
			}
		case err != nil:
			return nil, nil, err
		default:
			list = append(list, taken{Name: u.name})
		}
		uploads = append(uploads, u)
	}
	return uploads, list, nil
}

// patient reads as long as something arrives.
type patient struct {
	r     io.Reader
	clock *http.ResponseController
}

func (p *patient) Read(b []byte) (int, error) {
	p.clock.SetReadDeadline(time.Now().Add(longestPause))
	return p.r.Read(b)
}

func (s *Server) judgeTaken(r *http.Request, u *upload) taken {
	t := taken{Name: u.name, Href: "/a/" + u.id}
	v, err := s.view(r.Context(), u, wish{Page: 1})
	switch {
	case errors.Is(err, errBusy):
		t.Words, t.Busy = s.busyWords(), true
	case err != nil:
		t.Words = plainly(withoutName(err, u.name))
	default:
		t.Verdict, t.Words = string(v.report.Verdict), verdictWord(v.report.Verdict)+": "+report.Says(v.report.Verdict)
		if n := v.report.Artwork.PageCount; n > 1 {
			t.Words = fmt.Sprintf("page 1 of %d is %s; the others are judged next", n, verdictWord(v.report.Verdict))
		}
	}
	return t
}

func (s *Server) answerTaken(w http.ResponseWriter, r *http.Request, list []taken) {
	status := http.StatusOK
	for _, t := range list {
		if t.Busy {
			status = http.StatusServiceUnavailable
			w.Header().Set("Retry-After", strconv.Itoa(s.retryAfter))
		}
	}
	if byScript(r) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		json.NewEncoder(w).Encode(list)
		return
	}
	switch {
	case len(list) == 0:
		s.trouble(w, r, http.StatusBadRequest, "No file came with this form.", "Go back, choose one or more files, and send them again.")
	case len(list) == 1 && list[0].Href == "":
		s.trouble(w, r, http.StatusRequestEntityTooLarge, list[0].Name+" was not taken.", list[0].Words)
	case len(list) == 1:
		http.Redirect(w, r, list[0].Href, http.StatusSeeOther)
	case refused(list) != "":
		s.trouble(w, r, http.StatusRequestEntityTooLarge, "Some files were not taken: "+refused(list)+".", "The others are in the list. Send those that were not taken again, in a smaller size.")
	default:
		http.Redirect(w, r, "/", http.StatusSeeOther)
	}
}

// refused names the files that were not kept.
func refused(list []taken) string {
	var names []string
	for _, t := range list {
		if t.Href == "" {
			names = append(names, t.Name)
		}
	}
	return strings.Join(names, ", ")
}

func (s *Server) remove(w http.ResponseWriter, r *http.Request, u *upload) {
	s.store.remove(u.id)
	http.Redirect(w, r, "/?order="+orderOf(r.PostFormValue("order")), http.StatusSeeOther)
}
