package main

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
	"peelcheck/preflight/rules"
	"peelcheck/raster"
)

// jobFlags are the flags that say how artwork is to be printed.
type jobFlags struct {
	setup.Asked
	page      pageFlag
	maxPixels int64
}

func (j *jobFlags) add(fs *pflag.FlagSet, say *speaker) {
	j.Tell = say.problem
	fs.StringVar(&j.Config, "config", "", "the shop's settings `FILE` (default "+setup.DefaultConfig+" in the current folder, if present)")
	fs.StringVar(&j.Process, "process", "", "how white and colour are printed: an `ID` that \"peelcheck process\" lists")
	fs.StringVar(&j.DrawnAs, "white-drawn-as", "", "the `COLOUR` that stands for white in the artwork: black or white")
	fs.StringVar(&j.Sheet, "sheet", "", "transfer sheet: "+sheetWords+", `SIZE` as 210x297, or the shop's own")
	fs.Var((*lengthFlag)(&j.Width), "width", "printed width `L` of the whole picture, its empty edges included, as 120, 12cm or 4.5in; a bare number is millimetres")
	fs.Var((*lengthFlag)(&j.Height), "height", "printed height `L`")
	fs.Var((*ppiFlag)(&j.PPI), "ppi", "pixels an inch `N` of the artwork; for PDF, how finely it is drawn")
	fs.Var(&j.page, "page", "page `N` of a document, or all (the default, up to 1000 pages)")
	fs.StringVar(&j.Garment, "garment", "", "garment `COLOUR`: its English name, as navy, or its red, green and blue as web pages have them, as \"#1e1e1e\" (default "+setup.DefaultGarment+")")
	fs.StringVar(&j.Fabric, "fabric", "", "kind of cloth: a `NAME` that the process lists")
	fs.StringVar(&j.Place, "place", "", "place on the garment whose size the design must keep to: a `NAME` that \"peelcheck places\" lists, or none")
	fs.Var((*lengthFlag)(&j.MinLine), "min-line", "thinnest line that holds, `L`")
	fs.Var((*lengthFlag)(&j.MinGap), "min-gap", "narrowest gap that stays open, `L`")
	fs.Var((*lengthFlag)(&j.MinDot), "min-dot", "smallest separate dot that holds, `L`")
	fs.Var((*lengthFlag)(&j.MinHole), "min-hole", "smallest hole that stays open, `L`")
	fs.StringVar(&j.Background, "background", "", "a flat colour that fills the picture's border: `HOW` is keep, drop or auto (default auto)")
	fs.Int64Var(&j.maxPixels, "max-pixels", raster.DefaultMaxPixels, "largest picture read, `N` pixels")
}

// sheetWords lists the standard sheets for help.
var sheetWords = strings.Join(preflight.SheetNames(), ", ")

// job puts the job together; shop is what the shop's file says.
func (j *jobFlags) job() (preflight.Job, *preflight.ShopConfig, error) {
	if err := j.checkPixels(); err != nil {
		return preflight.Job{}, nil, err
	}
	shop, err := j.Settings()
	if err != nil {
		return preflight.Job{}, nil, err
	}
	job, err := j.Job(shop)
	return job, shop, err
}

func (j *jobFlags) checkPixels() error {
	if j.maxPixels < 1 {
		return fmt.Errorf("--max-pixels: %d is less than 1", j.maxPixels)
	}
	return nil
}

// options are those of a bench that writes nothing.
func (j *jobFlags) options(say *speaker) judging.Options {
	return judging.Options{
		Rules: rules.All(), Page: int(j.page), MaxPixels: j.maxPixels,
		OnSlowStart: func() { say.status("getting ready to read PDF: some seconds, the first time only") },
		OnPage: func(name string, n, of int) {
			say.status(fmt.Sprintf("judging page %d of %d of %s", n, of, filepath.Base(name)))
		},
	}
}

func (j *jobFlags) bench(say *speaker) *judging.Bench { return judging.New(j.options(say)) }

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

func (p *ppiFlag) String() string { return "" }
func (p *ppiFlag) Type() string   { return "N" }
func (p *ppiFlag) Set(s string) error {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v >= 1 && v <= preflight.MaxPPI) {
		return fmt.Errorf("%q is not a resolution from 1 to %d pixels an inch", s, preflight.MaxPPI)
	}
	*p = ppiFlag(v)
	return nil
}

// pageFlag is a page number from 1, 0 if the flag is not given, or judging.AllPages.
type pageFlag int

func (p *pageFlag) String() string { return "" }
func (p *pageFlag) Type() string   { return "N|all" }
func (p *pageFlag) Set(s string) error {
	if s == "all" {
		*p = judging.AllPages
		return nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		return fmt.Errorf("%q is neither a page number from 1 nor all", s)
	}
	*p = pageFlag(n)
	return nil
}
