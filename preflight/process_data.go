package preflight

import (
	"embed"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
)

//go:embed processes/*.yaml
var processFiles embed.FS

// DefaultProcess is the id of the process that is used when none is asked for.
const DefaultProcess = "toner-white-for-black"

// builtInIDs are the processes in the order they are shown; each is the name of its file.
var builtInIDs = []string{DefaultProcess, "toner-underbase", "film-underbase", "toner-white-only"}

var builtInProcesses = sync.OnceValue(func() []*Process {
	var out []*Process
	for _, id := range builtInIDs {
		name := "processes/" + id + ".yaml"
		data, err := processFiles.ReadFile(name)
		if err != nil {
			panic("preflight: " + err.Error() + " (bug)")
		}
		p, err := parseBuiltIn(name, data)
		if err != nil {
			panic("preflight: " + err.Error() + " (bug)")
		}
		out = append(out, p)
	}
	return out
})

// Processes returns the built-in processes, the default first, as copies the caller may change.
func Processes() []*Process {
	built := builtInProcesses()
	out := make([]*Process, len(built))
	for i, p := range built {
		out[i] = p.clone()
	}
	return out
}

// ProcessByID returns a copy of the built-in process called id; the error lists the ids and offers the nearest.
func ProcessByID(id string) (*Process, error) {
	return findProcess(id, builtInProcesses())
}

func findProcess(id string, among []*Process) (*Process, error) {
	ids := make([]string, len(among))
	for i, p := range among {
		if p.ID == id {
			return p.clone(), nil
		}
		ids[i] = p.ID
	}
	return nil, fmt.Errorf("no process %q: the processes are %s%s", id, strings.Join(ids, ", "), didYouMean(id, ids))
}

// clone copies the process with everything it refers to.
func (p *Process) clone() *Process {
	c := *p
	c.Planes = slices.Clone(p.Planes)
	c.BlackGeneration = slices.Clone(p.BlackGeneration)
	c.UndercolourRemoval = slices.Clone(p.UndercolourRemoval)
	c.Limits = maps.Clone(p.Limits)
	c.Sheets = slices.Clone(p.Sheets)
	c.PrintNotes = slices.Clone(p.PrintNotes)
	c.Cautions = slices.Clone(p.Cautions)
	c.Fabrics = slices.Clone(p.Fabrics)
	for i := range c.Fabrics {
		c.Fabrics[i].Steps = slices.Clone(c.Fabrics[i].Steps)
	}
	return &c
}
