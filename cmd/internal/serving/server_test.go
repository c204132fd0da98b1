package serving

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"image"
	"image/color"
	"image/png"
	"io"
	"io/fs"
	"mime/multipart"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"peelcheck/cmd/internal/drawing"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// moth is small artwork: 20 x 10 mm at 300 pixels an inch, black on nothing, with a line 0.17 mm wide.
func moth(t testing.TB) []byte {
	t.Helper()
	m := image.NewNRGBA(image.Rect(0, 0, 236, 118))
	for y := 20; y < 100; y++ {
		for x := 20; x < 100; x++ {
			m.SetNRGBA(x, y, color.NRGBA{A: 255})
		}
		for x := 150; x < 152; x++ {
			m.SetNRGBA(x, y, color.NRGBA{A: 255})
		}
	}
	var b bytes.Buffer
	if err := drawing.WritePNG(&b, m, 300); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// sent is a file of a form.
type sent struct {
	name string
	data []byte
}

func formOf(t testing.TB, files ...sent) (body *bytes.Buffer, kind string) {
	t.Helper()
	body = new(bytes.Buffer)
	form := multipart.NewWriter(body)
	for _, f := range files {
		part, err := form.CreateFormFile("artwork", f.name)
		if err != nil {
			t.Fatal(err)
		}
		part.Write(f.data)
	}
	form.Close()
	return body, form.FormDataContentType()
}

// noRedirects shows a redirect instead of following it.
var noRedirects = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

// answer is what came back.
type answer struct {
	*http.Response
	body string
}

func do(t testing.TB, r *http.Request) answer {
	t.Helper()
	resp, err := noRedirects.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer{resp, string(body)}
}

func fetch(t testing.TB, url string) answer {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	return do(t, r)
}

// post sends files as a form; change may alter the request.
func post(t testing.TB, url string, change func(*http.Request), files ...sent) answer {
	t.Helper()
	body, kind := formOf(t, files...)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, url+"/uploads", body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	if change != nil {
		change(r)
	}
	return do(t, r)
}

func asScript(r *http.Request) { r.Header.Set("Accept", "application/json") }

// dropped sends files as the page's script does, and returns what became of them.
func dropped(t testing.TB, url string, files ...sent) (list []taken, a answer) {
	t.Helper()
	a = post(t, url, asScript, files...)
	if err := json.Unmarshal([]byte(a.body), &list); err != nil {
		t.Fatalf("%v: %s", err, a.body)
	}
	return list, a
}

func (a answer) want(t testing.TB, status int, words ...string) {
	t.Helper()
	if a.StatusCode != status {
		t.Errorf("%s %s: status %d, want %d: %s", a.Request.Method, a.Request.URL, a.StatusCode, status, a.body[:min(300, len(a.body))])
	}
	for _, w := range words {
		if !strings.Contains(a.body, w) {
			t.Errorf("%s %s: %q is not in: %s", a.Request.Method, a.Request.URL, w, a.body[:min(2000, len(a.body))])
		}
	}
}

func TestHosts(t *testing.T) {
	home := guard{port: "8417", loopback: true, machine: "counter"}
	shop := guard{port: "8417", machine: "counter"}
	for host, want := range map[string][2]bool{ // of home, of shop
		"127.0.0.1:8417": {true, true}, "localhost:8417": {true, true}, "LOCALHOST:8417": {true, true}, "[::1]:8417": {true, true}, "127.8.9.1:8417": {true, true},
		"192.168.1.20:8417": {false, true}, "[fe80::1]:8417": {false, true}, "counter:8417": {false, true}, "counter.local:8417": {false, true},
		"127.0.0.1": {}, "127.0.0.1:80": {}, "localhost": {}, "evil.example:8417": {}, "127.0.0.1.evil.example:8417": {}, "localhost.evil.example:8417": {},
		"": {}, ":8417": {}, "evil.example": {}, "counter.evil.example:8417": {}, "0x7f000001:8417": {}, "127.1:8417": {},
	} {
		if got := [2]bool{home.allows(host), shop.allows(host)}; got != want {
			t.Errorf("%q: allowed %v, want %v", host, got, want)
		}
	}
	if g := newGuard(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 99}); !g.loopback || g.port != "99" {
		t.Errorf("guard of a loopback address is %+v", g)
	}
	if IsLoopback(&net.TCPAddr{IP: net.IPv4zero, Port: 99}) || IsLoopback(&net.TCPAddr{IP: net.IPv6unspecified, Port: 99}) {
		t.Error("an address that others reach counts as this machine's own")
	}
}

func TestStrangersAreRefused(t *testing.T) {
	server, url := start(t, Options{})
	r, _ := http.NewRequestWithContext(t.Context(), http.MethodGet, url+"/", nil)
	r.Host = "evil.example:" + strings.TrimPrefix(url, "http://127.0.0.1:")
	do(t, r).want(t, http.StatusForbidden, "answers only under its own address")
	for name, change := range map[string]func(*http.Request){
		"origin":           func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") },
		"origin null":      func(r *http.Request) { r.Header.Set("Origin", "null") },
		"another port":     func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") },
		"fetched by other": func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
		"same site only":   func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") },
	} {
		t.Run(name, func(t *testing.T) {
			post(t, url, change, sent{"moth.png", moth(t)}).want(t, http.StatusForbidden, "sent by another site")
		})
	}
	if n := len(server.store.all()); n != 0 {
		t.Errorf("%d files of strangers were kept", n)
	}
	post(t, url, func(r *http.Request) { r.Header.Set("Origin", url) }, sent{"moth.png", moth(t)}).want(t, http.StatusSeeOther)
}

// What a page may hold: nothing that runs or styles inline, so that its policy can forbid it.
var inline = regexp.MustCompile(`(?i)<script(?: defer)?>|<style|\sstyle=|\son[a-z]+=|javascript:`)

func TestPagesAreTight(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{"moth.png", moth(t)}, sent{"poem.txt", []byte("no artwork")})
	for _, path := range []string{"/", list[0].Href, list[1].Href, list[0].Href + "?view=sheet", list[0].Href + "?width=many", "/nothing", "/assets/page.js"} {
		a := fetch(t, url+path)
		for key, want := range map[string]string{"Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff", "Cross-Origin-Resource-Policy": "same-origin", "Cache-Control": "no-store"} {
			if got := a.Header.Get(key); got != want {
				t.Errorf("%s: %s is %q, want %q", path, key, got, want)
			}
		}
		if found := inline.FindString(a.body); found != "" && strings.HasPrefix(a.Header.Get("Content-Type"), "text/html") {
			t.Errorf("%s holds %q", path, found)
		}
	}
	if strings.Contains(policy, "unsafe") {
		t.Errorf("the policy allows what is unsafe: %s", policy)
	}
}

// A browser without script sends the form, is led to the page, and finds verdict, list and picture there.
func TestWithoutScript(t *testing.T) {
	_, url := start(t, Options{})
	a := post(t, url, nil, sent{"moth.png", moth(t)})
	a.want(t, http.StatusSeeOther)
	page := fetch(t, url+a.Header.Get("Location"))
	page.want(t, http.StatusOK, "<strong>HOLD</strong>", "Line too thin to hold", "<noscript><img", "Cautions", "Judge again")
	src := regexp.MustCompile(`<noscript><img class="still" src="([^"]+)"`).FindStringSubmatch(page.body)
	if src == nil {
		t.Fatal("no picture for browsers without script")
	}
	if proof := fetch(t, url+src[1]); !outfile.Stamped([]byte(proof.body)) {
		t.Error("the still picture is not the proof")
	}
	sheet := fetch(t, url+a.Header.Get("Location")+"/whole.png?view=sheet")
	if m, err := png.Decode(strings.NewReader(sheet.body)); err != nil || m.Bounds().Dy() != wholePx {
		t.Errorf("the still picture of the sheet: %v", err)
	}
	post(t, url, nil, sent{"a.png", moth(t)}, sent{"b.png", moth(t)}).want(t, http.StatusSeeOther)
	fetch(t, url+"/").want(t, http.StatusOK, "a.png", "b.png", "HOLD")
	post(t, url, nil).want(t, http.StatusBadRequest, "No file came")
	r, _ := http.NewRequestWithContext(t.Context(), http.MethodPost, url+a.Header.Get("Location")+"/remove", nil)
	do(t, r).want(t, http.StatusSeeOther)
	fetch(t, url+a.Header.Get("Location")).want(t, http.StatusNotFound, "nothing here")
}

func TestLimitOfUploads(t *testing.T) {
	art := moth(t)
	server, url := start(t, Options{MaxUpload: int64(len(art))})
	list, _ := dropped(t, url, sent{"large.png", append(art, 0)}, sent{"moth.png", art})
	if list[0].Href != "" || !strings.Contains(list[0].Words, "larger than") {
		t.Errorf("a file one byte too large: %+v", list[0])
	}
	if list[1].Verdict != "hold" {
		t.Errorf("the file after it, of just the size: %+v", list[1])
	}
	post(t, url, nil, sent{"large.png", append(art, 0)}).want(t, http.StatusRequestEntityTooLarge, "large.png was not taken", "larger than")
	if found := uploadsOnDisk(t, server); len(found) != 1 {
		t.Errorf("on the disk lie %v, want the one that was taken", found)
	}
}

// What says itself that it is larger than anything taken is refused before it is sent: nothing follows the head here, and the answer comes.
func TestAnnouncedSizeIsRefused(t *testing.T) {
	server, url := start(t, Options{MaxUpload: 5e6})
	for accept, want := range map[string]string{"application/json": "larger than 5 MB", "text/html": "Send the files one by one"} {
		wire, err := net.Dial("tcp", strings.TrimPrefix(url, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		defer wire.Close()
		wire.SetDeadline(time.Now().Add(10 * time.Second))
		fmt.Fprintf(wire, "POST /uploads HTTP/1.1\r\nHost: %s\r\nAccept: %s\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: 320000000\r\n\r\n", strings.TrimPrefix(url, "http://"), accept)
		got, _ := io.ReadAll(wire)
		if !strings.HasPrefix(string(got), "HTTP/1.1 413 ") || !strings.Contains(string(got), want) {
			t.Errorf("%s: %s", accept, got)
		}
	}
	if found := uploadsOnDisk(t, server); len(found) != 0 {
		t.Errorf("on the disk lie %v", found)
	}
}

func uploadsOnDisk(t testing.TB, s *Server) []string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(s.store.dir, "*", "artwork"))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

func TestBrokenUploadLeavesNothing(t *testing.T) {
	server, url := start(t, Options{})
	body, kind := formOf(t, sent{"moth.png", moth(t)})
	r, _ := http.NewRequestWithContext(t.Context(), http.MethodPost, url+"/uploads", bytes.NewReader(body.Bytes()[:body.Len()-100]))
	r.Header.Set("Content-Type", kind)
	do(t, r).want(t, http.StatusBadRequest, "broke off")
	if found := uploadsOnDisk(t, server); len(found) != 0 {
		t.Errorf("a broken upload left %v", found)
	}
}

func TestQueueBounds(t *testing.T) {
	q := newQueue(2, 3)
	var mu sync.Mutex
	var now, most, refused int
	var all sync.WaitGroup
	hold := make(chan struct{})
	for range 20 {
		all.Go(func() {
			leave, err := q.enter(t.Context())
			mu.Lock()
			if err != nil {
				if refused++; refused == 15 {
					close(hold) // all that found a place have it
				}
				mu.Unlock()
				return
			}
			now++
			most = max(most, now)
			mu.Unlock()
			<-hold
			mu.Lock()
			now--
			mu.Unlock()
			leave()
		})
	}
	all.Wait()
	if most != 2 || refused != 15 {
		t.Errorf("%d at once and %d refused, want 2 and 15", most, refused)
	}
}

func TestFullQueue(t *testing.T) {
	server, url := start(t, Options{AtOnce: 1, Waiting: 1})
	release := server.fillQueue(t)
	list, a := dropped(t, url, sent{"moth.png", moth(t)})
	a.want(t, http.StatusServiceUnavailable)
	if wait, err := strconv.Atoi(a.Header.Get("Retry-After")); err != nil || wait < 1 {
		t.Errorf("Retry-After is %q", a.Header.Get("Retry-After"))
	}
	if !list[0].Busy || list[0].Href == "" || !strings.Contains(list[0].Words, "Too much is being judged at once") {
		t.Errorf("%+v", list[0])
	}
	page := fetch(t, url+list[0].Href)
	page.want(t, http.StatusServiceUnavailable, "Please wait", "Too much is being judged at once", "Try again")
	if page.Header.Get("Retry-After") == "" {
		t.Error("the page has no Retry-After")
	}
	fetch(t, url+"/").want(t, http.StatusOK, "NOT JUDGED YET")
	release()
	fetch(t, url+list[0].Href).want(t, http.StatusOK, "<strong>HOLD</strong>")
}

func TestJobChanges(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{"moth.png", moth(t)})
	at := url + list[0].Href
	tests := []struct {
		query, page, report string
	}{
		{"", `value="20"`, `"ppi_from": "pHYs"`},
		{"?width=20&taken=20", `value="20"`, `"ppi_from": "pHYs"`}, // shown, and not changed
		{"?width=100", "50 mm high", `"width_mm": 100`},
		{"?width=4in", "50.8 mm high", `"width_mm": 101.6`},
		{"?width=95,9", `value="95,9"`, `"width_mm": 95.9`},
		{"?garment=navy", `fill="#000080"`, `"garment": "navy"`},
		{"?process=toner-underbase&of=toner-white-for-black&fabric=nothing", `value="toner-underbase" selected`, `"process": "toner-underbase"`},
		{"?white-drawn-as=white", `<option value="white" selected>White`, `"white_drawn_as": "white"`},
		{"?white-drawn-as=black&drawn-taken=black&process=toner-underbase&of=toner-white-for-black", `<option value="white" selected>White`, `"white_drawn_as": "white"`},
		{"?white-drawn-as=black&process=toner-underbase&of=toner-white-for-black", `<option value="black" selected>Black`, `"white_drawn_as": "black"`}, // chosen by hand
		{"?process=toner-underbase", `<input type="hidden" name="drawn-taken" value="white">`, `"white_drawn_as": "white"`},
		{"", "Black goes with the process and changes with it; if the customer drew white things white, choose White:", `"white_drawn_as": "black"`},
		{"?process=toner-underbase", "White goes with the process and changes with it; if the customer drew white things black, choose Black:", `"white_drawn_as": "white"`},
		{"?white-drawn-as=white", "The process itself takes Black;", `"white_drawn_as": "white"`},
		{"?white-drawn-as=white", `<input type="hidden" name="white-drawn-as" value="white">`, `"white_drawn_as": "white"`}, // the sheet is made of the same
		{"?sheet=a3", `value="a3" selected`, `"name": "a3"`},
		{"?drop=1", `name="drop" value="1" checked`, `"findings"`},
		{"?place=cap-front", `value="cap-front" selected`, `"name": "cap-front"`},
		{"?place=cap-front&width=300", `wider and `, `"rule": "off-place"`},
		{"?place=none", `value="none" selected`, `"findings"`},
		{"?place=cap-front&width=20", `it fits this place`, `"findings"`},
		{"?place=cap-front&width=300", `larger than this place takes`, `"findings"`},
		// 236 pixels at 150 an inch are 39.96 mm
		{"?place=cap-front&width=300", `Size to print</a>: up to 39.9 x 19.9 mm. Type it to see whether fine detail still holds.`, `Printed at most 39.9 mm wide`},
	}
	for _, tt := range tests {
		fetch(t, at+tt.query).want(t, http.StatusOK, tt.page)
		fetch(t, at+"/report.json"+tt.query).want(t, http.StatusOK, tt.report)
	}
	unsized, _ := dropped(t, url, file(t, "no-size-cap.png"))
	fetch(t, url+unsized[0].Href+"?view=sheet").want(t, http.StatusOK, "The sheet itself is REVIEW", "<strong>The size is assumed</strong>")
	ticket := fetch(t, url+unsized[0].Href+"/ticket")
	ticket.want(t, http.StatusOK, "<dt>Size</dt><dd>assumed, 200.0 x 100.0 mm: the file does not tell it. Ask before printing</dd>", "(black): 200 x 100 mm, assumed")
	if strings.Contains(ticket.body, "Type the printed width") {
		t.Error("the ticket asks the press to type")
	}
	for _, at := range []string{"?view=sheet", "/ticket"} { // a guessed size is nothing to print by
		fetch(t, url+unsized[0].Href+at).want(t, http.StatusOK, `<header class="verdict verdict-review">`, "<strong>REVIEW</strong>, the print file", "Its size is assumed</strong>: ask")
	}
	fetch(t, url+unsized[0].Href+"?place=chest").want(t, http.StatusOK, "Not compared with this place")
	for query, words := range map[string]string{
		"?width=many": "is not a length", "?width=-3": "length", "?width=1,000": "is not a length", "?width=1.000,5": "is not a length", "?width=0": "must be more than zero", "?garment=nivy": "navy",
		"?process=nothing": "nothing", "?sheet=nothing": "No sheet", "?fabric=nothing": "has no fabric", "?place=nothing": "No place", "?white-drawn-as=grey": "none of black, white", "?width=0.001": "which no printer uses",
		"?page=7": "There is no page 7", "?width=" + strings.Repeat("1", 200): "is not a length",
	} {
		fetch(t, at+query).want(t, http.StatusUnprocessableEntity, "NOT JUDGED", words)
	}
}

// A width at which nothing can be printed is told beside its field, in words of the page; picture and page have no other fields for it.
func TestImpossibleWidth(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{"moth.png", moth(t)})
	for query, has := range map[string]string{"?width=99999": "0.0599", "?width=0.001": "5994400"} {
		got := fetch(t, url+list[0].Href+query)
		got.want(t, http.StatusUnprocessableEntity, `aria-describedby="wrong width-note" aria-invalid="true"`,
			`data-field="width">At this width the picture has `+has+` pixels an inch, which no printer uses: check the printed width.`)
		if strings.Contains(got.body, "resolution given") {
			t.Errorf("%s names a field that the page does not have", query)
		}
	}
}

// White that the artwork draws wrongly leaves no trace on the sheet, so the sheet is judged by the artwork there, and the page says what is missing.
func TestLostWhite(t *testing.T) {
	_, url := start(t, Options{})
	art, err := os.ReadFile(demo(t, "lost-white-moths.png"))
	if err != nil {
		t.Fatal(err)
	}
	list, _ := dropped(t, url, sent{"moths.png", art})
	at := url + list[0].Href
	fetch(t, at+"?view=sheet").want(t, http.StatusOK, "<strong>HOLD</strong>, the print file", "(3 errors)", "of moths.png (number 1 there) is missing here", "The sheet itself is HOLD", "White is missing from it</strong> in 3 places", "White is missing from the sheet", "PDF for the printer; do not print it yet")
	fetch(t, at).want(t, http.StatusOK, "White is missing from it in 3 places", "PDF for the printer; do not print it yet", "white toner in the black station, white is drawn black", "as the file says)")
	fetch(t, at+"/ticket?view=sheet").want(t, http.StatusOK, "White is missing from it</strong> in 3 places")
	fetch(t, at+"?width=-3").want(t, http.StatusUnprocessableEntity, "type millimetres, as 120")
}

func TestDownloads(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{`mo"th.png`, moth(t)})
	at := url + list[0].Href
	schema := compileSchema(t)
	for path, begins := range map[string]string{
		"/report.json": "{", "/report.html": "<!DOCTYPE html>", "/proof.png": "\x89PNG", "/proof.pdf": "%PDF-", "/print.pdf": "%PDF-", "/ticket.txt": "Ticket: ", "/reply.txt": "Hello,",
	} {
		a := fetch(t, at+path)
		a.want(t, http.StatusOK)
		if !strings.HasPrefix(a.body, begins) {
			t.Errorf("%s begins %q", path, a.body[:min(10, len(a.body))])
		}
		if got := a.Header.Get("Content-Disposition"); !strings.HasPrefix(got, `attachment; filename="mo`) {
			t.Errorf("%s: Content-Disposition is %q", path, got)
		}
		switch path {
		case "/report.json":
			v, err := jsonschema.UnmarshalJSON(strings.NewReader(a.body))
			if err == nil {
				err = schema.Validate(v)
			}
			if err != nil {
				t.Errorf("the report does not keep to its schema: %v", err)
			}
		case "/proof.png":
			if !outfile.Stamped([]byte(a.body)) {
				t.Error("the proof is not marked as ours")
			}
		case "/ticket.txt":
			if !strings.Contains(a.body, "Cautions") {
				t.Error("the ticket has no cautions")
			}
		}
	}
}

// A print file of one page is named as peelcheck prepare --page names it.
func TestPrintFileIsNamedAfterItsPage(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, file(t, "two-page.pdf"), sent{"moth.png", moth(t)})
	for path, want := range map[string]string{
		list[0].Href + "/print.pdf?page=2": `attachment; filename=two-page.p2.print.pdf`,
		list[0].Href + "/print.pdf":        `attachment; filename=two-page.p1.print.pdf`,
		list[1].Href + "/print.pdf":        `attachment; filename=moth.print.pdf`,
	} {
		a := fetch(t, url+path)
		a.want(t, http.StatusOK)
		if got := a.Header.Get("Content-Disposition"); got != want || !strings.HasPrefix(a.body, "%PDF-") {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
}

func compileSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(report.Schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("report.json", doc); err != nil {
		t.Fatal(err)
	}
	return c.MustCompile("report.json")
}

// Tiles at the artwork's own resolution hold its very pixels: black prints white here, and the garment is navy, #000080 (CSS Color 4).
func TestTiles(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{"moth.png", moth(t)})
	at := url + list[0].Href + "/tiles/"
	white, navy, none := color.NRGBA{255, 255, 255, 255}, color.NRGBA{0, 0, 0x80, 255}, color.NRGBA{}
	for _, tt := range []struct {
		path string
		x, y int
		want color.NRGBA
	}{
		{"look/0/0/0", 20, 20, white}, {"look/0/0/0", 19, 20, navy}, {"look/0/0/0", 99, 99, white}, {"look/0/0/0", 100, 99, navy},
		{"look/0/0/0", 150, 50, white}, {"look/0/0/0", 149, 50, navy}, {"look/0/0/0", 236, 50, none},
		{"white/0/0/0", 20, 20, white}, {"white/0/0/0", 19, 20, color.NRGBA{A: 255}},
		{"colour/0/0/0", 20, 20, white},
		{"look/1/0/0", 30, 30, white}, {"look/1/0/0", 118, 30, none},
	} {
		m, err := png.Decode(strings.NewReader(fetch(t, at+tt.path+"?garment=navy").body))
		if err != nil {
			t.Fatalf("%s: %v", tt.path, err)
		}
		if got := color.NRGBAModel.Convert(m.At(tt.x, tt.y)); got != tt.want || m.Bounds().Dx() != tilePx {
			t.Errorf("%s: pixel %d, %d is %v, want %v", tt.path, tt.x, tt.y, got, tt.want)
		}
	}
	for _, path := range []string{"look/0/1/0", "look/0/0/1", "look/-1/0/0", "look/99/0/0", "look/0/x/0", "nothing/0/0/0", "look/0/-1/0", "look/0/99999999999999999999/0"} {
		fetch(t, at+path).want(t, http.StatusNotFound)
	}
}

// White that will stay unprinted is a layer of its own, where there is any: on the garment it shows nothing.
func TestLostLayer(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, file(t, "lost-white-moths.png"))
	fetch(t, url+list[0].Href).want(t, http.StatusOK, `name="layer" value="lost"`)
	tile := func(layer string) image.Image {
		m, err := png.Decode(strings.NewReader(fetch(t, url+list[0].Href+"/tiles/"+layer+"/3/0/0").body))
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	look, lost := tile("look"), tile("lost")
	marked := 0
	for y := range tilePx {
		for x := range tilePx {
			switch {
			case look.At(x, y) == lost.At(x, y):
			case color.NRGBAModel.Convert(look.At(x, y)) == color.NRGBA{0, 0, 0, 255} && color.NRGBAModel.Convert(lost.At(x, y)) == color.NRGBA{255, 255, 255, 255}:
				marked++
			default:
				t.Fatalf("pixel %d, %d is %v instead of %v", x, y, lost.At(x, y), look.At(x, y))
			}
		}
	}
	if marked < 500 {
		t.Errorf("%d pixels are marked", marked)
	}
	for _, query := range []string{"?process=toner-underbase&white-drawn-as=white", "?view=sheet"} { // where white prints, and where it is already missing
		if page := fetch(t, url+list[0].Href+query); strings.Contains(page.body, `value="lost"`) {
			t.Errorf("%s offers white that is lost", query)
		}
	}
}

// The printed sheet of a process whose file mirrors holds the artwork the other way round.
func TestSheetView(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{"moth.png", moth(t)})
	at := url + list[0].Href
	fetch(t, at+"?view=sheet").want(t, http.StatusOK, "Printed sheet", "mirror printing", "Judged again", "data-sheet")
	fetch(t, at+"?view=sheet&copies=fill&thicken=1").want(t, http.StatusOK, "copies", `id="thicken" name="thicken" value="1" checked`)
	fetch(t, at+"/print.pdf?copies=fill").want(t, http.StatusOK, "%PDF-")
	m, err := png.Decode(strings.NewReader(fetch(t, at+"/tiles/look/3/0/0?view=sheet").body))
	if err != nil || m.Bounds().Dx() != tilePx {
		t.Errorf("no picture of the sheet: %v", err)
	}
}

func file(t testing.TB, name string) sent {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("../../../testdata/demo", name))
	if err != nil {
		t.Fatal(err)
	}
	return sent{name, data}
}

// A document's other page is judged without being asked for, and the list has the worse of both. In the demo page 2 has a fault and page 1
// none (testdata/demo/truth.json).
func TestPagesAreJudgedBehind(t *testing.T) {
	server, url := start(t, Options{})
	list, _ := dropped(t, url, file(t, "two-page.pdf"))
	if !strings.Contains(list[0].Words, "page 1 of 2 is READY") {
		t.Errorf("the script is told %q", list[0].Words)
	}
	u := server.store.all()[0]
	settle(t, u)
	d := &u.document // as it was before page 2 was judged
	d.mu.Lock()
	second := d.pages[2]
	delete(d.pages, 2)
	d.mu.Unlock()
	fetch(t, url+"/").want(t, http.StatusOK, "1 STILL BEING JUDGED", "STILL BEING JUDGED</strong> · nothing found so far; 2 pages: 1 READY, 1 still to be judged", "data-unfinished")
	fetch(t, url+list[0].Href+"/pages").want(t, http.StatusOK, "Whole document: <strong>STILL BEING JUDGED</strong>.")
	d.note(wish{Page: 2}, 0, second)
	fetch(t, url+"/").want(t, http.StatusOK, "HOLD</strong> · page 2: 1 error; 2 pages: 1 HOLD, 1 READY", `href="`+list[0].Href+`?page=2"`)
	fetch(t, url+list[0].Href+"/pages").want(t, http.StatusOK, `aria-label="Page 1: READY"`, `aria-label="Page 2: HOLD"`)
	fetch(t, url+list[0].Href+"?garment=navy").want(t, http.StatusOK, "Whole document") // another job: both anew
	settle(t, u)
	for _, n := range []string{"1", "2"} {
		if got := fetch(t, url+list[0].Href+"/print.pdf?page="+n).Header.Get("Content-Disposition"); got != "attachment; filename=two-page.p"+n+".print.pdf" {
			t.Errorf("the print file of page %s is called %q", n, got)
		}
	}
	fetch(t, url+list[0].Href+"/pages?garment=navy").want(t, http.StatusOK, `aria-label="Page 2: HOLD"`)
	fetch(t, url+list[0].Href+"/pages").want(t, http.StatusOK, `aria-label="Page 2: NOT JUDGED YET"`) // of a job that is not the last
	single, _ := dropped(t, url, sent{"moth.png", moth(t)})
	fetch(t, url+single[0].Href+"/pages").want(t, http.StatusNotFound)
}

// settle waits until all pages of an upload are judged.
func settle(t testing.TB, u *upload) {
	t.Helper()
	for range 1000 {
		if !u.summary().unfinished {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("the other pages are not judged")
}

func TestDocumentKnowsItsWorstPage(t *testing.T) {
	var d document
	for page, o := range map[int]outcome{1: {verdict: preflight.Ready}, 2: {verdict: preflight.Review}, 4: {trouble: "broken"}, 3: {trouble: "torn"}} {
		d.note(wish{Page: page}, 5, o)
	}
	if s := d.summary(); s.page != 3 || s.word() != "NOT JUDGED" || !s.unfinished || pagesWords(s) != "5 pages: 2 NOT JUDGED, 1 REVIEW, 1 READY, 1 still to be judged" {
		t.Errorf("%+v: %s", s, pagesWords(s))
	}
	d.note(wish{Page: 5}, 0, outcome{verdict: preflight.Hold})
	d.note(wish{Page: 6}, 0, outcome{verdict: preflight.Hold}) // there is none
	if s := d.summary(); s.page != 5 || s.unfinished || s.done != 5 {
		t.Errorf("%+v", s)
	}
	d.note(wish{Page: 4}, 0, outcome{verdict: preflight.Hold, counts: preflight.Counts{Error: 2}})
	d.note(wish{Page: 3}, 0, outcome{verdict: preflight.Hold, counts: preflight.Counts{Error: 2, Warning: 1}})
	if s := d.summary(); s.page != 3 {
		t.Errorf("of three pages on HOLD, page %d is taken for the worst, want 3, which has most errors and warnings", s.page)
	}
	d.note(wish{Page: 2, Garment: "navy"}, 5, outcome{verdict: preflight.Ready})
	if s := d.summary(); s.page != 2 || s.done != 1 || !s.unfinished {
		t.Errorf("after another job: %+v", s)
	}
	long := document{}
	long.note(wish{Page: 3}, mostPages+7, outcome{verdict: preflight.Ready})
	if s := long.summary(); !strings.HasSuffix(pagesWords(s), "1 READY, 49 still to be judged; 7 are judged when you open them") {
		t.Error(pagesWords(s))
	}
	for page := 1; page <= mostPages; page++ {
		long.note(wish{Page: page}, mostPages+7, outcome{verdict: preflight.Ready})
	}
	if s := long.summary(); s.unfinished || !strings.HasSuffix(pagesWords(s), "; 7 are judged when you open them") {
		t.Errorf("%+v: %s", s, pagesWords(s))
	} else if _, word := s.state(); word != "NOT ALL JUDGED" {
		t.Errorf("with 7 pages that nobody looked at the document is %s", word)
	}
	long.note(wish{Page: 8}, 0, outcome{verdict: preflight.Hold})
	if _, word := long.summary().state(); word != "HOLD" {
		t.Errorf("with a page on HOLD the document is %s", word)
	}
}

// What nobody waits for begins only when nothing else is to be done, and one at a time.
func TestEnterLast(t *testing.T) {
	q := newQueue(1, 1)
	leave, err := q.enter(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	begun := make(chan func())
	for range 2 {
		go func() {
			end, err := q.enterLast(t.Context())
			if err == nil {
				begun <- end
			}
		}()
	}
	select {
	case <-begun:
		t.Fatal("it began while somebody was at work")
	case <-time.After(5 * lookAgain):
	}
	leave()
	end := <-begun
	select {
	case <-begun:
		t.Fatal("two began at once")
	case <-time.After(5 * lookAgain):
	}
	end()
	(<-begun)()
	if leave, err = q.enter(t.Context()); err != nil {
		t.Fatal(err)
	}
	defer leave()
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := q.enterLast(ctx); err == nil {
		t.Error("it began though it was stopped while somebody was at work")
	}
}

func TestListOrder(t *testing.T) {
	_, url := start(t, Options{})
	dropped(t, url, file(t, "soft-shadow.png"))
	dropped(t, url, sent{"moth.png", moth(t)})
	dropped(t, url, sent{"poem.txt", []byte("no artwork")})
	dropped(t, url, file(t, "clean-lantern-shirt.png"))
	dropped(t, url, sent{"reeds.png", file(t, "hairline-reeds.png").data}) // more errors than the moth has, and a later name
	names := regexp.MustCompile(`id="open-[^>]*>([^<]*)</a>`)
	for query, want := range map[string]string{
		"": "reeds.png moth.png poem.txt soft-shadow.png clean-lantern-shirt.png", "?order=none": "reeds.png moth.png poem.txt soft-shadow.png clean-lantern-shirt.png",
		"?order=newest": "reeds.png clean-lantern-shirt.png poem.txt moth.png soft-shadow.png", "?order=name": "clean-lantern-shirt.png moth.png poem.txt reeds.png soft-shadow.png",
	} {
		a := fetch(t, url+"/"+query)
		a.want(t, http.StatusOK, "2 HOLD", "1 NOT JUDGED", "1 REVIEW", "1 READY")
		var got []string
		for _, m := range names.FindAllStringSubmatch(a.body, -1) {
			got = append(got, m[1])
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%q: %q, want %q", query, got, want)
		}
	}
}

// What cannot be printed leaves the artwork in sight, and says what to change.
func TestNoSheet(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{"moth.png", moth(t)})
	at := url + list[0].Href
	fetch(t, at+"?view=sheet&width=900").want(t, http.StatusUnprocessableEntity, `id="no-sheet"`, "largest that fits", "printed width of the whole picture", "Change the printed width", `id="viewer"`, "Before: artwork")
	// The finding, the sentence beside the sheet and the reason why there is no print file tell the same sizes.
	page := fetch(t, at+"?view=sheet&width=900").body
	told := regexp.MustCompile(`argest that fits with room to trim is ([0-9.]+ x [0-9.]+ mm) \(`).FindAllStringSubmatch(page, -1)
	if len(told) < 3 {
		t.Fatalf("sizes are told %d times: %s", len(told), regexp.MustCompile(`.*largest that fits.*`).FindAllString(page, -1))
	}
	for _, m := range told {
		if m[1] != told[0][1] {
			t.Errorf("%s here and %s there", told[0][1], m[1])
		}
	}
	// What suits the pixels as well is told once for all: in the facts, and twice in the reply, each time by the whole picture, as the field takes it.
	all := regexp.MustCompile(`rinted at most ([0-9.]+) mm wide \(([0-9.]+) mm high, of which [0-9.]+ x [0-9.]+ mm print\)`).FindAllStringSubmatch(page, -1)
	if len(all) != 1 {
		t.Fatalf("the size for all is told as %q", all)
	}
	size := all[0][1] + " x " + all[0][2] + " mm"
	if !strings.Contains(page, "the whole picture at "+size+" would fit") || !strings.Contains(page, "printed at "+size+" or less") {
		t.Errorf("the reply does not tell %s", size)
	}
	fetch(t, at+"?view=sheet&width="+all[0][1]).want(t, http.StatusOK, "1 copy of 1 design")
	fetch(t, at+"?view=sheet&width=440").want(t, http.StatusOK, "turned by 90 degrees to fit") // the design is 246 mm wide then
	fetch(t, at+"/ticket?width=900").want(t, http.StatusOK, `id="no-sheet"`, "Cautions")
}

// A ticket shows the artwork and the sheet, each verdict, and speaks of mirroring once.
func TestTicketPage(t *testing.T) {
	_, url := start(t, Options{})
	list, _ := dropped(t, url, sent{"moth.png", moth(t)})
	at := url + list[0].Href
	plain := fetch(t, at+"/ticket")
	plain.want(t, http.StatusOK, "<strong>HOLD</strong>, the print file", "<strong>HOLD</strong>, the artwork", "As it will look on the garment (black): 20 x 10 mm", "Cautions", "210 x 297 mm")
	if n := strings.Count(plain.body, "mirror printing"); n != 1 {
		t.Errorf("mirroring is spoken of %d times", n)
	}
	pictures := regexp.MustCompile(`<img width="(\d+)" src="([^"]*)"`).FindAllStringSubmatch(plain.body, -1)
	if len(pictures) != 2 {
		t.Fatalf("%d pictures, want 2", len(pictures))
	}
	for _, p := range pictures {
		if _, err := png.Decode(strings.NewReader(fetch(t, url+html.UnescapeString(p[2])).body)); err != nil {
			t.Errorf("%s: %v", p[2], err)
		}
	}
	fetch(t, at+"/ticket?thicken=1").want(t, http.StatusOK, "with lines grown and gaps opened", "As it came, on the garment")
}

func TestKeep(t *testing.T) {
	now := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	s, err := openStore(t.TempDir(), time.Hour, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	s.now = func() time.Time { return now }
	var gone []string
	s.onRemove = func(id string) { gone = append(gone, id) }
	first := mustAdd(t, s, "first")
	now = now.Add(40 * time.Minute)
	second := mustAdd(t, s, "second")
	if s.get(first.id) == nil {
		t.Error("an upload was gone before its time")
	}
	now = now.Add(21 * time.Minute)
	if s.get(first.id) != nil || s.get(second.id) != second {
		t.Error("after an hour the first upload should be gone, and the second there")
	}
	if _, err := os.Stat(first.dir); !os.IsNotExist(err) || len(gone) != 1 || gone[0] != first.id {
		t.Errorf("its folder is still there, or nobody was told: %v, %v", err, gone)
	}
	if err := s.close(); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(s.dir); !os.IsNotExist(err) {
		t.Errorf("closing left the folder: %v", err)
	}
}

func mustAdd(t testing.TB, s *store, name string) *upload {
	t.Helper()
	u, err := s.add(name, strings.NewReader(name), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func TestSurplusIsDropped(t *testing.T) {
	s, err := openStore(t.TempDir(), time.Hour, 10)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	for range 3 {
		mustAdd(t, s, "four")
	}
	if n := len(s.all()); n != 2 {
		t.Errorf("%d uploads of 4 bytes are kept where 10 may be, want 2", n)
	}
	if u := mustAdd(t, s, "much more than ten"); len(s.all()) != 1 || s.all()[0] != u {
		t.Error("the newest upload must stay, however large")
	}
}

// A run that ended badly leaves its folder unlocked; the next one removes that, and not that of a run which goes on.
func TestLeftovers(t *testing.T) {
	parent := t.TempDir()
	crashed, err := openStore(parent, time.Hour, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	mustAdd(t, crashed, "left")
	alive, err := openStore(parent, time.Hour, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	kept := mustAdd(t, alive, "kept")
	if _, err := os.Stat(crashed.dir); err != nil {
		t.Fatalf("the folder of a run that goes on was removed: %v", err)
	}
	crashed.lock.Close() // as the system does when a program dies
	next, err := openStore(parent, time.Hour, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(crashed.dir); !os.IsNotExist(err) {
		t.Errorf("the leftovers are still there: %v", err)
	}
	if _, err := os.Stat(kept.path()); err != nil {
		t.Errorf("an upload of a run that goes on was removed: %v", err)
	}
	alive.close()
	next.close()
}

func TestViewsAreBounded(t *testing.T) {
	server, url := start(t, Options{MostHeld: 4 * 236 * 118 * 3}) // about two of them, with their findings
	list, _ := dropped(t, url, sent{"moth.png", moth(t)})
	for _, garment := range []string{"navy", "red", "green", "khaki"} {
		fetch(t, url+list[0].Href+"?garment="+garment).want(t, http.StatusOK)
	}
	server.views.mu.Lock()
	n := len(server.views.held)
	server.views.mu.Unlock()
	if n == 0 || n > 2 {
		t.Errorf("%d views are held, want 1 or 2", n)
	}
	server.store.remove(strings.TrimPrefix(list[0].Href, "/a/"))
	if n := len(server.views.held); n != 0 {
		t.Errorf("%d views are held of an upload that was removed", n)
	}
}

// FuzzNames holds names that browsers tell to what is promised: they are no part of a path, can be shown, and do no harm on a page.
func FuzzNames(f *testing.F) {
	seeds := []string{"moth.png", "", ".", "..", "../../etc/passwd", `..\..\x.png`, "/abs.png", "C:\\x.png", "a\x00b.png", "<script>alert(1)</script>.png", "\u202egnp.exe",
		"\xff\xfe", strings.Repeat("é", 300), "a\r\nSet-Cookie: x=1.png", `q"uote.png`, "  ", "CON", "a/b/c", "“moth”.png", "{{.}}", "con.png:stream"}
	if len(seeds) == 0 {
		f.Fatal("no seeds")
	}
	for _, s := range seeds {
		f.Add(s)
	}
	parent := f.TempDir()
	s, err := openStore(parent, time.Hour, 1<<30)
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { s.close() })
	f.Fuzz(func(t *testing.T, name string) {
		u, err := s.add(name, strings.NewReader("x"), 10)
		if err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		defer s.remove(u.id)
		if !fs.ValidPath(u.id) || filepath.Dir(u.dir) != s.dir || filepath.Dir(u.path()) != u.dir || filepath.Base(u.path()) != "artwork" {
			t.Errorf("%q lies at %s", name, u.path())
		}
		if u.name == "" || u.name != report.Printable(u.name) || strings.ContainsAny(u.name, "/\\:\r\n") || strings.Trim(u.name, ".") == "" {
			t.Errorf("%q is shown as %q", name, u.name)
		}
		var page bytes.Buffer
		if err := pages.ExecuteTemplate(&page, "home.html", homePage{List: []listed{{ID: u.id, Name: u.name}}}); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(page.String(), "<script"); n != 3 {
			t.Errorf("%q: the page has %d scripts", name, n)
		}
	})
}

// BenchmarkDrop is an A4 page at 300 pixels an inch dropped on the page: how long until its verdict is there, and what of that is upload,
// judging and page.
func BenchmarkDrop(b *testing.B) {
	const wMM, hMM = 210, 297
	c := drawing.New(wMM, hMM, 300)
	for i := range 40 {
		x, y := float64(20+i%5*40), float64(20+i/5*34)
		c.Fill(drawing.Circle(x, y, 12), color.NRGBA{uint8(40 * i), uint8(90 + 4*i), 30, 255})
		c.Fill(drawing.Circle(x, y, 6), color.NRGBA{A: 255})
	}
	var art bytes.Buffer
	if err := drawing.WritePNG(&art, c.Pix, 300); err != nil {
		b.Fatal(err)
	}
	_, url := start(b, Options{})
	var upload, judge, page, total float64
	b.SetBytes(int64(art.Len()))
	for b.Loop() {
		began := time.Now()
		list, a := dropped(b, url, sent{"a4.png", art.Bytes()})
		loading := time.Now()
		fetch(b, url+list[0].Href).want(b, http.StatusOK, "verdict")
		total += ms(time.Since(began))
		page += ms(time.Since(loading))
		var u, j float64
		if _, err := fmt.Sscanf(a.Header.Get("Server-Timing"), "upload;dur=%f, judge;dur=%f", &u, &j); err != nil {
			b.Fatal(err)
		}
		upload, judge = upload+u, judge+j
	}
	b.ReportMetric(total/float64(b.N), "ms/verdict")
	b.ReportMetric(100*upload/total, "%upload")
	b.ReportMetric(100*judge/total, "%judging")
	b.ReportMetric(100*page/total, "%page")
}
