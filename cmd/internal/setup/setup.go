// Package setup puts a job together from what a person asked for, the shop's file and the process. Start at Asked.
package setup

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"peelcheck/preflight"
)

// DefaultConfig is read from the current folder if it is there and no other file is named.
const DefaultConfig = "peelcheck.yaml"

// DefaultGarment is what the trade prints white on most (common practice, no source).
const DefaultGarment = "black"

// misnamed looks like DefaultConfig and is not read.
const misnamed = "peelcheck.yml"

// Asked is what a person asked for. Empty fields leave the choice to the shop's file and the process.
type Asked struct {
	Tell                             func(error) // told of settings files that are not read, may be nil
	Staged                           Staged      // nil where settings are read as they lie there
	Config                           string      // the shop's file
	Process, DrawnAs, Sheet          string
	Garment, Fabric, Background      string
	Place                            string
	Width, Height                    preflight.Length
	PPI                              float64
	MinLine, MinGap, MinDot, MinHole preflight.Length
}

// Settings reads the shop's file: the one named, or the default one if it is there.
func (a *Asked) Settings() (*preflight.ShopConfig, error) {
	f, err := a.NewFolders()
	if err != nil {
		return nil, err
	}
	return f.top.Shop, nil
}

// Staged returns a file as it is staged in git; ok is false for one to be read as it lies there.
type Staged func(name string) (data []byte, ok bool, err error)

func (a *Asked) readSettings(name string) ([]byte, error) {
	if a.Staged != nil {
		if data, ok, err := a.Staged(name); ok || err != nil {
			return data, err
		}
	}
	const most = 1 << 20 // ParseProcesses reads less, and says so
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, most))
}

// Job puts the job together: what a flag sets wins over the shop's file, the file over the process.
func (a *Asked) Job(shop *preflight.ShopConfig) (preflight.Job, error) {
	drawnAs, err := OneOf("white-drawn-as", First(a.DrawnAs, shop.WhiteDrawnAs), "", "black", "white")
	if err != nil {
		return preflight.Job{}, err
	}
	background, err := OneOf("background", First(a.Background, shop.Background, preflight.BackgroundAuto),
		preflight.BackgroundKeep, preflight.BackgroundDrop, preflight.BackgroundAuto)
	if err != nil {
		return preflight.Job{}, err
	}
	job := preflight.Job{
		WhiteDrawnAs: drawnAs,
		Background:   background,
		WhiteNames:   shop.WhiteNames,
		Width:        a.Width, Height: a.Height, PPI: a.PPI,
	}
	if job.Width == 0 && job.Height == 0 && job.PPI == 0 && shop.SizeFile != "" {
		job.Width, job.Height, job.PPI, job.SizeFrom = shop.Width, shop.Height, shop.PPI, "the file "+shop.SizeFile
	}
	if err := a.choose(shop, &job); err != nil {
		return preflight.Job{}, err
	}
	return job, nil
}

// choose looks up the process and all that depends on it.
func (a *Asked) choose(shop *preflight.ShopConfig, job *preflight.Job) (err error) {
	if job.Process, err = a.ChosenProcess(shop); err != nil {
		return err
	}
	if job.Garment, err = preflight.ParseGarment(First(a.Garment, shop.Garment, DefaultGarment)); err != nil {
		return fmt.Errorf("--garment: %w", err)
	}
	if job.Sheet, err = preflight.SheetByName(First(a.Sheet, shop.Sheet, job.Process.DefaultSheet()), job.Process, shop.Sheets); err != nil {
		return err
	}
	if job.Place, err = preflight.PlaceByName(First(a.Place, shop.Place), shop.Places); err != nil {
		return fmt.Errorf("--place: %w", err)
	}
	job.Fabric = First(a.Fabric, shop.Fabric, job.Process.DefaultFabric())
	if _, err := job.Process.FabricByName(job.Fabric); err != nil {
		return err
	}
	job.Limits, err = shop.ResolveLimits(job.Process, a.limits())
	return err
}

// ChosenProcess is the process asked for, else the one of the shop, else the default.
func (a *Asked) ChosenProcess(shop *preflight.ShopConfig) (*preflight.Process, error) {
	if a.Process == "" {
		return shop.DefaultProcess()
	}
	return shop.ProcessByID(a.Process)
}

func (a *Asked) limits() map[string]float64 {
	out := map[string]float64{}
	for name, l := range map[string]preflight.Length{"line": a.MinLine, "gap": a.MinGap, "dot": a.MinDot, "hole": a.MinHole} {
		if l > 0 {
			out[name] = l.MM()
		}
	}
	return out
}

// First returns the first word that is not empty.
func First(words ...string) string {
	for _, w := range words {
		if w != "" {
			return w
		}
	}
	return ""
}

// OneOf returns word if it is among those that a flag may take.
func OneOf(flag, word string, words ...string) (string, error) {
	if slices.Contains(words, word) {
		return word, nil
	}
	words = slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "" })
	hint := ""
	if near := preflight.Nearest(word, words); near != "" {
		hint = fmt.Sprintf("; did you mean %q?", near)
	}
	return "", fmt.Errorf("--%s: %q is none of %s%s", flag, word, strings.Join(words, ", "), hint)
}
