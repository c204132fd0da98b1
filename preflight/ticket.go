package preflight

import (
	"fmt"
	"slices"
	"strings"
)

// DefaultSheet returns the name of the sheet the process uses when none is asked for, "" if it lists none.
func (p *Process) DefaultSheet() string {
	if len(p.Sheets) == 0 {
		return ""
	}
	return p.Sheets[0]
}

// DefaultFabric returns the name of the process's first fabric, "" if it lists none.
func (p *Process) DefaultFabric() string {
	if len(p.Fabrics) == 0 {
		return ""
	}
	return p.Fabrics[0].Name
}

// FabricByName returns the process's fabric of that name; the empty name is its first.
func (p *Process) FabricByName(name string) (Fabric, error) {
	names := make([]string, len(p.Fabrics))
	for i, f := range p.Fabrics {
		if f.Name == name || name == "" {
			return f, nil
		}
		names[i] = f.Name
	}
	return Fabric{}, fmt.Errorf("process %s has no fabric %q: it has %s%s", p.ID, name, strings.Join(names, ", "), didYouMean(name, names))
}

// Instructions returns how to print and press in plain sentences. printMirrored says whether the print must come out
// mirrored, false where the artwork is mirrored already; mirroring is spoken of once only. It fails on a fabric the
// process does not have.
func Instructions(p *Process, fabric string, sheet Sheet, pl Placement, printMirrored bool) (Ticket, error) {
	f, err := p.FabricByName(fabric)
	if err != nil {
		return Ticket{}, err
	}
	var print []string
	if !pl.Fits {
		print = append(print, "Make it fit first: it is larger than the sheet can print, upright and turned.")
	}
	print = append(print, sheetSentence(sheet, pl.Fits), mirrorSentence(p.Mirror, printMirrored))
	if pl.Fits && pl.TurnDeg != 0 {
		print = append(print, fmt.Sprintf("Turn the artwork by %d degrees; it does not fit upright.", pl.TurnDeg))
	}
	if p.WhiteSource == WhiteUnderbase || p.WhiteSource == WhiteBeside {
		print = append(print, whiteSentence)
	}
	print = append(print, pl.Settings...)
	return Ticket{
		Print:    append(print, p.PrintNotes...),
		Press:    slices.Clone(f.Steps),
		Cautions: slices.Clone(p.Cautions),
	}, nil
}

// whiteSentence tells where the white of a process with a white of its own is.
const whiteSentence = "Print the file that peelcheck prepares. Its white is a colour called White: give that to the white station, or print it in a pass of its own, as the printer's maker says."

func sheetSentence(s Sheet, fits bool) string {
	do := "Print on one sheet"
	if !fits {
		do = "Once it fits, print on one sheet"
	}
	return fmt.Sprintf("%s of %s (%.1f x %.1f mm) and set that same size in the printer's settings.", do, s.Name, s.Width.MM(), s.Height.MM())
}

func mirrorSentence(who string, printMirrored bool) string {
	switch {
	case !printMirrored:
		return "Leave mirror printing OFF in the printer's settings; the artwork already reads the wrong way round, as the sheet must."
	case who == "file":
		return "Print the prepared file with mirror printing OFF in the printer's settings; that file is already mirrored."
	}
	return "Switch mirror printing ON in the printer's settings; the file is not mirrored."
}
