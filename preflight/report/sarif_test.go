package report_test

import (
	"bytes"
	"encoding/json"
	"image"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
)

// written is what a writer makes of reports and troubles.
func written(t *testing.T, open func(*bytes.Buffer) report.Writer, reps []*preflight.Report, troubles ...report.Trouble) string {
	t.Helper()
	var out bytes.Buffer
	w := open(&out)
	for _, r := range reps {
		if err := w.Add(r); err != nil {
			t.Fatal(err)
		}
	}
	for _, tr := range troubles {
		if err := w.Fail(tr); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func sarif(t *testing.T, list []*preflight.Rule, reps []*preflight.Report, troubles ...report.Trouble) string {
	t.Helper()
	return written(t, func(out *bytes.Buffer) report.Writer { return report.NewSARIF(out, list) }, reps, troubles...)
}

// sarifSchema is the schema of SARIF 2.1.0 that OASIS published with errata 01; testdata/SOURCES.md says where the text was taken from.
func sarifSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	text, err := os.ReadFile("testdata/sarif-2.1.0.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("sarif.json", decoded(t, text)); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("sarif.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var troubles = []report.Trouble{
	{File: "orders/moth:2.png", Text: "the file is empty; copy or export it again"},
	{Text: "stopped after 2 of 9 files"},
}

// TestSARIFSchema judges the validator by logs whose standing is known, and then our own logs by it.
func TestSARIFSchema(t *testing.T) {
	s := sarifSchema(t)
	run := func(results string) string {
		return `{"version":"2.1.0","runs":[{"tool":{"driver":{"name":"a"}},"results":[` + results + `]}]}`
	}
	for text, ok := range map[string]bool{
		`{"version":"2.1.0","runs":[]}`: true,
		run(``):                         true,
		run(`{"message":{"text":"m"},"attachments":[{"artifactLocation":{"uri":"a.png"},"rectangles":[{"top":1,"left":2,"bottom":3.5,"right":4}]}]}`): true,
		`{"runs":[]}`:                                   false,
		`{"version":"2.1.0","runs":[{}]}`:               false,
		`{"version":"2.1.0","runs":[],"own":1}`:         false,
		run(`{"message":{"text":"m"},"level":"fatal"}`): false,
		run(`{"message":{}}`):                           false,
		run(`{"message":{"text":"m"},"locations":[{"physicalLocation":{"region":{"startLine":1}}}]}`):              false,
		run(`{"message":{"text":"m"},"locations":[{"physicalLocation":{"address":{},"region":{"startLine":0}}}]}`): false,
		run(`{"message":{"text":"m"},"partialFingerprints":{"a":1}}`):                                              false,
	} {
		if err := s.Validate(decoded(t, []byte(text))); (err == nil) != ok {
			t.Errorf("%s: accepted is %v, want %v (%v)", text, err == nil, ok, err)
		}
	}
	var all []*preflight.Report
	findings := 0
	for _, rep := range judged(t) {
		all = append(all, rep)
		findings += len(rep.Findings)
	}
	if findings == 0 {
		t.Fatal("none of the reports has a finding, so the schema of results was not tried")
	}
	for name, text := range map[string]string{
		"nothing judged": sarif(t, rules.All(), nil),
		"no rules":       sarif(t, nil, []*preflight.Report{sample()}),
		"real reports":   sarif(t, rules.All(), all),
		"with troubles":  sarif(t, rules.All(), all, troubles...),
	} {
		if err := s.Validate(decoded(t, []byte(text))); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestSARIFGolden is renewed with UPDATE=1.
func TestSARIFGolden(t *testing.T) {
	golden(t, "sample.sarif", sarif(t, sampleRules, []*preflight.Report{sample()}, troubles...))
}

// TestSARIFSaysWhatTheReportSays reads a log back and compares it with the report it was made of.
func TestSARIFSaysWhatTheReportSays(t *testing.T) {
	rep := judged(t)["toner-white-for-black"]
	var log struct {
		Runs []struct {
			Tool struct {
				Driver struct{ Rules []struct{ ID string } }
			}
			Invocations []struct{ ExecutionSuccessful bool }
			Artifacts   []struct{ Location struct{ URI string } }
			Results     []struct {
				RuleID, Level       string
				RuleIndex           int
				PartialFingerprints map[string]string
				Locations           []struct {
					PhysicalLocation struct {
						ArtifactLocation struct {
							URI   string
							Index int
						}
					}
				}
				Attachments []struct {
					Rectangles []struct{ Top, Left, Bottom, Right int }
				}
				Properties struct {
					Box preflight.BoxMM `json:"box_mm"`
				}
			}
		}
	}
	if err := json.Unmarshal([]byte(sarif(t, rules.All(), []*preflight.Report{rep})), &log); err != nil {
		t.Fatal(err)
	}
	run := log.Runs[0]
	if len(run.Tool.Driver.Rules) != len(rules.All()) || !run.Invocations[0].ExecutionSuccessful || len(run.Results) != len(rep.Findings) || len(rep.Findings) == 0 {
		t.Fatalf("%d rules, %d results, invocations %v", len(run.Tool.Driver.Rules), len(run.Results), run.Invocations)
	}
	for i, f := range rep.Findings {
		r := run.Results[i]
		if r.RuleID != f.Rule || r.Level != string(f.Level) || run.Tool.Driver.Rules[r.RuleIndex].ID != f.Rule || r.Properties.Box != f.BoxMM {
			t.Errorf("finding %+v became %+v", f, r)
		}
		if len(r.PartialFingerprints) != 1 || r.PartialFingerprints["peelcheckFinding/v1"] != f.Fingerprint {
			t.Errorf("fingerprint %q became %v", f.Fingerprint, r.PartialFingerprints)
		}
		at := r.Attachments[0].Rectangles[0]
		if got, want := image.Rect(at.Left, at.Top, at.Right, at.Bottom), image.Rect(f.BoxPx.X, f.BoxPx.Y, f.BoxPx.X+f.BoxPx.W, f.BoxPx.Y+f.BoxPx.H); got != want {
			t.Errorf("box %v became %v", want, got)
		}
		if file := r.Locations[0].PhysicalLocation.ArtifactLocation; file.URI != "lantern.png" || run.Artifacts[file.Index].Location.URI != file.URI {
			t.Errorf("file %+v, artifacts %v", file, run.Artifacts)
		}
	}
}

// Names of files as URIs: RFC 3986, 2.1 (escapes), 4.2 (a relative reference has no colon in its first part), and RFC 8089 for scheme file.
func TestSARIFNames(t *testing.T) {
	for name, want := range map[string]string{
		"lantern.png":           "lantern.png",
		"orders/a b#1.png":      "orders/a%20b%231.png",
		"100%/q?.png":           "100%25/q%3F.png",
		"2:1.png":               "2%3A1.png",
		`back\slash.png`:        "back%5Cslash.png",
		"späte Lampe.png":       "sp%C3%A4te%20Lampe.png",
		"bad\xff.png":           "bad%FF.png",
		"./in/../lantern.png":   "lantern.png",
		"../lantern.png":        "../lantern.png",
		"/shop/orders/a b.png":  "file:///shop/orders/a%20b.png",
		"C:/orders/a b.png":     "file:///C:/orders/a%20b.png",
		"//server/share/ab.png": "file://server/share/ab.png",
	} {
		rep := sample()
		rep.Artwork.File = name
		if text := sarif(t, nil, []*preflight.Report{rep}); !strings.Contains(text, `"uri": "`+want+`"`) {
			t.Errorf("%q: no %q in %.600s", name, want, text)
		}
	}
}
