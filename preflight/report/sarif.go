package report

import (
	"encoding/json"
	"fmt"
	"io"
	"net/url"
	"path"
	"regexp"
	"strings"

	"peelcheck/preflight"
)

// The shapes of SARIF 2.1.0 (OASIS, errata 01) that are written. Its objects are closed: what is ours goes into properties.
type (
	sarifText struct {
		Text     string `json:"text"`
		Markdown string `json:"markdown,omitempty"`
	}
	sarifRule struct {
		ID               string         `json:"id"`
		ShortDescription sarifText      `json:"shortDescription"`
		Help             sarifText      `json:"help"`
		Configuration    sarifLevel     `json:"defaultConfiguration"`
		Properties       map[string]any `json:"properties"`
	}
	sarifLevel struct {
		Level preflight.Level `json:"level"`
	}
	sarifTool struct {
		Driver sarifDriver `json:"driver"`
	}
	sarifDriver struct {
		Name    string      `json:"name"`
		Version string      `json:"version"`
		Rules   []sarifRule `json:"rules"`
	}
	sarifFile struct {
		URI   string `json:"uri"`
		Index *int   `json:"index,omitempty"`
	}
	sarifArtifact struct {
		Location sarifFile         `json:"location"`
		Hashes   map[string]string `json:"hashes,omitempty"`
	}
	sarifPlace struct {
		Physical struct {
			Artifact sarifFile `json:"artifactLocation"`
		} `json:"physicalLocation"`
		Message *sarifText `json:"message,omitempty"`
	}
	sarifRectangle struct {
		Top    int `json:"top"`
		Left   int `json:"left"`
		Bottom int `json:"bottom"`
		Right  int `json:"right"`
	}
	sarifAttachment struct {
		Artifact   sarifFile        `json:"artifactLocation"`
		Rectangles []sarifRectangle `json:"rectangles"`
	}
	sarifResult struct {
		RuleID       string             `json:"ruleId"`
		RuleIndex    *int               `json:"ruleIndex,omitempty"`
		Level        preflight.Level    `json:"level"`
		Message      sarifText          `json:"message"`
		Locations    []sarifPlace       `json:"locations"`
		Attachments  []sarifAttachment  `json:"attachments,omitempty"`
		Fingerprints map[string]string  `json:"partialFingerprints,omitempty"`
		Suppressions []sarifSuppression `json:"suppressions,omitempty"`
		Properties   map[string]any     `json:"properties"`
	}
	sarifSuppression struct { // 3.35: kind is external where it is not in the artefact itself
		Kind          string `json:"kind"`
		Justification string `json:"justification"`
	}
	sarifNotification struct {
		Level     preflight.Level `json:"level"`
		Message   sarifText       `json:"message"`
		Locations []sarifPlace    `json:"locations,omitempty"`
	}
	sarifInvocation struct {
		Successful    bool                `json:"executionSuccessful"`
		Notifications []sarifNotification `json:"toolExecutionNotifications,omitempty"`
	}
)

const (
	sarifSchema     = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
	fingerprintName = "peelcheckFinding/v1"
)

type sarifWriter struct {
	w         io.Writer
	rules     []*preflight.Rule
	index     map[string]int // of each rule
	artifacts []sarifArtifact
	at        map[string]int // of each artifact, by its URI
	call      sarifInvocation
	begun     bool
	results   int
	err       error
}

// NewSARIF returns a Writer of one SARIF 2.1.0 log with one run: rules are those that looked. Areas are rectangles in pixels of the
// artwork; what could not be judged is a notification, and makes executionSuccessful false.
func NewSARIF(w io.Writer, rules []*preflight.Rule) Writer {
	s := &sarifWriter{w: w, rules: rules, index: map[string]int{}, at: map[string]int{}, call: sarifInvocation{Successful: true}}
	for i, r := range rules {
		s.index[r.ID] = i
	}
	return s
}

func (s *sarifWriter) Add(rep *preflight.Report) error {
	s.begin()
	file := s.artifact(rep)
	for i := range rep.Findings {
		lead := ",\n        "
		if s.results == 0 {
			lead = "\n        "
		}
		s.results++
		s.raw(lead)
		s.value(s.result(rep, &rep.Findings[i], file), "        ")
	}
	return s.err
}

func (s *sarifWriter) Fail(t Trouble) error {
	s.call.Successful = false
	n := sarifNotification{Level: preflight.LevelError, Message: sarifText{Text: Printable(t.Text)}}
	if t.File != "" {
		n.Locations = []sarifPlace{sarifPlaceOf(sarifFile{URI: fileURI(t.File)})}
	}
	s.call.Notifications = append(s.call.Notifications, n)
	return nil
}

func (s *sarifWriter) Close() error {
	s.begin()
	if s.results > 0 {
		s.raw("\n      ")
	}
	s.raw("],\n      \"invocations\": ")
	s.value([]sarifInvocation{s.call}, "      ")
	s.raw(",\n      \"artifacts\": ")
	s.value(some(s.artifacts), "      ")
	s.raw("\n    }\n  ]\n}\n")
	return s.err
}

// begin writes what stands before the results, once.
func (s *sarifWriter) begin() {
	if s.begun {
		return
	}
	s.begun = true
	s.raw("{\n  \"$schema\": \"" + sarifSchema + "\",\n  \"version\": \"2.1.0\",\n  \"runs\": [\n    {\n      \"tool\": ")
	driver := sarifDriver{Name: preflight.ToolName, Version: preflight.Version, Rules: []sarifRule{}}
	for _, r := range s.rules {
		driver.Rules = append(driver.Rules, sarifRule{
			ID: r.ID, ShortDescription: sarifText{Text: sentence(r.Title)}, Help: ruleHelp(r),
			Configuration: sarifLevel{r.Level}, Properties: map[string]any{"tags": []string{r.Group}},
		})
	}
	s.value(sarifTool{driver}, "      ")
	s.raw(",\n      \"columnKind\": \"unicodeCodePoints\",\n      \"results\": [")
}

func (s *sarifWriter) raw(text string) {
	if s.err == nil {
		_, s.err = io.WriteString(s.w, text)
	}
}

func (s *sarifWriter) value(v any, prefix string) {
	text, err := json.MarshalIndent(v, prefix, "  ")
	if err != nil && s.err == nil {
		s.err = fmt.Errorf("report: %w", err)
	}
	s.raw(string(text))
}

// artifact lists the file of a report, once for all its pages.
func (s *sarifWriter) artifact(rep *preflight.Report) sarifFile {
	uri := fileURI(rep.Artwork.File)
	i, ok := s.at[uri]
	if !ok {
		i = len(s.artifacts)
		s.at[uri] = i
		a := sarifArtifact{Location: sarifFile{URI: uri}}
		if rep.Artwork.SHA256 != "" {
			a.Hashes = map[string]string{"sha-256": rep.Artwork.SHA256}
		}
		s.artifacts = append(s.artifacts, a)
	}
	return sarifFile{URI: uri, Index: &i}
}

func (s *sarifWriter) result(rep *preflight.Report, f *preflight.Finding, file sarifFile) sarifResult {
	at := sarifPlaceOf(file)
	at.Message = &sarifText{Text: placeWords(rep, f)}
	r := sarifResult{
		RuleID: f.Rule, Level: f.Level, Message: sarifText{Text: strings.TrimSpace(f.Message + " " + f.Remedy)},
		Locations: []sarifPlace{at}, Properties: findingProperties(rep, f),
	}
	if i, ok := s.index[f.Rule]; ok {
		r.RuleIndex = &i
	}
	if b := f.BoxPx; b.W > 0 && b.H > 0 {
		r.Attachments = []sarifAttachment{{file, []sarifRectangle{{Top: b.Y, Left: b.X, Bottom: b.Y + b.H, Right: b.X + b.W}}}}
	}
	if f.Accepted != nil {
		r.Suppressions = []sarifSuppression{{"external", acceptedLabel(f.Accepted) + " " + acceptedWords(f.Accepted)}}
	}
	if f.Fingerprint != "" {
		r.Fingerprints = map[string]string{fingerprintName: f.Fingerprint}
	}
	return r
}

// findingProperties are the fields of a finding that SARIF has no place for, named and measured as in the JSON report.
func findingProperties(rep *preflight.Report, f *preflight.Finding) map[string]any {
	m := map[string]any{"id": f.ID, "page": rep.Artwork.Page, "box_mm": f.BoxMM, "measure": f.Measure}
	if f.Plane != "" {
		m["plane"] = f.Plane
	}
	if f.LengthMM != 0 {
		m["length_mm"] = f.LengthMM
	}
	if f.AreaMM2 != 0 {
		m["area_mm2"] = f.AreaMM2
	}
	return m
}

func sarifPlaceOf(file sarifFile) sarifPlace {
	var p sarifPlace
	p.Physical.Artifact = file
	return p
}

// placeWords says in words where a finding lies.
func placeWords(rep *preflight.Report, f *preflight.Finding) string {
	text := "The whole artwork"
	if place(rep, f) != "" {
		b := f.BoxMM
		text = fmt.Sprintf("%.2f mm from left, %.2f mm from top, %.2f mm wide and %.2f mm high", b.X, b.Y, b.W, b.H)
	}
	if rep.Artwork.PageCount > 1 {
		text += fmt.Sprintf(", on page %d of %d", rep.Artwork.Page, rep.Artwork.PageCount)
	}
	return text + "."
}

// sentence makes a rule's title a sentence.
func sentence(title string) string {
	if title == "" {
		return title
	}
	return strings.ToUpper(title[:1]) + title[1:] + "."
}

// ruleHelp is what a rule says of itself: its document, what to do and its sources.
func ruleHelp(r *preflight.Rule) sarifText {
	var b strings.Builder
	b.WriteString(strings.TrimSpace(r.Doc))
	if r.Remedy != "" {
		b.WriteString("\n\n## What to do\n\n" + r.Remedy)
	}
	if len(r.Sources) > 0 {
		b.WriteString("\n\n## Sources\n")
		for _, s := range r.Sources {
			b.WriteString("\n- " + s.Title + ": " + s.Says)
		}
	}
	markdown := strings.TrimSpace(b.String())
	return sarifText{Text: strings.ReplaceAll("\n"+markdown, "\n## ", "\n")[1:], Markdown: markdown}
}

var drivePath = regexp.MustCompile(`^[A-Za-z]:/`)

// fileURI is a file's name, its folders divided by slashes, as a URI (RFC 3986): relative as it was given, or of scheme file.
func fileURI(name string) string {
	clean := path.Clean(name)
	switch {
	case drivePath.MatchString(clean):
		return "file:///" + clean[:2] + escapedPath(clean[2:])
	case strings.HasPrefix(name, "//"):
		return "file:" + "/" + escapedPath(clean)
	case strings.HasPrefix(clean, "/"):
		return "file://" + escapedPath(clean)
	}
	return escapedPath(clean)
}

// escapedPath escapes the parts of a path. A colon is escaped too: in the first part it would end a scheme's name.
func escapedPath(p string) string {
	parts := strings.Split(p, "/")
	for i := range parts {
		parts[i] = strings.ReplaceAll(url.PathEscape(parts[i]), ":", "%3A")
	}
	return strings.Join(parts, "/")
}
