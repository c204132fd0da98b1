package serving

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
)

// wish is what a page asks for: how an artwork is to be judged, and what is to be seen of it. It lives in the page's address.
type wish struct {
	Width, Process, Sheet, Garment, Fabric, Place string
	DrawnAs                                       string // the colour that stands for white in the artwork
	Drop                                          bool   // a flat background is taken out
	Page                                          int

	Sheets            bool // the printed sheet rather than the artwork
	Fill              bool // of copies, rather than one
	Thicken, KnockOut bool
}

// mostWordBytes is longer than anything that may be asked for.
const mostWordBytes = 100

// readWish reads a page's address. A width, or what stands for white, that the form showed and nobody changed is not asked for; what hangs on a
// process is let go when another process is chosen.
func readWish(q url.Values) wish {
	word := func(key string) string {
		s := strings.TrimSpace(q.Get(key))
		if len(s) > mostWordBytes || !utf8.ValidString(s) {
			return "?"
		}
		return s
	}
	w := wish{
		Width: word("width"), Process: word("process"), Sheet: word("sheet"), Garment: word("garment"), Fabric: word("fabric"), Place: word("place"),
		DrawnAs: word("white-drawn-as"),
		Drop:    q.Has("drop"), Page: 1, Sheets: q.Get("view") == "sheet", Fill: q.Get("copies") == "fill",
		Thicken: q.Has("thicken"), KnockOut: q.Has("knock-out"),
	}
	if w.Width == word("taken") {
		w.Width = ""
	}
	if w.DrawnAs == word("drawn-taken") {
		w.DrawnAs = ""
	}
	if of := word("of"); of != "" && of != w.Process {
		w.Fabric = ""
	}
	if n, err := strconv.Atoi(q.Get("page")); err == nil && n > 1 {
		w.Page = n
	}
	return w
}

// query is the wish as a part of an address: the same wish, the same text.
func (w wish) query() string {
	q := url.Values{}
	for key, word := range map[string]string{
		"width": w.Width, "process": w.Process, "sheet": w.Sheet, "garment": w.Garment, "fabric": w.Fabric, "place": w.Place, "white-drawn-as": w.DrawnAs,
	} {
		if word != "" {
			q.Set(key, word)
		}
	}
	for key, on := range map[string]bool{"drop": w.Drop, "thicken": w.Thicken, "knock-out": w.KnockOut} {
		if on {
			q.Set(key, "1")
		}
	}
	if w.Page > 1 {
		q.Set("page", strconv.Itoa(w.Page))
	}
	if w.Fill {
		q.Set("copies", "fill")
	}
	if w.Sheets {
		q.Set("view", "sheet")
	}
	return q.Encode()
}

// without is the wish without what one field asked for.
func (w wish) without(field string) wish {
	switch field {
	case "width":
		w.Width = ""
	case "garment":
		w.Garment = ""
	case "sheet":
		w.Sheet = ""
	case "fabric":
		w.Fabric = ""
	case "process":
		w.Process = ""
	case "place":
		w.Place = ""
	case "white-drawn-as":
		w.DrawnAs = ""
	}
	return w
}

// artwork is the wish for the artwork itself, sheet that for what will be printed of it.
func (w wish) artwork() wish { w.Sheets = false; return w }
func (w wish) sheet() wish   { w.Sheets = true; return w }

// document is the wish for all pages of the artwork alike.
func (w wish) document() wish {
	w = w.artwork().judgedAlike()
	w.Page = 0
	return w
}

// ofPage is the wish for another page of the same document.
func (w wish) ofPage(n int) wish { w.Page = n; return w }

// judgedAlike is the wish without what does not matter to judging.
func (w wish) judgedAlike() wish {
	if !w.Sheets {
		w.Fill, w.Thicken, w.KnockOut = false, false, false
	}
	return w
}

// fieldError is something that was asked for and cannot be.
type fieldError struct{ field, text string }

func (e *fieldError) Error() string { return e.text }

// job puts the job together as check does from its flags.
func (w wish) job(asked setup.Asked, shop *preflight.ShopConfig) (preflight.Job, error) {
	if w.Width != "" {
		width, err := preflight.ParseLength(w.Width)
		if err == nil && width <= 0 {
			err = fmt.Errorf("the printed width must be more than zero, as 200 for 200 mm, not %q", w.Width)
		}
		if err != nil {
			return preflight.Job{}, &fieldError{"width", err.Error()}
		}
		asked.Width, asked.Height, asked.PPI = width, 0, 0
	}
	asked.Sheet, asked.Garment = setup.First(w.Sheet, asked.Sheet), setup.First(w.Garment, asked.Garment)
	asked.Place, asked.DrawnAs = setup.First(w.Place, asked.Place), setup.First(w.DrawnAs, asked.DrawnAs)
	if w.Drop {
		asked.Background = preflight.BackgroundDrop
	}
	asked.Process = setup.First(w.Process, asked.Process)
	process, err := asked.ChosenProcess(shop)
	if err != nil {
		return preflight.Job{}, &fieldError{"process", err.Error()}
	}
	asked.Fabric = setup.First(w.Fabric, asked.Fabric, shop.Fabric)
	if _, err := process.FabricByName(asked.Fabric); err != nil && w.Fabric == "" { // what the shop prefers may belong to another process
		asked.Fabric = process.DefaultFabric()
	}
	job, err := asked.Job(shop)
	if err != nil {
		return job, fieldOf(err)
	}
	return job, nil
}

// fieldOf tells which field of the page an error of the job is about.
func fieldOf(err error) error {
	text := err.Error()
	for _, field := range []string{"white-drawn-as", "garment", "sheet", "fabric", "place"} {
		if rest, ok := strings.CutPrefix(text, "--"+field+": "); ok {
			return &fieldError{field, rest}
		}
		if strings.Contains(text, field) {
			return &fieldError{field, text}
		}
	}
	return err
}
