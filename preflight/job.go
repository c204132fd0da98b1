package preflight

import (
	"image/color"
	"slices"
	"strings"

	"peelcheck/raster"
)

// Artwork is one page or one image to be judged, with what is known about the file it came from.
type Artwork struct {
	File      string
	SHA256    string
	Format    string
	Page      int
	PageCount int
	Picture   *raster.Picture
}

// Background choices for a flat colour that touches the picture's border.
const (
	BackgroundKeep = "keep" // it is part of the artwork
	BackgroundDrop = "drop" // it will be taken out before printing
	BackgroundAuto = "auto" // the detail rules leave it out, and the report says so
)

// Job is how one artwork is to be printed: the process, the sheet, the size and the limits in force.
type Job struct {
	Process      *Process
	WhiteDrawnAs string // "black" or "white"; empty for the process's own
	Sheet        Sheet
	Garment      Garment
	Fabric       string           // a name in Process.Fabrics
	Place        *PrintPlace      // where on the garment it goes, nil where nobody said
	Limits       map[string]Limit // resolved: process, then the shop's file, then flags
	Background   string           // one of the Background constants
	WhiteNames   []string         // spot colours of a file that are white, besides White; their case does not count
	Width        Length           // printed width asked for, 0 if not; height follows unless given too
	Height       Length           // printed height asked for, 0 if not
	PPI          float64          // resolution asked for, 0 if not
	SizeFrom     string           // where these come from; empty for the flags
	Mirrored     bool             // the file is a sheet that the printer no longer mirrors, so it must read the wrong way round
}

// IsWhite reports whether a spot colour of that name stands for white.
func (j *Job) IsWhite(name string) bool {
	return slices.ContainsFunc(append([]string{"White"}, j.WhiteNames...), func(white string) bool { return strings.EqualFold(white, name) })
}

// Garment is what the design is pressed onto; its colour shows wherever nothing prints.
type Garment struct {
	Name   string // as the person wrote it: "black", "#1e1e1e"
	Colour color.NRGBA
}

// Sheet is a transfer sheet. The margin is what the printer cannot reach at each edge.
type Sheet struct {
	Name          string
	Width, Height Length
	Margin        Length
}
