// Package report writes finished reports: as text, table or page for people, in the formats that programs read, and as the press
// operator's ticket.
//
// Start with NewText or NewJSON; every Writer takes any number of reports, then Close.
package report

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"

	"peelcheck/preflight"
)

// Schema is the JSON Schema (draft 2020-12) of one report.
//
//go:embed report.schema.json
var Schema []byte

// Writer takes reports one after the other and writes them in one format. It is not safe for concurrent use.
type Writer interface {
	// Add writes one report, or keeps what has to wait for Close.
	Add(rep *preflight.Report) error
	// Fail tells of what could not be judged. Where text and JSON have no place for it, it belongs to standard error.
	Fail(t Trouble) error
	// Close writes what is left. It does not close the writer underneath.
	Close() error
}

// Trouble is why a file, or a page of it, could not be judged.
type Trouble struct {
	File string `json:"file"`   // as it was named; empty if it is about the whole call
	Text string `json:"reason"` // what is wrong and what to do, on one line, without the file's name
}

// Part is what one run of several says of itself, for whoever joins them: the last element of its array of reports.
type Part struct {
	SchemaVersion int            `json:"schema_version"`
	Tool          preflight.Tool `json:"tool"`
	Part          PartNumber     `json:"part"`
	NotJudged     []Trouble      `json:"not_judged"`
}

// PartNumber is a part, from 1, of so many.
type PartNumber struct {
	Number int `json:"number"`
	Of     int `json:"of"`
}

type jsonWriter struct {
	w     io.Writer
	array bool
	count int
	part  *Part // nil for the whole
}

// NewJSON returns a Writer of indented JSON: an array of reports, or one bare report if array is false.
func NewJSON(w io.Writer, array bool) Writer { return &jsonWriter{w: w, array: array} }

// NewJSONPart returns a Writer of a part of a library: an array of reports, and last a Part.
func NewJSONPart(w io.Writer, number PartNumber) Writer {
	tool := preflight.Tool{Name: preflight.ToolName, Version: preflight.Version}
	return &jsonWriter{w: w, array: true, part: &Part{SchemaVersion: preflight.SchemaVersion, Tool: tool, Part: number, NotJudged: []Trouble{}}}
}

func (j *jsonWriter) Add(rep *preflight.Report) error {
	if !j.array && j.count > 0 {
		return fmt.Errorf("report: second report in JSON output that is not an array")
	}
	lead, end, prefix := "", "\n", ""
	if j.array {
		lead, end, prefix = "[\n  ", "", "  "
		if j.count > 0 {
			lead = ",\n  "
		}
	}
	before, after, err := marshal(rep, prefix)
	if err != nil {
		return err
	}
	j.count++
	e := encoder{w: j.w, indent: len(prefix) + 2}
	e.raw(lead)
	e.text = append(e.text, before...)
	e.findings(rep.Findings)
	e.text = append(e.text, after...)
	e.raw(end)
	return e.flush()
}

func (j *jsonWriter) Fail(t Trouble) error {
	if j.part != nil {
		j.part.NotJudged = append(j.part.NotJudged, t)
	}
	return nil
}

func (j *jsonWriter) Close() error {
	if !j.array {
		return nil
	}
	end := "\n]\n"
	switch {
	case j.part != nil:
		text, err := json.MarshalIndent(j.part, "  ", "  ")
		if err != nil {
			return fmt.Errorf("report: %w", err)
		}
		lead := "[\n  "
		if j.count > 0 {
			lead = ",\n  "
		}
		end = lead + string(text) + end
	case j.count == 0:
		end = "[]\n"
	}
	_, err := io.WriteString(j.w, end)
	return err
}

// marshal returns what stands before and after the list of findings in a report. That is all but their list: there may be tens of thousands.
func marshal(rep *preflight.Report, prefix string) (before, after []byte, err error) {
	text, err := json.MarshalIndent(withoutLists(rep), prefix, "  ")
	if err != nil {
		return nil, nil, fmt.Errorf("report: %w", err)
	}
	const key = `"findings": ` // a quote within a string has a backslash before it
	before, after, _ = bytes.Cut(text, []byte(key+"[]"))
	return append(before[:len(before):len(before)], key...), after, nil
}

// withoutLists returns a copy of rep without findings, in which every other list the schema asks for is there, if only empty.
func withoutLists(rep *preflight.Report) *preflight.Report {
	r := *rep
	r.Planes = some(r.Planes)
	r.WhiteRegions = some(r.WhiteRegions)
	r.Skipped = some(r.Skipped)
	r.Findings = []preflight.Finding{}
	r.Instructions.Print = some(r.Instructions.Print)
	r.Instructions.Press = some(r.Instructions.Press)
	r.Instructions.Cautions = some(r.Instructions.Cautions)
	if r.Job.Limits == nil {
		r.Job.Limits = map[string]preflight.Limit{}
	}
	return &r
}

func some[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
