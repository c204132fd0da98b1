package raster

// Separations are what each ink of a page lays down, 0 (none) to 255 (full ink) a pixel; all planes are of one size.
type Separations struct {
	Cyan, Magenta, Yellow, Black *Plane
	// Spots are the spot colours that have a plane of their own, in the order in which the page uses them.
	Spots []Spot
	// PPIX and PPIY are pixels per inch, as in the Picture of the same page, on which the planes lie exactly.
	PPIX, PPIY float64
	// Alternates names the spot colours without a plane: they are in the other planes, by the mixture that the file gives for them.
	Alternates []string
	// WhiteLayers names the layers of the page that ISO 19593-1 marks as white. What is painted in them, if they are on, is in the plane
	// of the spot colour White and in no other.
	WhiteLayers []string
	// Notes are plain sentences about what had to be assumed, for the person who reads the report.
	Notes []string
}

// Spot is the plane of a spot colour, such as a white.
type Spot struct {
	Name  string
	Plane *Plane
}
