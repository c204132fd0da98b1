// Package report writes finished reports: as text for people, as JSON for programs, and the press operator's ticket.
//
// Start with NewText or NewJSON; both take any number of reports, then Close.
package report

import (
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
	// Close writes what is left. It does not close the writer underneath.
	Close() error
}

type jsonWriter struct {
	w     io.Writer
	array bool
	count int
}

// NewJSON returns a Writer of indented JSON: an array of reports, or one bare report if array is false.
func NewJSON(w io.Writer, array bool) Writer { return &jsonWriter{w: w, array: array} }

func (j *jsonWriter) Add(rep *preflight.Report) error {
	if !j.array && j.count > 0 {
		return fmt.Errorf("report: second report in JSON output that is not an array")
	}
	lead, indent := "", ""
	if j.array {
		lead, indent = "[\n  ", "  "
		if j.count > 0 {
			lead = ",\n  "
		}
	}
	text, err := marshal(rep, indent)
	if err != nil {
		return err
	}
	j.count++
	end := ""
	if !j.array {
		end = "\n"
	}
	_, err = fmt.Fprintf(j.w, "%s%s%s", lead, text, end)
	return err
}

func (j *jsonWriter) Close() error {
	if !j.array {
		return nil
	}
	end := "\n]\n"
	if j.count == 0 {
		end = "[]\n"
	}
	_, err := io.WriteString(j.w, end)
	return err
}

func marshal(rep *preflight.Report, prefix string) ([]byte, error) {
	text, err := json.MarshalIndent(withoutNil(rep), prefix, "  ")
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	return text, nil
}

// withoutNil returns a copy of rep in which every list the schema asks for is there, if only empty.
func withoutNil(rep *preflight.Report) *preflight.Report {
	r := *rep
	r.Planes = some(r.Planes)
	r.WhiteRegions = some(r.WhiteRegions)
	r.Skipped = some(r.Skipped)
	r.Findings = some(r.Findings)
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
