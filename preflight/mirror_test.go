package preflight

import (
	"image"
	"strings"
	"testing"

	"peelcheck/raster"
	"peelcheck/raster/lettering"
)

func TestEvidence(t *testing.T) {
	tests := []struct {
		r          lettering.Reading
		reads      string
		confidence float64
		evidence   string
	}{
		{lettering.Reading{}, ReadsUnknown, 0, "no lettering was found in the picture"},
		{lettering.Reading{Letters: 1, Tell: 1, LogOdds: -4}, ReadsUnknown, 0, "too little lettering to tell: 1 shape like a letter, 1 of which read normally and none mirrored"},
		{lettering.Reading{Letters: 6, LogOdds: 0.1}, ReadsUnknown, 0, "too little lettering to tell: 6 shapes like letters, none of which differs clearly from its mirror image"},
		{lettering.Reading{Letters: 14, Tell: 12, TellMirrored: 12, LogOdds: 30}, ReadsMirrored, mostSure, "14 shapes like letters, 12 of which read mirrored and none normally"},
		{lettering.Reading{Letters: 14, Tell: 12, TellMirrored: 1, LogOdds: -4}, ReadsNormally, 0.982, "14 shapes like letters, 1 of which read mirrored and 11 normally"},
	}
	for _, tt := range tests {
		m := readMirror(tt.r)
		if m.Reads != tt.reads || m.Confidence != tt.confidence || m.Evidence != tt.evidence {
			t.Errorf("%+v: %+v", tt.r, m.Mirror)
		}
	}
}

// The text of a document goes before the shapes in its picture, unless it is little or does not agree with itself.
func TestTextOfTheDocument(t *testing.T) {
	box := raster.FactBox{X: 1, Y: 2, W: 3, H: 4}
	plain, back, unseen := raster.FactText{Letters: 20, Box: box}, raster.FactText{Letters: 20, Mirrored: true, Box: box}, raster.FactText{Letters: 90, Unseen: true}
	tests := []struct {
		texts []raster.FactText
		reads string
		sure  float64
	}{
		{nil, ReadsUnknown, 0},
		{[]raster.FactText{{Letters: 3, Mirrored: true}}, ReadsUnknown, 0},
		{[]raster.FactText{plain, back}, ReadsUnknown, 0},
		{[]raster.FactText{back, unseen}, ReadsMirrored, 1},
		{[]raster.FactText{plain}, ReadsNormally, 1},
	}
	for _, tt := range tests {
		s := testScene(t, "toner-white-for-black", fill(120, 60, black), 254, nil)
		s.Art.Picture.Facts = &raster.Facts{WidthMM: 12, HeightMM: 6, Texts: tt.texts}
		m := s.Mirror()
		if m.Reads != tt.reads || m.Confidence != tt.sure || !m.PrintMirrored || tt.sure == 1 && !strings.Contains(m.Evidence, "the file's own text") {
			t.Errorf("%+v: %+v", tt.texts, m)
		}
		if m.Reads == ReadsMirrored && s.LetteringBox() != image.Rect(10, 20, 40, 60) {
			t.Errorf("mirrored at %v", s.LetteringBox())
		}
	}
}
