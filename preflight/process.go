package preflight

// Plane names what one toner or ink lays down.
type Plane string

// The planes. Which of them a process has is in its data.
const (
	White   Plane = "white"
	Cyan    Plane = "cyan"
	Magenta Plane = "magenta"
	Yellow  Plane = "yellow"
	Black   Plane = "black"
)

// AllPlanes lists every plane in the order they are reported.
var AllPlanes = []Plane{White, Cyan, Magenta, Yellow, Black}

// WhiteSource says where a process's white comes from; it decides how artwork is separated.
type WhiteSource string

// The white sources: the black separation, a layer under all that prints, a station of its own for what the artwork draws white, which
// knocks colour out, or white alone.
const (
	WhiteFromBlack WhiteSource = "black-station"
	WhiteUnderbase WhiteSource = "underbase"
	WhiteBeside    WhiteSource = "beside-colour"
	WhiteOnly      WhiteSource = "white-only"
)

// apart reports whether a process lays white and colour side by side rather than one over the other.
func (w WhiteSource) apart() bool { return w == WhiteFromBlack || w == WhiteBeside }

// Process is how white and colour get onto the sheet and then onto the garment. It is data: built in or the shop's own.
type Process struct {
	ID           string      `yaml:"id"`
	Title        string      `yaml:"title"`
	About        string      `yaml:"about,omitzero"`
	WhiteSource  WhiteSource `yaml:"white_source"`
	WhiteDrawnAs string      `yaml:"white_drawn_as"` // "black" or "white"
	Planes       []Plane     `yaml:"planes"`
	// BlackGeneration and UndercolourRemoval map k = min(c,m,y) to the black printed and the colour taken away, as
	// points [k, share] joined by straight lines (the functions BG and UCR of ISO 32000-1, 10.3.4).
	BlackGeneration    Curve            `yaml:"black_generation,omitzero"`
	UndercolourRemoval Curve            `yaml:"undercolour_removal,omitzero"`
	ChokeMM            float64          `yaml:"choke_mm"`
	Screen             Screen           `yaml:"screen,omitzero"`
	Limits             map[string]Limit `yaml:"-"`
	LimitValues        LimitValues      `yaml:"limits"`
	Mirror             string           `yaml:"mirror"` // who mirrors: "driver" or "file"
	MarginMM           float64          `yaml:"margin_mm"`
	TrimClearanceMM    float64          `yaml:"trim_clearance_mm"`
	Sheets             []string         `yaml:"sheets"` // sheet names that suit, the first is the default
	PrintNotes         []string         `yaml:"print_notes,omitzero"`
	Fabrics            []Fabric         `yaml:"fabrics"`
	Cautions           []string         `yaml:"cautions"`
}

// Curve is a function from 0..1 to 0..1 given by points with rising x.
type Curve [][2]float64

// Screen is the printer's halftone: its ruling in lines per inch (0 if unknown) and the smallest dot that holds.
type Screen struct {
	RulingLPI    float64 `yaml:"ruling_lpi,omitzero"`
	SmallestDotM float64 `yaml:"smallest_dot_mm,omitzero"`
}

// LimitValues are a process's limits as its file writes them; each key's unit is in LimitUnits.
type LimitValues struct {
	Line      float64 `yaml:"line"`
	Gap       float64 `yaml:"gap"`
	Dot       float64 `yaml:"dot"`
	Hole      float64 `yaml:"hole"`
	Tint      float64 `yaml:"tint,omitzero"`
	Stray     float64 `yaml:"stray"`
	PPI       float64 `yaml:"ppi"`
	Text      float64 `yaml:"text"`
	Clearance float64 `yaml:"clearance,omitzero"`
	Solid     float64 `yaml:"solid"`
	Contrast  float64 `yaml:"contrast"`
}

// Fabric is one kind of cloth with the press steps that suit it.
type Fabric struct {
	Name  string      `yaml:"name"`
	Steps []PressStep `yaml:"steps"`
}

// PressStep is one step at the press. Zero temperature or time means none is set for it.
type PressStep struct {
	Do           string  `yaml:"do" json:"do"`
	TemperatureC float64 `yaml:"temperature_c,omitzero" json:"temperature_c,omitempty"`
	Seconds      float64 `yaml:"seconds,omitzero" json:"seconds,omitempty"`
	Pressure     string  `yaml:"pressure,omitzero" json:"pressure,omitempty"`
	Note         string  `yaml:"note,omitzero" json:"note,omitempty"`
}
