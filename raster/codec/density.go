package codec

const (
	cmPerInch    = 2.54
	metrePerInch = 0.0254
)

// No picture is printed at fewer pixels an inch than leastPPI or more than mostPPI; such values are placeholders.
const (
	leastPPI = 1
	mostPPI  = 100_000
)

// density is a resolution in pixels per inch and where it came from; the zero value is an unknown one.
type density struct {
	x, y float64
	from string
}

// newDensity returns x and y dots per unit as pixels per inch, unknown where the values can only be placeholders.
// A density of 1 x 1 in any unit is one: writers that know only the pixels' shape put it there.
func newDensity(x, y, unitsPerInch float64, from string) density {
	d := density{x * unitsPerInch, y * unitsPerInch, from}
	plausible := func(ppi float64) bool { return ppi >= leastPPI && ppi <= mostPPI }
	if x == 1 && y == 1 || !plausible(d.x) || !plausible(d.y) {
		return density{}
	}
	return d
}

func (d density) known() bool { return d.from != "" }
