package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"peelcheck/preflight"
	"peelcheck/raster"
)

// defaultConfig is read from the current folder if it is there and --config names no other file.
const defaultConfig = "peelcheck.yaml"

// defaultGarment is what the trade prints white on most.
const defaultGarment = "black"

// jobFlags are the flags that say how artwork is to be printed.
type jobFlags struct {
	config                         string
	process, drawnAs, sheet        string
	garment, fabric                string
	width, height                  lengthFlag
	ppi                            ppiFlag
	page                           pageFlag
	background                     string
	minLine, minGap, minDot, minHo lengthFlag
	maxPixels                      int64
}

func (j *jobFlags) add(fs *pflag.FlagSet) {
	fs.StringVar(&j.config, "config", "", "the shop's settings `FILE` (default "+defaultConfig+" in the current folder, if present)")
	fs.StringVar(&j.process, "process", "", "how white and colour are printed: an `ID` that \"peelcheck process\" lists")
	fs.StringVar(&j.drawnAs, "white-drawn-as", "", "the `COLOUR` that stands for white in the artwork: black or white")
	fs.StringVar(&j.sheet, "sheet", "", "transfer sheet: a4, a3, letter, tabloid, `SIZE` as 210x297, or the shop's own")
	fs.Var(&j.width, "width", "printed width `L` of the whole picture, its empty edges included, as 120, 12cm or 4.5in; a bare number is millimetres")
	fs.Var(&j.height, "height", "printed height `L`")
	fs.Var(&j.ppi, "ppi", "pixels per inch `N` of the artwork; for PDF, how finely it is drawn")
	fs.Var(&j.page, "page", "page `N` of a document, or all (the default)")
	fs.StringVar(&j.garment, "garment", "", "garment `COLOUR`: a CSS name or hex, as navy or \"#1e1e1e\" (default "+defaultGarment+")")
	fs.StringVar(&j.fabric, "fabric", "", "kind of cloth: a `NAME` that the process lists")
	fs.Var(&j.minLine, "min-line", "thinnest line that holds, `L`")
	fs.Var(&j.minGap, "min-gap", "narrowest gap that stays open, `L`")
	fs.Var(&j.minDot, "min-dot", "smallest separate dot that holds, `L`")
	fs.Var(&j.minHo, "min-hole", "smallest hole that stays open, `L`")
	fs.StringVar(&j.background, "background", "", "a flat colour that fills the picture's border: `HOW` is keep, drop or auto (default auto)")
	fs.Int64Var(&j.maxPixels, "max-pixels", raster.DefaultMaxPixels, "largest picture read, `N` pixels")
}

// lengthFlag is a length above zero; 0 if the flag is not given.
type lengthFlag preflight.Length

func (l *lengthFlag) String() string { return "" }
func (l *lengthFlag) Type() string   { return "L" }
func (l *lengthFlag) Set(s string) error {
	v, err := preflight.ParseLength(s)
	if err == nil && v <= 0 {
		err = fmt.Errorf("%q must be more than zero", s)
	}
	*l = lengthFlag(v)
	return err
}

// ppiFlag is a resolution; 0 if the flag is not given.
type ppiFlag float64

// maxPPI is far above any printer this is for.
const maxPPI = 9600

func (p *ppiFlag) String() string { return "" }
func (p *ppiFlag) Type() string   { return "N" }
func (p *ppiFlag) Set(s string) error {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v >= 1 && v <= maxPPI) {
		return fmt.Errorf("%q is not a resolution from 1 to %d pixels per inch", s, maxPPI)
	}
	*p = ppiFlag(v)
	return nil
}

// pageFlag is a page number from 1; 0 stands for all.
type pageFlag int

func (p *pageFlag) String() string { return "" }
func (p *pageFlag) Type() string   { return "N|all" }
func (p *pageFlag) Set(s string) error {
	if s == "all" {
		*p = 0
		return nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		return fmt.Errorf("%q is neither a page number from 1 nor all", s)
	}
	*p = pageFlag(n)
	return nil
}

// settings reads the shop's file: the one named, or the default one if it is there.
func (j *jobFlags) settings() (*preflight.ShopConfig, error) {
	name := j.config
	if name == "" {
		name = defaultConfig
	}
	data, err := readSettings(name)
	if j.config == "" && errors.Is(err, fs.ErrNotExist) {
		return &preflight.ShopConfig{}, nil
	}
	if err != nil {
		return nil, about(name, err)
	}
	shop, err := preflight.ParseProcesses(name, data)
	if err != nil {
		return nil, &problem{reason: err.Error()}
	}
	return &shop, nil
}

func readSettings(name string) ([]byte, error) {
	const most = 1 << 20 // ParseProcesses reads less, and says so
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, most))
}

// job puts the job together: what a flag sets wins over the shop's file, the file over the process.
func (j *jobFlags) job(shop *preflight.ShopConfig) (preflight.Job, error) {
	if j.maxPixels < 1 {
		return preflight.Job{}, fmt.Errorf("--max-pixels: %d is less than 1", j.maxPixels)
	}
	drawnAs, err := oneOf("white-drawn-as", first(j.drawnAs, shop.WhiteDrawnAs), "", "black", "white")
	if err != nil {
		return preflight.Job{}, err
	}
	background, err := oneOf("background", first(j.background, shop.Background, preflight.BackgroundAuto),
		preflight.BackgroundKeep, preflight.BackgroundDrop, preflight.BackgroundAuto)
	if err != nil {
		return preflight.Job{}, err
	}
	job := preflight.Job{
		WhiteDrawnAs: drawnAs,
		Background:   background,
		WhiteNames:   shop.WhiteNames,
		Width:        preflight.Length(j.width), Height: preflight.Length(j.height), PPI: float64(j.ppi),
	}
	if err := j.choose(shop, &job); err != nil {
		return preflight.Job{}, err
	}
	return job, nil
}

// choose looks up the process and all that depends on it.
func (j *jobFlags) choose(shop *preflight.ShopConfig, job *preflight.Job) (err error) {
	if job.Process, err = j.chosenProcess(shop); err != nil {
		return err
	}
	if job.Garment, err = preflight.ParseGarment(first(j.garment, shop.Garment, defaultGarment)); err != nil {
		return fmt.Errorf("--garment: %w", err)
	}
	if job.Sheet, err = preflight.SheetByName(first(j.sheet, shop.Sheet, job.Process.DefaultSheet()), job.Process, shop.Sheets); err != nil {
		return err
	}
	job.Fabric = first(j.fabric, shop.Fabric, job.Process.DefaultFabric())
	if _, err := job.Process.FabricByName(job.Fabric); err != nil {
		return err
	}
	job.Limits, err = job.Process.ResolveLimits(shop.Limits, shop.File, j.limits())
	return err
}

func (j *jobFlags) chosenProcess(shop *preflight.ShopConfig) (*preflight.Process, error) {
	if j.process == "" {
		return shop.DefaultProcess()
	}
	return shop.ProcessByID(j.process)
}

func (j *jobFlags) limits() map[string]float64 {
	out := map[string]float64{}
	for name, l := range map[string]lengthFlag{"line": j.minLine, "gap": j.minGap, "dot": j.minDot, "hole": j.minHo} {
		if l > 0 {
			out[name] = preflight.Length(l).MM()
		}
	}
	return out
}

// first returns the first word that is not empty.
func first(words ...string) string {
	for _, w := range words {
		if w != "" {
			return w
		}
	}
	return ""
}

// oneOf returns word if it is among those that a flag may take.
func oneOf(flag, word string, words ...string) (string, error) {
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
